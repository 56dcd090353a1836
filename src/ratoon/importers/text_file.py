"""CSV files: UTF-8, comma with decimal point or semicolon with decimal comma, line by line.

Each line is taken by itself, so that one forgotten quotation mark refuses one row and not the
rest of the file.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from ratoon.base.errors import BadInput
from ratoon.importers.kinds import refuse_encoding
from ratoon.importers.layouts import LABORATORY, LAYOUTS, Layout, recognise
from ratoon.importers.records import Cell, CellRefused
from ratoon.importers.wide import WideSheet, recognise_wide

MAX_ROWS = 600_000
"""Most rows of one file; keeps memory bounded when a file is not what it seems."""
_MAX_LINE = 65_536
_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


@dataclass(frozen=True, slots=True)
class TextHeader:
    """Layout of a CSV file, its columns in the file's order, separator and decimal mark.

    `width` counts the header's fields, empty ones at its end included.
    """

    layout: Layout
    columns: tuple[str, ...]
    width: int
    separator: str
    mark: str
    wide: WideSheet | None = None


def lines_of(path: Path) -> Iterator[tuple[int, str]]:
    """The lines that are not blank, with their row numbers from 1.

    Raises
    ------
    BadInput : bytes that are not UTF-8, a line without end, or too many rows.
    """
    with path.open("rb") as file:
        row = 0
        while raw := file.readline(_MAX_LINE + 1):
            row += 1
            if len(raw) > _MAX_LINE:
                raise BadInput(f"row {row} is longer than {_MAX_LINE} bytes", where=path.name)
            if row > MAX_ROWS:
                raise BadInput(
                    "too many rows",
                    where=path.name,
                    allowed=f"up to {MAX_ROWS}",
                    todo="Split it by month",
                )
            try:
                line = raw.decode("utf-8-sig" if row == 1 else "utf-8").rstrip("\r\n")
            except UnicodeDecodeError:
                refuse_encoding(path.name, raw, row)
                raise
            if line.strip():
                yield row, line


def header_of(path: Path, line: str, sheets: Sequence[WideSheet] = ()) -> TextHeader:
    """What the first line says: layout, columns and separator."""
    names = {name for layout in LAYOUTS for name in layout.names}
    names |= {name for sheet in sheets for name in (*sheet.fixed, *sheet.columns)}
    best = max(
        _SEPARATORS, key=lambda mark: sum(part.strip(' "') in names for part in line.split(mark))
    )
    fields = _split(line, best) or []
    if best in "\t|" and len(fields) > 1:
        raise BadInput(
            f"columns are separated by {_SEPARATORS[best]}",
            where=path.name,
            allowed="comma with decimal point, or semicolon with decimal comma",
        )
    width = len(fields)
    while fields and not fields[-1]:
        fields.pop()
    wide = recognise_wide(fields, sheets, path.name)
    layout = LABORATORY if wide else recognise(fields, path.name)
    return TextHeader(layout, tuple(fields), width, best, "," if best == ";" else ".", wide)


def cells_of(line: str, header: TextHeader) -> dict[str, Cell]:
    """The cells of a line by column.

    Raises
    ------
    CellRefused : a quotation mark left open, or too few or too many fields.
    """
    fields = _split(line, header.separator)
    if fields is None:
        raise CellRefused("", line, "a quotation mark is left open or stands inside a field")
    wanted = len(header.columns)
    if len(fields) == header.width and not any(fields[wanted:]):
        fields = fields[:wanted]
    if len(fields) != wanted:
        hint = "; a decimal comma belongs in a file with semicolons" if len(fields) > wanted else ""
        raise CellRefused("", line, f"{len(fields)} fields where {wanted} are named{hint}")
    return dict(zip(header.columns, fields))


def _split(line: str, separator: str) -> list[str] | None:
    """Fields of one line, stripped; None when its quotation marks do not fit."""
    if '"' not in line:
        return [field.strip() for field in line.split(separator)]
    try:
        fields = next(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error:
        return None
    return [field.strip() for field in fields]
