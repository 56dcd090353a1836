"""Writes the morning sheet into a folder: HTML, PDF and JSON, each whole or not at all."""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from pathlib import Path
from typing import Any

from ratoon.account.results import DayResult
from ratoon.reports.compose import morning_sheet
from ratoon.reports.html import morning_html
from ratoon.reports.paper import morning_pdf


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file beside its place, then put it there in one step: no half file is ever seen."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
        Path(name).chmod(0o644)
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
    sheet = morning_sheet(result)
    folder.mkdir(parents=True, exist_ok=True)
    contents = {
        "html": morning_html(sheet).encode(),
        "pdf": morning_pdf(sheet),
        "json": json_text(sheet.json()).encode(),
    }
    return {kind: write_whole(folder / f"morning.{kind}", made) for kind, made in contents.items()}
