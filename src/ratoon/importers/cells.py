"""Cells to numbers, times and words; each refused cell says why and what to write instead."""

from __future__ import annotations

import math
import re
from datetime import date, datetime

from ratoon.base.clock import Calendar, in_reach, parse_date
from ratoon.base.errors import BadInput
from ratoon.importers.records import Broken, Cell, CellRefused

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_COMMA_NUMBER = re.compile(r"[+-]?(\d+(,\d*)?|,\d+)([eE][+-]?\d{1,3})?")
_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(?P<offset>Z|[+-]\d\d:?\d\d)?")
LARGEST = 1e15
"""No reading in any unit is larger; squares and products of what is below stay numbers."""
_FORM = "YYYY-MM-DD or YYYY-MM-DDTHH:MM"


def word(column: str, cell: Cell, *, needed: bool = False) -> str:
    """The text of a cell; a number in it is refused where a name is needed."""
    if isinstance(cell, Broken):
        raise CellRefused(column, cell.value, cell.reason)
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        if needed:
            raise CellRefused(column, "", "empty")
        return ""
    if isinstance(cell, str):
        if "\0" in cell:
            raise CellRefused(column, cell.replace("\0", "?"), "holds a NUL, which is no letter")
        return cell.strip()
    if needed:
        raise CellRefused(column, cell, "a number or date where a word is wanted")
    return str(cell)


def number(column: str, cell: Cell, mark: str = ".") -> float | None:
    """The number of a cell; None when it is empty.

    Parameters
    ----------
    mark : the decimal mark of a text file; in a workbook, empty: text is no number there.
    """
    if isinstance(cell, Broken):
        raise CellRefused(column, cell.value, cell.reason)
    if cell is None:
        return None
    if isinstance(cell, int | float):
        return _finite(column, float(cell), cell)
    if not isinstance(cell, str):
        raise CellRefused(column, cell, "a date in a number column")
    text = cell.strip()
    if not text:
        return None
    if not mark:
        numeric = _NUMBER.fullmatch(text) or _COMMA_NUMBER.fullmatch(text)
        why = "a number kept as text: make it a number" if numeric else _advice(text, ".")
        raise CellRefused(column, text, f"text in a number column: {why}")
    form = _NUMBER if mark == "." else _COMMA_NUMBER
    if form.fullmatch(text) is None:
        raise CellRefused(column, text, _advice(text, mark))
    return _finite(column, float(text.replace(",", ".")), text)


def _finite(column: str, value: float, shown: object) -> float:
    if not math.isfinite(value):
        raise CellRefused(column, shown, "not a finite number")
    if abs(value) > LARGEST:
        raise CellRefused(column, shown, f"beyond all that is read; allowed: up to {LARGEST:g}")
    return value


def _advice(text: str, mark: str) -> str:
    """Why a text is no number, in the words that help most."""
    other = "," if mark == "." else "."
    if text[0] in "<>≤≥~":
        return "a limit, not a number: leave the row out, or write what was read with its sigma"
    if (_COMMA_NUMBER if mark == "." else _NUMBER).fullmatch(text):
        name, file = ("comma", "a comma") if mark == "." else ("point", "a semicolon")
        right = text.replace(other, mark)
        return f"a decimal {name} in {file} file: write {right}, or change the whole file"
    if re.fullmatch(r"[+-]?\d{1,3}([ ,.'_]\d{3})+([.,]\d+)?", text):
        return "no marks between thousands, please"
    if re.fullmatch(r".*\d\s*%", text):
        return "write the number here and % in the column unit"
    return "not a number; leave the row out when nothing was read"


def instant(column: str, cell: Cell, calendar: Calendar) -> datetime | date | None:
    """The UTC instant of a cell, a bare date as it is, or None when it is empty."""
    if isinstance(cell, Broken):
        raise CellRefused(column, cell.value, cell.reason)
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        return None
    if isinstance(cell, int | float):
        raise CellRefused(column, cell, f"a number, not a date; allowed: {_FORM}")
    try:
        if isinstance(cell, datetime):
            return calendar.to_utc(cell)
        if isinstance(cell, date):
            return in_reach(cell)
        return _from_text(cell.strip(), calendar)
    except BadInput as error:
        reason = f"{error.what}; allowed: {_FORM}" if error.allowed else error.what
        raise CellRefused(column, cell, f"{reason}. {error.todo}" if error.todo else reason) from (
            None
        )


def _from_text(text: str, calendar: Calendar) -> datetime | date:
    if _TIME.fullmatch(text) is None:
        return parse_date(text)
    return calendar.read(text)
