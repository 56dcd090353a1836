"""``ratoon missing``, ``book``, ``fill``: what to read, where to write it, a form of one's own."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.account.trust.missing import Worth

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
    from ratoon.jobs.sheet.missing import missing as job

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


def book(
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx", help="The workbook to write.")],
    date: Annotated[
        str | None,
        typer.Option("--date", metavar="DATE", help="Mill day it is for; the next to be written."),
    ] = None,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Write the workbook in which this mill's readings are entered, a sheet for each round."""
    from ratoon.jobs.book import write_book

    sheets = write_book(mill, file, None if date is None else parse_date(date))
    if json:
        say.answer_json({"file": str(file), "sheets": sheets})
    else:
        say.answer([f"{file}: {', '.join(f'{n} ({k} rows)' for n, k in sheets.items())}, stops",
                    f"fill in what was read, then: ratoon import {file}"])  # fmt: skip
    return say.DONE


def fill(
    file: Annotated[
        Path, typer.Argument(metavar="BOOK.xlsx", help="A workbook with cells named by address.")
    ],
    date: Annotated[str, typer.Argument(metavar="DATE", help="Mill day, YYYY-MM-DD.")],
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Write a day's figures into the named cells of the mill's own report; the rest of it stays."""
    from ratoon.jobs.fill import fill_book
    from ratoon.jobs.mills import in_mill

    done = in_mill(mill, fill_book, file, parse_date(date))
    if json:
        say.answer_json(asdict(done))
        return say.DONE
    say.answer([f"{file}: {len(done.filled)} cells filled"])
    for words, names in (("left empty, not determined", done.empty),
                         ("left alone, no address", done.left)):  # fmt: skip
        if names:
            say.answer([f"{words}: {', '.join(names)}"])
    return say.DONE
