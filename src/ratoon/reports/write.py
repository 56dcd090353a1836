"""Writes the morning sheet into a folder: HTML, PDF and JSON, each whole or not at all."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ratoon.account.results.day import DayResult

DIGESTS = "SHA256SUMS"
"""Digests of the sheets in a folder, in the form that ``sha256sum --check`` reads."""


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file beside its place, then put it there in one step: no half file is ever seen."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            Path(name).unlink()
        raise
    return path


def json_text(value: Any) -> str:
    """JSON for people and programs: no NaN, no Infinity, names kept as they are."""
    return json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def write_morning(result: DayResult, folder: Path) -> dict[str, Path]:
    """Write ``morning.html``, ``morning.pdf`` and ``morning.json`` into `folder`.

    Parameters
    ----------
    folder : made when missing.

    Returns
    -------
    The three paths by kind: "html", "pdf", "json"; in JSON every number has its sigma.
    """
    from ratoon.reports.compose import morning_sheet
    from ratoon.reports.html import morning_html
    from ratoon.reports.paper import morning_pdf

    sheet = morning_sheet(result)
    contents = {
        "html": morning_html(sheet).encode(),
        "pdf": morning_pdf(sheet),
        "json": json_text(sheet.json()).encode(),
    }
    return write_sheets(folder, "morning", contents)


def write_sheets(folder: Path, name: str, contents: Mapping[str, bytes]) -> dict[str, Path]:
    """Write the forms of a sheet, then their digests; gives the paths by ending.

    While the digests are missing the sheet is not whole, and is made again when it is asked for.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / DIGESTS).unlink(missing_ok=True)
    paths = {end: write_whole(folder / f"{name}.{end}", made) for end, made in contents.items()}
    told = "".join(f"{hashlib.sha256(made).hexdigest()}  {paths[end].name}\n"
                   for end, made in contents.items())  # fmt: skip
    write_whole(folder / DIGESTS, told.encode())
    return paths


def is_whole(folder: Path) -> bool:
    """Whether a sheet with its digests lies in a folder."""
    try:
        named = [line[66:] for line in (folder / DIGESTS).read_text().splitlines()]
    except (OSError, UnicodeError):
        return False
    return bool(named) and all((folder / name).is_file() for name in named)


def sheet_faults(folder: Path) -> list[str]:
    """What of a folder's sheets is not as it was written; none where digests are missing."""
    try:
        lines = (folder / DIGESTS).read_text().splitlines()
    except FileNotFoundError:
        return []
    except (OSError, UnicodeError):
        return [f"{DIGESTS} cannot be read"]
    known = {line[66:]: line[:64] for line in lines}
    found = [f"{path.name} has no digest" for path in sorted(folder.glob("*.*"))
             if path.name not in known and not path.name.startswith(".")]  # fmt: skip
    for name, digest in known.items():
        try:
            made = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        except (OSError, ValueError):
            made = ""
        if made != digest:
            found.append(f"{name} is gone, or was changed afterwards")
    return found or ([] if known else [f"{DIGESTS} is empty"])
