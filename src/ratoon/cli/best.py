"""``ratoon best``: the settings that earn the most from a day's plant, and what limits cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.cli import say
from ratoon.cli.days import newest_day

if TYPE_CHECKING:
    from ratoon.plans.best.asked import Rate
    from ratoon.plans.best.result import BestResult, LadderResult


def best(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Mill day, YYYY-MM-DD; the newest when left out."),
    ] = None,
    rate: Annotated[
        str,
        typer.Option(
            metavar="free|held|crop|T/H",
            help="Cane rate: free, as on the day, with a crop to finish, or t/h.",
        ),
    ] = "held",
    free: Annotated[
        list[str] | None,
        typer.Option(metavar="ADDRESS=LOW:HIGH", help="A narrower range; may be repeated."),
    ] = None,
    limit: Annotated[
        list[str] | None,
        typer.Option(metavar="ADDRESS=LOW:HIGH", help="A limit, either end may be left out."),
    ] = None,
    solver: Annotated[
        str, typer.Option(metavar="ipopt|slsqp", help="Which solver looks for the best.")
    ] = "ipopt",
    draws: Annotated[
        int, typer.Option(metavar="N", help="Draws of the day's uncertainty, 1 to 20,000.")
    ] = 200,
    no_draws: Annotated[
        bool, typer.Option("--no-draws", help="Leave draws and curves out: sooner, less sure.")
    ] = False,
    choices: Annotated[
        bool, typer.Option("--choices", help="Try vessels, pans and bleeds too; takes longer.")
    ] = False,
    ladder: Annotated[
        bool, typer.Option("--ladder", help="Which limit holds the rate, and which next.")
    ] = False,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """What should we set? The settings that earn the most, and the price of each limit."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.best.solve import Asked, best_of, ladder_of, why_none
    from ratoon.jobs.mills import open_mill
    from ratoon.plans.best.result import BestResult, NoBest
    from ratoon.plans.best.search import NoBestFound

    asked = Asked(_rate(rate), _ranges(free, "--free"), _ranges(limit, "--limit"),
                  None if no_draws else draws, solver, choices)  # fmt: skip
    with open_mill(mill) as opened:
        day = when or newest_day(opened)
        told: BestResult | LadderResult | NoBest
        try:
            told = ladder_of(opened, day, asked) if ladder else best_of(opened, day, asked)
        except NoBestFound as error:
            told = why_none(error, day)
        sign = opened.mill.settings.mill.currency
    if json:
        say.answer_json(to_json(told))
    if isinstance(told, NoBest):
        say.tell(f"no best state was found near {told.from_}; {told.why_not.words}. Widen a limit "
                 "or ask for a rate nearer to the day's.")  # fmt: skip
        return say.REFUSED
    if not json:
        say.answer(_in_words(told) if isinstance(told, BestResult) else _rungs(told, sign))
    return say.DONE


def _rate(text: str) -> Rate:
    if text == "free":
        return "free"
    if text == "held":
        return "held"
    if text == "crop":
        return "crop"
    try:
        rate = float(text)
    except ValueError:
        rate = 0.0
    if not 0.0 < rate < math.inf:
        raise typer.BadParameter(f"{text!r} is not free, held, crop or t/h", param_hint="--rate")
    return rate


def _ranges(
    texts: Sequence[str] | None, option: str
) -> dict[str, tuple[float | None, float | None]]:
    """``ADDRESS=LOW:HIGH`` texts as a dict; an end left out is none."""
    found: dict[str, tuple[float | None, float | None]] = {}
    for text in texts or ():
        address, sign, ends = text.partition("=")
        low, colon, high = ends.partition(":")
        try:
            pair = tuple(float(x) if x.strip() else None for x in (low, high))
        except ValueError:
            pair = (None, None)
        known = [x for x in pair if x is not None]
        if not (sign and colon and address.strip() and known and all(map(math.isfinite, known))):
            raise typer.BadParameter(f"{text!r} is not ADDRESS=LOW:HIGH", param_hint=option)
        found[address.strip()] = (pair[0], pair[1])
    return found


def _in_words(result: BestResult) -> list[str]:
    money, sign = result.money, result.currency
    spread = "" if money.low is None else f" ({sign}{money.low:,.0f} to {sign}{money.high:,.0f})"
    lines = [f"{result.from_}  {result.regime.name}: {result.regime.words}",
             f"{sign}{money.today:,.0f} an hour today, {sign}{money.best:,.0f} at best: "
             f"{sign}{money.gain:,.0f} an hour more{spread}", ""]  # fmt: skip
    lines += say.table(
        ("set", "today", "best", "unit", "from", "to", "stands at"),
        [(a, f"{s.today:.4g}", f"{s.best:.4g}", s.unit, f"{s.low:.4g}", f"{s.high:.4g}", s.at or "")
         for a, s in result.settings.items()], right="1245",
    )  # fmt: skip
    dear = [x for x in result.limits if x.binds]
    if dear:
        lines += ["", *say.table(
            ("limit", "at", "unit", "an hour for one more", "holds for", "whose word"),
            [(f"{x.name}, {'at most' if x.side == 'high' else 'at least'}", f"{x.limit:.4g}",
              x.unit, f"{sign}{x.price:,.2f} a {x.per or '1'}",
              "" if x.holds_to is None else f"{x.holds_to:.2g}", x.source) for x in dear],
            right="14",
        )]  # fmt: skip
    lines += ["", *(
        f"{k}. {m.name}: {m.from_:.4g} to {m.to:.4g} {m.unit}, {sign}{m.gain_a_day:,.0f} a day"
        + ("" if m.sigma is None else f" +- {1.96 * m.sigma:,.0f}")
        for k, m in enumerate(result.moves, 1)
    )]  # fmt: skip
    lines += [
        f"Choose {c.name}: {c.from_:g} to {c.to:g} {c.unit}, {sign}{c.gain_a_day:,.0f} a day more, "
        f"everything set again ({sign}{c.by_itself:,.0f} by itself)" for c in result.choices
    ]  # fmt: skip
    return [*lines, *result.notes, *(f"Caution: {c}" for c in result.cautions)]


def _rungs(result: LadderResult, sign: str) -> list[str]:
    lines = ["As run, every setting held and the rate raised, these are full at:", *say.table(
        ("load", "t/h"), [(x.name, f"{x.rate:.0f}") for x in result.as_run], right="1",
    ), "", "At best, the dearest lifted each time:"]  # fmt: skip
    rows = []
    for rung in result.at_best:
        first = rung.binds[0] if rung.binds else None
        holds = "" if first is None else first.name
        price = "" if first is None else f"{sign}{first.price:,.2f} a {first.per or '1'}"
        gain = "" if rung.gain is None else f"{sign}{rung.gain:,.0f}"
        rows.append((f"{rung.rate:.0f}", f"{sign}{rung.money:,.0f}", holds, price, gain))
    lines += say.table(("t/h", "an hour", "held by", "for one more", "lifted, an hour more"), rows)
    if result.equipment:
        lines += ["", *say.table(("equipment", "cost", "gains an hour", "a season"), [
            (x.name, f"{sign}{x.cost:,.0f}", f"{sign}{x.gain:,.0f}",
             "" if x.gain_a_season is None else f"{sign}{x.gain_a_season:,.0f}")
            for x in result.equipment
        ])]  # fmt: skip
    return [*lines, "", f"Without a rating, so held by nothing: {', '.join(result.unlimited)}."]
