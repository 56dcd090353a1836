"""``ratoon backup`` and ``ratoon restore``: a mill in one file, and back on an empty machine."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.jobs.keep.backup import Backup


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="New file to write.")],
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Write the mill's folder and all records to one file, while the pages are served."""
    from ratoon.jobs.keep.backup import backup as make

    made = make(mill, file)
    if json:
        say.answer_json(asdict(made))
    else:
        say.answer(
            [
                f"{made.file}: {made.rows} rows and {made.files} files, {made.size / 1e6:.1f} MB",
                _whose(made),
                f"head of the event chain {made.head}",
                f"digest of the manifest  {made.digest}",
            ]
        )
        say.tell("write the head and the digest down apart from the file")
        if not made.noted:
            say.tell("the records cannot be written here, so they do not tell of this backup")
    return say.DONE


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The backup.")],
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="New or empty folder.")],
    database: Annotated[
        str, typer.Option(metavar="URL", help="An empty PostgreSQL database for the records.")
    ] = "",
    anchors: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Anchors kept elsewhere, to compare the backup with."),
    ] = None,
    json: say.AsJson = False,
) -> int:
    """Make a mill anew from a backup; every digest and the event chain are checked first."""
    from ratoon.jobs.keep.restore import restore as make

    made = make(file, folder, database, anchors)
    if json:
        say.answer_json(asdict(made))
    else:
        say.answer(
            [
                f"{folder}: {made.rows} rows and {made.files} files; all digests and the event"
                " chain agree",
                _whose(made),
                f"head of the event chain {made.head}",
                f"digest of the manifest  {made.digest}",
            ]
        )
        if made.written_as not in ("", file.name):
            say.tell(f"this backup was written as {made.written_as}, not as {file.name}")
        if made.later:
            say.tell(f"the anchors know of {made.later} later events: what they stored is not here")
    return say.DONE


def _whose(made: Backup) -> str:
    return f"records {made.store[:16]} up to event {made.event}, written {made.made}"
