"""Reading a file: every row accepted or refused, nothing written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar
from ratoon.base.errors import BadInput
from ratoon.base.records import Reading
from ratoon.importers import kinds, plausible, text_file, workbook
from ratoon.importers.layouts import READINGS, Layout
from ratoon.importers.records import Cell, CellRefused, FileRows, Refusal, Row
from ratoon.importers.rows import Meaning, understand
from ratoon.importers.wide import WideSheet, readings_of

_SAY_EVERY = 5000


def read_file(
    path: Path,
    known: Mapping[str, AddressInfo],
    calendar: Calendar,
    *,
    atmospheric: float = units.STANDARD_ATMOSPHERE,
    progress: Callable[[int], None] | None = None,
    sheets: Sequence[WideSheet] = (),
) -> FileRows:
    """Read the readings or stops of a CSV file or workbook.

    Parameters
    ----------
    path : the file.
    known : the mill's addresses and what each takes.
    calendar : the mill's clock, for local times and mill days.
    atmospheric : pressure of the air at the mill [Pa], for gauge and vacuum.
    progress : told the number of rows read so far, every 5,000 rows.
    sheets : the mill's own wide sheets; each analysis of a wide sheet counts as a row.

    Raises
    ------
    BadInput : the file as a whole cannot be read; then no row of it counts.
    """
    meaning = Meaning(known, calendar, atmospheric)
    kind = kinds.kind_of(path)
    rows_of = _text_rows if kind == "text" else _workbook_rows
    source = rows_of(path, meaning, sheets)
    rows: list[Row] = []
    refused: list[Refusal] = []
    doubtful: list[Refusal] = []
    layouts: dict[str, None] = {}
    for count, (layout, item) in enumerate(source, start=1):
        layouts[layout] = None
        if item is None:
            continue  # an entry sheet's row that nobody filled in
        if isinstance(item, Row):
            rows.append(item)
            doubtful += _doubt(item, known)
        else:
            refused.append(item)
        if progress is not None and count % _SAY_EVERY == 0:
            progress(count)
    if not layouts:
        raise BadInput("a header and no rows", where=path.name)
    return FileRows(path.name, "+".join(layouts), tuple(rows), tuple(refused),
                    tuple(doubtful))  # fmt: skip


def _doubt(row: Row, known: Mapping[str, AddressInfo]) -> list[Refusal]:
    """What is odd about an accepted row, if anything is."""
    record = row.record
    if not isinstance(record, Reading):
        return []
    reason = plausible.doubt_of(record, known[record.address])
    if not reason:
        return []
    value = f"{record.given:g} {record.unit}".strip()
    return [Refusal(row.sheet, row.row, record.address, value, reason)]


def _text_rows(
    path: Path, meaning: Meaning, sheets: Sequence[WideSheet]
) -> Iterator[tuple[str, Row | Refusal | None]]:
    lines = text_file.lines_of(path)
    _, first = next(lines)
    header = text_file.header_of(path, first, sheets)
    name = header.layout.name
    for row, line in lines:
        try:
            found = text_file.cells_of(line, header)
        except CellRefused as error:
            yield name, Refusal("", row, error.column, error.value, error.reason)
            continue
        if _is_blank(header.layout, found):
            yield name, None
            continue
        for item in _records(header.layout, header.wide, found, header.mark, meaning):
            if isinstance(item, CellRefused):
                yield name, Refusal("", row, item.column, item.value, item.reason)
            else:
                yield name, Row(row, "", item)


def _workbook_rows(
    path: Path, meaning: Meaning, sheets: Sequence[WideSheet]
) -> Iterator[tuple[str, Row | Refusal | None]]:
    for line in workbook.rows_of(path, sheets):
        name = line.layout.name
        if _is_blank(line.layout, line.cells):
            yield name, None
            continue
        for item in _records(line.layout, line.wide, line.cells, "", meaning):
            if isinstance(item, CellRefused):
                place = line.places.get(item.column, "")
                reason = f"cell {place}: {item.reason}" if place else item.reason
                yield name, Refusal(line.sheet, line.row, item.column, item.value, reason)
            else:
                yield name, Row(line.row, line.sheet, item)


def _is_blank(layout: Layout, found: Mapping[str, Cell]) -> bool:
    """Whether it is the row of an entry sheet, which names its quantities, without a value."""
    return layout is READINGS and "name" in found and found["value"] in (None, "")


def _records(
    layout: Layout,
    wide: WideSheet | None,
    found: Mapping[str, Cell],
    mark: str,
    meaning: Meaning,
) -> Iterator[Any]:
    """The records of one row and its refused cells; a wide row may hold many."""
    if wide is not None:
        yield from readings_of(found, wide, mark, meaning)
        return
    try:
        yield understand(layout, found, mark, meaning)
    except CellRefused as error:
        yield error
