"""``ratoon backup`` and ``ratoon restore``: a mill in one file, and back on an empty machine."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from ratoon.cli import say


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="New file to write.")],
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Write the mill's folder and all records to one file, while the pages are served."""
    from ratoon.jobs.backup import backup as make

    made = make(mill, file)
    if json:
        say.answer_json(asdict(made))
    else:
        say.answer(
            [
                f"{made.file}: {made.rows} rows and {made.files} files, {made.size / 1e6:.1f} MB",
                f"head of the event chain {made.head}",
                f"digest of the manifest  {made.digest}",
            ]
        )
        say.tell("write the head and the digest down apart from the file")
    return say.DONE


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The backup.")],
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="New or empty folder.")],
    database: Annotated[
        str, typer.Option(metavar="URL", help="An empty PostgreSQL database for the records.")
    ] = "",
    json: say.AsJson = False,
) -> int:
    """Make a mill anew from a backup; every digest and the event chain are checked first."""
    from ratoon.jobs.backup import restore as make

    made = make(file, folder, database)
    if json:
        say.answer_json(asdict(made))
    else:
        say.answer(
            [
                f"{folder}: {made.rows} rows and {made.files} files; all digests and the event"
                " chain agree",
                f"head of the event chain {made.head}",
                f"digest of the manifest  {made.digest}",
            ]
        )
    return say.DONE
