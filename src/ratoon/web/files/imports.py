"""The page Import: files of readings and stops in, every row accepted or refused."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from fastapi import FastAPI, File, Form, UploadFile
from fastapi.responses import Response

from ratoon.base.errors import BadInput, RatoonError
from ratoon.importers.records import Refusal
from ratoon.jobs.files.imports import FileReport, import_files
from ratoon.web.door.access import LARGE
from ratoon.web.door.visit import who
from ratoon.web.shared import Format, Pages, get

_SHOWN = 200  # refused or odd rows of one file on the page; --json of the command has them all
_MOST_FILES = 20


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that was not taken, or taken though odd: where it stands, what stood there, why."""

    place: str
    column: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class ImportedFile:
    """What became of a file; `error` says why it was refused whole.

    `odd` rows were accepted all the same, and say what is odd; `more` and `more_odd` rows are not
    shown. `without_sigma` names readings that are kept and not used, for want of an uncertainty.
    """

    name: str
    rows: int
    accepted: int
    unchanged: int
    corrected: int
    error: str
    refused: tuple[RefusedRow, ...]
    more: int
    odd: tuple[RefusedRow, ...]
    more_odd: int
    without_sigma: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ImportPage:
    """What is taken, and what became of the files just sent."""

    most_mb: int
    files: tuple[ImportedFile, ...]
    line: str


def import_views(app: FastAPI, pages: Pages) -> None:
    """Add the views to the app."""
    pages.standing["import"] = (pages.mill_dir / "mill.toml").is_file

    def show(
        form: Format, files: tuple[ImportedFile, ...] = (), line: str = "", status: int = 200
    ) -> Response:
        page = ImportPage(LARGE // 1024**2, files, line)
        return pages.answer(form, page, "import_page.html", "Import", pages.newest(), status)

    @get(app, "/import", ImportPage)
    def import_page(format: Format = None) -> Response:
        return show(format)

    @app.post("/import")
    def import_sent(
        file: Annotated[list[UploadFile] | None, File()] = None,
        reason: Annotated[str, Form(max_length=300)] = "",
        format: Format = None,
    ) -> Response:
        try:
            made = _import(pages.mill_dir, file or [], reason.strip())
        except RatoonError as error:
            return show(format, line=error.line(), status=422)
        return show(format, made, status=422 if any(one.error for one in made) else 200)


def _import(mill_dir: Path, sent: list[UploadFile], reason: str) -> tuple[ImportedFile, ...]:
    """The files into a folder of their own, and from there as the command would take them."""
    if not 0 < len(sent) <= _MOST_FILES or not all(one.filename for one in sent):
        raise BadInput("no file was sent, or too many", allowed=f"1 to {_MOST_FILES} files")
    with tempfile.TemporaryDirectory(prefix="ratoon") as folder:
        paths = []
        for number, one in enumerate(sent):
            place = Path(folder) / str(number)
            place.mkdir()
            path = place / safe_name(one.filename or "")
            with path.open("xb") as kept:
                while piece := one.file.read(1 << 20):
                    kept.write(piece)
            paths.append(path)
        report = import_files(mill_dir, paths, reason or None, who=who())
    return tuple(_shown(path.name, one) for path, one in zip(paths, report.files))


def safe_name(given: str) -> str:
    """A file's own name without the folders a browser may have put before it.

    Examples
    --------
    >>> safe_name("../../etc/pass wd.csv"), safe_name("..")
    ('pass wd.csv', 'file')
    """
    last = re.split(r"[\\/]", given)[-1]
    kept = re.sub(r"[^\w .()+-]", "_", last)[-100:].strip(" .")
    return kept or "file"


def _shown(name: str, one: FileReport) -> ImportedFile:
    return ImportedFile(
        name,
        one.rows,
        one.accepted,
        one.unchanged,
        one.corrected,
        one.error,
        _rows(one.refused),
        max(len(one.refused) - _SHOWN, 0),
        _rows(one.doubtful),
        max(len(one.doubtful) - _SHOWN, 0),
        one.without_sigma,
    )


def _rows(refusals: Sequence[Refusal]) -> tuple[RefusedRow, ...]:
    return tuple(
        RefusedRow(f"{r.sheet} row {r.row}".strip(), r.column, r.value[:60], r.reason)
        for r in refusals[:_SHOWN]
    )
