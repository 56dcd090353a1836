"""Workbooks (.xlsx), read cell by cell, so that no cell is turned into nothing in silence.

A formula counts by its stored value; one that has none, an error, a merged cell, a text in a
number column are refused by cell.
"""

from __future__ import annotations

import warnings
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from ratoon.base.errors import BadInput, RatoonError, nearest_names
from ratoon.importers.layouts import LABORATORY, LAYOUTS, READINGS, Layout, recognise
from ratoon.importers.records import Broken, Cell
from ratoon.importers.text_file import MAX_ROWS
from ratoon.importers.wide import WideSheet, recognise_wide

_OURS = {layout.name for layout in LAYOUTS}
_MAX_UNPACKED = 400_000_000
# What a workbook of readings packs to is known: a file that swells a hundredfold is no such file,
# and its texts, which are read whole into memory, would fill the machine.
_MAX_SWELLING, _MAX_TEXTS, _SMALL_ENOUGH = 100, 80_000_000, 5_000_000
_HEAD = 65_536
_TITLES = 10  # rows over the headings of a mill's own sheet
_Merged = list[tuple[int, int, int, int, str]]  # first and last column, first and last row, name


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A row of a sheet: its layout and its cells by column; `places` names the cells (``D12``)."""

    sheet: str
    row: int
    layout: Layout
    cells: dict[str, Cell]
    places: dict[str, str]
    wide: WideSheet | None = None


def rows_of(path: Path, sheets: Sequence[WideSheet] = ()) -> Iterator[SheetRow]:
    """The rows of the sheets named after our layouts and the mill's own, blank rows left out.

    Raises
    ------
    BadInput : not a workbook, damaged, no sheet of ours, or a header that is not ours.
    """
    _check_package(path)
    with _both_views(path) as (values, formulas):
        ours = [*(layout.name for layout in LAYOUTS), *(sheet.name for sheet in sheets)]
        names = [name for name in dict.fromkeys(ours) if name in values.sheetnames]
        # an entry workbook has a sheet of readings for each round
        names += [n for n in values.sheetnames if n.startswith(f"{READINGS.name} ")
                  and n not in names]  # fmt: skip
        if not names:
            near = [name for name in values.sheetnames if name.strip().lower() in _OURS]
            near = near or nearest_names("readings", values.sheetnames, 1)
            raise BadInput(
                "no sheet of ours in the workbook",
                where=path.name,
                value=", ".join(values.sheetnames)[:80],
                allowed="a sheet named readings or stops",
                todo=f"Rename the sheet {near[0]!r}" if near else "",
            )
        for name in names:
            yield from _sheet_rows(path, name, values[name], formulas[name], sheets)


def _check_package(path: Path) -> None:
    """Refuse what is no workbook, and one that would unpack without end."""
    try:
        with zipfile.ZipFile(path) as package:
            parts = {info.filename: info.file_size for info in package.infolist()}
            packed = sum(info.compress_size for info in package.infolist())
            declares = any(_declares(package, name) for name in parts if name.endswith(".xml"))
    except (zipfile.BadZipFile, OSError, ValueError, EOFError, RuntimeError, zlib.error):
        raise BadInput("the workbook is damaged", where=path.name, todo="Save it again") from None
    if declares:
        raise BadInput(
            "the workbook declares words of its own, which no workbook needs", where=path.name,
            todo="Save it again with a spreadsheet program",
        )  # fmt: skip
    if "xl/workbook.xml" not in parts:
        raise BadInput(
            "a packed file, but no workbook (.xlsx)", where=path.name, allowed="CSV or .xlsx"
        )
    whole, texts = sum(parts.values()), parts.get("xl/sharedStrings.xml", 0)
    swells = whole > _SMALL_ENOUGH and whole > _MAX_SWELLING * packed
    if whole > _MAX_UNPACKED or swells or texts > _MAX_TEXTS:
        raise BadInput(
            "the workbook unpacks to more than we read",
            where=path.name,
            allowed=f"up to {_MAX_UNPACKED / 1e6:.0f} MB, {_MAX_SWELLING} times what it packs to",
            todo="Split it by month",
        )


def _declares(package: zipfile.ZipFile, name: str) -> bool:
    """Whether a part has a document type: its words may stand for others without end, or files."""
    with package.open(name) as part:
        start = part.read(_HEAD)
    return any("<!DOCTYPE".encode(code) in start for code in ("ascii", "utf-16-le", "utf-16-be"))


@contextmanager
def _both_views(path: Path) -> Iterator[tuple[Any, Any]]:
    """The workbook twice: with stored values, and with formulas."""
    from openpyxl import load_workbook

    books: list[Any] = []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about parts of a workbook that we do not read
            for values in (True, False):
                books.append(load_workbook(path, read_only=True, data_only=values))
            yield books[0], books[1]
    except RatoonError:
        raise
    except Exception as error:
        # openpyxl raises whatever its parsing meets first: KeyError, ValueError, ParseError ...
        raise BadInput(
            f"the workbook is damaged ({type(error).__name__})",
            where=path.name,
            todo="Save it again",
        ) from error
    finally:
        for book in books:
            book.close()


def _sheet_rows(
    path: Path, name: str, values: Any, formulas: Any, sheets: Sequence[WideSheet]
) -> Iterator[SheetRow]:
    from openpyxl.utils import get_column_letter

    where = f"{path.name} sheet {name}"
    merged = _merged_cells(path, values)
    values.reset_dimensions()  # the size a sheet states is often wrong
    formulas.reset_dimensions()
    layout: Layout | None = None
    wide: WideSheet | None = None
    own = [sheet for sheet in sheets if sheet.name == name]
    columns: list[str] = []
    pairs = zip(values.iter_rows(), formulas.iter_rows())
    for row, (seen, written) in enumerate(pairs, start=1):
        if row > MAX_ROWS:
            raise BadInput("too many rows", where=where, allowed=f"up to {MAX_ROWS}")
        found = [_cell(a, b) for a, b in zip(seen, written)]
        if all(cell is None or cell == "" for cell in found):
            continue
        if layout is None:
            columns = [str(cell).strip() if isinstance(cell, str) else "" for cell in found]
            while columns and not columns[-1]:
                columns.pop()
            wide = recognise_wide(columns, sheets, where)
            if wide is None and own and row <= _TITLES:
                continue  # a title over the mill's own headings
            layout = LABORATORY if wide else recognise(columns, where)
            continue
        found += [None] * (len(columns) - len(found))
        cells: dict[str, Cell] = {}
        places: dict[str, str] = {}
        for number, (column, cell) in enumerate(zip(columns, found), start=1):
            if column:
                cells[column] = _unless_merged(cell, number, row, merged)
                places[column] = f"{get_column_letter(number)}{row}"
        yield SheetRow(name, row, layout, cells, places, wide)
    if layout is None:
        raise BadInput("the sheet is empty", where=where)


def _cell(seen: Any, written: Any) -> Cell:
    """A cell's value in our terms."""
    value = seen.value
    if value is None and written.value is not None:  # only a formula is written but not seen
        shown = getattr(written.value, "text", written.value)
        return Broken(
            str(shown), "a formula without a stored value: open and save it, or paste the value"
        )
    if value is None:
        return None
    if seen.data_type == "e":
        return Broken(str(value), "an error value")
    if isinstance(value, bool):
        return Broken(str(value), "true or false is no reading")
    if isinstance(value, time | timedelta):
        return Broken(str(value), "a time of day without its date")
    if isinstance(value, datetime):
        return _when(value, str(seen.number_format))
    if isinstance(value, str | int | float | date):
        return value
    return Broken(str(value), "not a number, date or text")


