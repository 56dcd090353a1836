"""``ratoon learn``: the mill's usual figures out of its accounted days."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.account.learn import Learnt


def learn(
    first: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="First mill day; else the season's first."),
    ] = None,
    last: Annotated[
        str | None,
        typer.Option("--to", metavar="DATE", help="Last mill day; else the newest accounted."),
    ] = None,
    approve: Annotated[
        bool, typer.Option("--approve", help="Write what is proposed into the mill file.")
    ] = False,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Propose usual values of assumed quantities from accounted days; a person approves."""
    begin = parse_date(first) if first is not None else None
    end = parse_date(last) if last is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sheet.learn import learn_usual

    with open_mill(mill) as opened:
        found = learn_usual(opened, begin, end, approve, progress=say.progress())
    if json:
        say.answer_json(to_json(found))
        return say.DONE
    say.answer(_in_words(found, approve))
    return say.DONE


def _in_words(found: Learnt, approved: bool) -> list[str]:
    """Before and after of each quantity, and what was or can be done with them."""
    lines = [f"{found.days} mill days, {found.dates[0]} to {found.dates[-1]}"]
    if found.left_out:
        lines.append(
            f"left out, their readings contradict one another: {', '.join(found.left_out)}"
        )
    lines += [f"left alone: {line}" for line in found.left_alone]
    if not found.changes:
        return [*lines, "The readings say less of every assumed quantity than the mill file does."]
    rows = [(c.address, c.before, c.sigma_before, c.after, c.sigma, c.unit) for c in found.changes]
    head = ("assumed quantity", "before", "+- sigma", "after", "+- sigma", "unit")
    end = "Written into the mill file; it holds for the days after these."
    if not approved:
        end = "Nothing is changed. To take them into the mill file: the same with --approve."
    return [*lines, "", *say.table(head, rows, right="1234"), "", end]
