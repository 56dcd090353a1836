"""A row of cells with the words to read it by: a name, a number within limits, a day, a moment."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

from ratoon.base.clock import Calendar
from ratoon.importers import cells
from ratoon.importers.records import Cell, CellRefused


class WordedRow:
    """A row of one layout, asked column by column; what a cell cannot be is refused."""

    def __init__(self, row: Mapping[str, Cell], mark: str, calendar: Calendar) -> None:
        self.row, self.mark, self.calendar = row, mark, calendar

    def word(self, column: str, needed: bool = False) -> str:
        return cells.word(column, _as_word(self.row[column]), needed=needed)

    def more(self, column: str) -> str:
        """A word of a column that a file may leave out."""
        return self.word(column) if column in self.row else ""

    def one_of(self, column: str, allowed: tuple[str, ...], empty: str = "") -> Any:
        text = self.word(column).lower()
        if not text:
            return empty
        if text not in allowed:
            raise CellRefused(column, text, f"allowed: {', '.join(allowed)}, or empty")
        return text

    def number(self, column: str, low: float, high: float, unit: str, needed: bool = True) -> Any:
        value = cells.number(column, self.row[column], self.mark)
        if value is None:
            if needed:
                raise CellRefused(column, "", "empty")
            return None
        if not low <= value <= high:
            raise CellRefused(column, f"{value:g}", f"allowed: {low:g} to {high:g} {unit}")
        return value

    def whole(self, column: str, high: int, unit: str) -> int | None:
        value = self.number(column, 0, high, unit, needed=False)
        if value is not None and value != int(value):
            raise CellRefused(column, f"{value:g}", f"must be whole {unit}")
        return None if value is None else int(value)

    def share(self, column: str, needed: bool = True) -> Any:
        value = self.number(column, 0.0, 40.0, "%", needed)
        return None if value is None else value / 100.0

    def day(self, column: str) -> date:
        found = cells.instant(column, self.row[column], self.calendar)
        if found is None or isinstance(found, datetime):
            raise CellRefused(column, self.row[column], "write a bare date, such as 2031-08-14")
        return found

    def time(self, column: str, needed: bool = True) -> Any:
        cell = self.row[column]
        if isinstance(cell, str) and len(cell) == 19 and "." not in cell and "Z" not in cell:
            # most rows of a file share their minute: the zone is asked once a minute
            seconds = cell[17:]
            if seconds.isdigit() and seconds < "60" and cell[16] == ":":
                return _minute(column, cell[:16], self.calendar) + timedelta(seconds=int(seconds))
        found = cells.instant(column, cell, self.calendar)
        if found is None and not needed:
            return None
        if not isinstance(found, datetime):
            raise CellRefused(column, cell, "a time is wanted, such as 2031-08-14T06:00:07")
        return found


def _as_word(cell: Cell) -> Cell:
    """A workbook keeps tags and numbers of notes as numbers: they are words here."""
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        return cell
    return str(int(cell)) if cell == int(cell) else str(cell)


@lru_cache(maxsize=65_536)
def _minute(column: str, text: str, calendar: Calendar) -> datetime:
    found = cells.instant(column, text, calendar)
    if not isinstance(found, datetime):
        raise CellRefused(column, text, "a time is wanted, such as 2031-08-14T06:00:07")
    return found