def _when(value: datetime, number_format: str) -> datetime | date:
    """A date cell: bare when its format shows no hours; rounded to whole seconds, as it is kept
    as a fraction of a day."""
    rounded = value
    if value.microsecond:
        rounded = (value + timedelta(milliseconds=500)).replace(microsecond=0)
    midnight = rounded.time() == time(0)
    return rounded.date() if midnight and "h" not in number_format.lower() else rounded


def _merged_cells(path: Path, sheet: Any) -> _Merged:
    """The merged ranges of a sheet, which the streaming reader leaves out."""
    from openpyxl.utils import range_boundaries

    found: _Merged = []
    with zipfile.ZipFile(path) as package, package.open(_part_of(sheet)) as part:
        for _, element in ElementTree.iterparse(part):
            if element.tag.endswith("}mergeCell"):
                name = element.get("ref", "")
                left, top, right, bottom = (int(edge or 0) for edge in range_boundaries(name))
                found.append((left, right, top, bottom, name))
            if not element.tag.endswith("}mergeCells"):
                element.clear()
    return found


def _part_of(sheet: Any) -> str:
    part: str = sheet._worksheet_path
    return part.lstrip("/")


def _unless_merged(cell: Cell, column: int, row: int, merged: _Merged) -> Cell:
    for left, right, top, bottom, name in merged:
        if left <= column <= right and top <= row <= bottom:
            shown = "" if cell is None or isinstance(cell, Broken) else str(cell)
            return Broken(shown, f"merged cells {name}: unmerge them and fill in each row")
    return cell
