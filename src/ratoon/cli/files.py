"""``ratoon import``: files in, every row accepted or refused."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.importers.records import Refusal
    from ratoon.jobs.files.imports import FileReport

_SHOWN = 20  # refused rows of one file told as text; --json has them all


def import_(
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="FILE...", help="CSV files and workbooks.", show_default=False),
    ] = None,
    mill: say.MillDir = say.HERE,
    correct: Annotated[
        str | None,
        typer.Option(metavar="REASON", help="Replace stored values that differ, for this reason."),
    ] = None,
    layouts: Annotated[
        bool, typer.Option("--layouts", help="Print every layout a file may have.")
    ] = False,
    json: say.AsJson = False,
) -> int:
    """Import readings and stops; every row is accepted or refused."""
    if layouts:
        from ratoon.importers import layouts as known

        if json:
            say.answer_json(known.as_records())
        else:
            say.answer(known.describe())
        return say.DONE
    if not files:
        raise typer.BadParameter("name at least one file, or ask for --layouts")
    from ratoon.jobs.files.imports import import_files

    report = import_files(mill, files, correct, progress=say.progress())
    if json:
        say.answer_json(report.as_json())
    else:
        say.answer(line for file in report.files for line in _lines(file))
    for file in report.files:
        if file.without_sigma:
            say.tell(
                f"{file.file}: no sigma in the row nor in mill.toml, so kept and not used:"
                f" {', '.join(file.without_sigma)}"
            )
    for file in report.files:
        for odd in file.doubtful[:_SHOWN]:
            say.tell(f"{file.file}: {_refused_row(odd)}")
        if len(file.doubtful) > _SHOWN:
            say.tell(f"{file.file}: and {len(file.doubtful) - _SHOWN} more odd readings, all kept")
    for file in report.files:
        if file.refused:
            say.tell(_in_short(file))
    for error in report.errors:
        say.tell(error)
    if report.errors:
        return say.REFUSED
    return say.SOME_ROWS_REFUSED if report.refused else say.DONE


def _in_short(file: FileReport) -> str:
    """The refused rows of a file in one line: how many, and the first of them."""
    count = len(file.refused)
    first = _refused_row(file.refused[0])
    return f"{file.file}: {count} row{'s' if count > 1 else ''} refused, the first: {first}"


def _refused_row(refusal: Refusal) -> str:
    sheet = f"sheet {refusal.sheet} " if refusal.sheet else ""
    column = f" {refusal.column}" if refusal.column else ""
    value = f" {refusal.value[:60]!r}" if refusal.value else ""
    return f"{sheet}row {refusal.row}{column}{value}: {refusal.reason}"


def _lines(file: FileReport) -> list[str]:
    """A file's report as text."""
    if file.error:
        return [f"{file.file}: refused"]
    corrected = f", {file.corrected} corrected" if file.corrected else ""
    lines = [
        f"{file.file}: {file.rows} rows, {file.accepted} accepted, {file.unchanged} unchanged"
        f"{corrected}, {len(file.refused)} refused"
    ]
    for refusal in file.refused[:_SHOWN]:
        lines.append(f"  {_refused_row(refusal)}")
    if len(file.refused) > _SHOWN:
        lines.append(f"  and {len(file.refused) - _SHOWN} more; --json lists them all")
    return lines
