"""What an importer gives back: the rows it takes and the rows it refuses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class Broken:
    """A cell that cannot be read at all, and why."""

    value: str
    reason: str


Cell = str | int | float | datetime | date | Broken | None
"""A cell as the file holds it; a CSV file holds text only."""


@dataclass(frozen=True, slots=True)
class Row:
    """An accepted row: the reading, stop or record of cane, and the row and sheet it stands in."""

    row: int
    sheet: str
    record: Any


@dataclass(frozen=True, slots=True)
class Refusal:
    """A refused row: where it stands, the cell at fault, and why."""

    sheet: str
    row: int
    column: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class FileRows:
    """A file as it was read: accepted and refused rows together are all its rows."""

    name: str
    layout: str
    rows: tuple[Row, ...]
    refused: tuple[Refusal, ...]
    doubtful: tuple[Refusal, ...] = ()
    """Rows that were accepted all the same, with what is odd about each."""


class CellRefused(Exception):
    """A cell is not what its column wants; the row is refused with this reason."""

    def __init__(self, column: str, value: object, reason: str) -> None:
        self.column, self.reason = column, reason
        self.value = "" if value is None else str(value)[:200]
        super().__init__(reason)
