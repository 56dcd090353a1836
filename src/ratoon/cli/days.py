"""``ratoon day`` and ``ratoon try``: the account of a mill day, and a what-if from it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.account.results.day import DayResult
    from ratoon.jobs.mills import OpenMill


def day(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Mill day, YYYY-MM-DD; the newest when left out."),
    ] = None,
    mill: say.MillDir = say.HERE,
    again: Annotated[
        bool, typer.Option("--again", help="Account it again, though nothing changed.")
    ] = False,
    listed: Annotated[bool, typer.Option("--list", help="List the accounted mill days.")] = False,
    keep: Annotated[
        str | None,
        typer.Option(metavar="READING", help="Keep a reading of the day whatever others say."),
    ] = None,
    set_aside: Annotated[
        str | None,
        typer.Option(metavar="READING", help="Account the day without a reading of it."),
    ] = None,
    why: Annotated[
        str, typer.Option(metavar="TEXT", help="The reason for --keep or --set-aside.")
    ] = "",
    every: Annotated[
        bool, typer.Option("--all", help="With --json: every quantity of the plant as well.")
    ] = False,
    moves: Annotated[
        bool, typer.Option("--moves", help="Work out the best settings too, for the sheet.")
    ] = False,
    json: say.AsJson = False,
) -> int:
    """Account a mill day and write its morning sheet."""
    given = parse_date(date) if date is not None else None
    if keep is not None and keep == set_aside:
        raise BadInput("cannot be kept and set aside at once", where=keep)
    if why and keep is None and set_aside is None:
        raise BadInput("is the reason of --keep or --set-aside, and neither is given",
                       where="--why", value=why)  # fmt: skip
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sheet import day as job

    with open_mill(mill) as opened:
        if listed:
            days = job.accounted_days(opened)
            if json:
                say.answer_json(days)
            else:
                say.answer(days)
            return say.DONE
        when = given or newest_day(opened)
        for reading, aside in ((keep, False), (set_aside, True)):
            if reading is not None:
                job.decide(opened, when, reading, aside, why)
        result = job.account_day(opened, when, again=again, moves=moves)
        more = {"quantities": job.quantities_of(opened, result)} if every else {}
        keep_week_after(opened, when)
    if json:
        say.answer_json(to_json(result) | more)
    else:
        say.answer(_in_words(result))
        say.tell(f"morning sheet in {mill / 'sheets' / result.date}")
    return say.DONE


def keep_week_after(opened: OpenMill, day: datetime.date) -> None:
    """Keep the next week's first forecast once its eve, the newest day, is accounted."""
    after = day + datetime.timedelta(days=1)
    if after == opened.mill.calendar.first_of_week(after) and day == newest_day(opened):
        from ratoon.jobs.season.forecast import keep_week

        keep_week(opened, day)


def newest_day(opened: OpenMill) -> datetime.date:
    """Today: the newest mill day with readings."""
    from ratoon.store import entries

    newest = opened.store.ask(entries.newest_day, opened.mill.calendar)
    if newest is None:
        raise BadInput("no mill day has readings yet", todo="Import some: ratoon import FILE")
    return newest


def _in_words(result: DayResult) -> list[str]:
    """The figures of a day as lines: name, value with its 95 % interval, unit, kind."""
    head = f"{result.date}  {result.mill}  {result.status}"
    rows = []
    for figure in result.figures.values():
        value, sigma = figure.value, figure.sigma
        spread = f"+- {1.96 * sigma:.3g}" if value is not None and sigma is not None else ""
        shown = "not determined" if value is None else f"{value:.6g}"
        rows.append((figure.name, shown, spread, figure.unit, figure.kind))
    aside = [f"set aside: {s.name or s.reading} ({s.why}; by {s.by})" for s in result.set_aside]
    table = say.table(("figure", "value", "95 %", "unit", "kind"), rows, right="1")
    open_ = any(f.value is None for f in result.figures.values())
    told = ["", f"what is not determined: ratoon missing {result.date} names the readings that "
            "would open it"] if open_ else []  # fmt: skip
    return [head, "", *table, *([""] if aside else []), *aside, *told, *_moves(result)]


def _moves(result: DayResult) -> list[str]:
    """The moves of the best settings as the sheet has them."""
    from ratoon.reports.numbers import FIXED, THIN
    from ratoon.reports.todo import moves_of

    found = moves_of(result)
    if found is None:
        return []
    told = [(m.name, m.today, m.best, m.unit, m.money.whole, m.by_itself.text, m.stop)
            for m in found.lines]  # fmt: skip
    rows = [[x.replace(THIN, " ").replace(FIXED, " ") for x in row] for row in told]
    head = ("set", "today", "best", "unit", "gains a day, 95 %", "by itself", "what stops it")
    table = say.table(head, rows, right="12") if rows else []
    return ["", *table, f"{found.words} {found.left_out}".rstrip(), *found.cautions]


def try_(
    start: Annotated[
        str, typer.Option("--from", metavar="DATE", help="Mill day to start from, YYYY-MM-DD.")
    ],
    changes: Annotated[
        list[str],
        typer.Option(
            "--set", metavar="ADDRESS=VALUE", help="A quantity and its new value; may be repeated."
        ),
    ],
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """What would happen? Start from an accounted day and change some quantities."""
    given, begin = parse_changes(changes), parse_date(start)
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.trial.solve import try_changes

    result = in_mill(mill, try_changes, begin, given)
    if json:
        say.answer_json(to_json(result))
        return say.DONE
    rows = [(a, f.before, f.after, f.unit) for a, f in result.figures.items()]
    say.answer(say.table(("figure", "before", "after", "unit"), rows, right="12"))
    if (money := result.money) is not None:
        say.answer([f"money in the day's hours: {money.unit}{money.before:.0f} before, "
                    f"{money.unit}{money.after:.0f} after"])  # fmt: skip
    for limit in result.limits:
        words = "more than it can take" if limit.address.endswith(".load") else "at its limit"
        found = f"{limit.value:.6g} of {limit.limit:.6g} {limit.unit}"
        say.answer([f"{words}: {limit.address} {found}"])
    say.answer([*result.notes, *(f"Caution: {c}" for c in result.cautions)])
    return say.DONE


def parse_changes(changes: Sequence[str]) -> dict[str, float]:
    """``ADDRESS=VALUE`` texts as a dict; each address once, each value a number."""
    given: dict[str, float] = {}
    for change in changes:
        address, sign, text = change.partition("=")
        if not sign or not address.strip():
            raise typer.BadParameter(f"{change!r} is not ADDRESS=VALUE", param_hint="--set")
        try:
            value = float(text if "_" not in text else "x")  # Python reads 1_0 as 10
        except ValueError:
            raise typer.BadParameter(
                f"{text!r} is not a number in {change!r}", param_hint="--set"
            ) from None
        if value != value or value in (float("inf"), float("-inf")):
            raise typer.BadParameter(f"{change!r} is not finite", param_hint="--set")
        if address.strip() in given:
            raise typer.BadParameter(f"{address.strip()} is set twice", param_hint="--set")
        given[address.strip()] = value
    return given
