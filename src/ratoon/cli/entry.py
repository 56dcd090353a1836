"""``ratoon missing``, ``book``, ``fill``: what to read, where to write it, a form of one's own."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.account.missing import Worth

_SHOWN = 15  # readings told as text; --json has them all


def missing(
    date: Annotated[str, typer.Argument(metavar="DATE", help="Mill day, YYYY-MM-DD.")],
    address: Annotated[
        str | None, typer.Argument(metavar="ADDRESS", help="One figure; all when left out.")
    ] = None,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Which readings would open or sharpen the day's figures, the most useful first."""
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.missing import missing as job

    day = parse_date(date)
    worth, opened = in_mill(mill, job, day, address)
    if json:
        say.answer_json([asdict(w) for w in worth])
        return say.DONE
    for figure, needs in opened.items():
        wanted = f"add {', '.join(needs)}" if needs else "no few readings would open it"
        say.answer([f"{figure} is not determined: {wanted}"])
    say.answer(_in_words(worth, bool(opened)))
    return say.DONE


def _in_words(worth: list[Worth], after: bool) -> list[str]:
    rows = [
        (w.address if not k else "", o.address,
         "open" if o.sigma_before is None else f"+- {1.96 * o.sigma_before:.3g}",
         "" if o.sigma_after is None else f"+- {1.96 * o.sigma_after:.3g}")
        for w in worth[:_SHOWN] for k, o in enumerate(w.opens)
    ]  # fmt: skip
    if not rows:
        return ["" if after else "every figure is as sharp as these readings make it"]
    more = [f"and {len(worth) - _SHOWN} more; --json has them all"] if len(worth) > _SHOWN else []
    head = ("add the reading", "for", "95 % now", "then")
    return [*([""] if after else []), *say.table(head, rows), *more]
