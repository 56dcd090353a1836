"""Reading a file: every row accepted or refused, nothing written."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar
from ratoon.base.errors import BadInput
from ratoon.importers import kinds, text_file, workbook
from ratoon.importers.records import CellRefused, FileRows, Refusal, Row
from ratoon.importers.rows import Meaning, understand

_SAY_EVERY = 5000


def read_file(
    path: Path,
    known: Mapping[str, AddressInfo],
    calendar: Calendar,
    *,
    stations: Collection[str] | None = None,
    atmospheric: float = units.STANDARD_ATMOSPHERE,
    progress: Callable[[int], None] | None = None,
) -> FileRows:
    """Read the readings or stops of a CSV file or workbook.

    Parameters
    ----------
    path : the file.
    known : the mill's addresses and what each takes.
    calendar : the mill's clock, for local times and mill days.
    stations : names a stop may give as its station; None takes any.
    atmospheric : pressure of the air at the mill [Pa], for gauge and vacuum.
    progress : told the number of rows read so far, every 5,000 rows.

    Raises
    ------
    BadInput : the file as a whole cannot be read; then no row of it counts.
    """
    meaning = Meaning(known, calendar, stations, atmospheric)
    kind = kinds.kind_of(path)
    source = _text_rows(path, meaning) if kind == "text" else _workbook_rows(path, meaning)
    rows: list[Row] = []
    refused: list[Refusal] = []
    layouts: dict[str, None] = {}
    for count, (layout, item) in enumerate(source, start=1):
        layouts[layout] = None
        if isinstance(item, Row):
            rows.append(item)
        else:
            refused.append(item)
        if progress is not None and count % _SAY_EVERY == 0:
            progress(count)
    if not layouts:
        raise BadInput("a header and no rows", where=path.name)
    return FileRows(path.name, "+".join(layouts), tuple(rows), tuple(refused))


def _text_rows(path: Path, meaning: Meaning) -> Iterator[tuple[str, Row | Refusal]]:
    lines = text_file.lines_of(path)
    _, first = next(lines)
    header = text_file.header_of(path, first)
    name = header.layout.name
    for row, line in lines:
        try:
            found = text_file.cells_of(line, header)
            record = understand(header.layout, found, header.mark, meaning)
        except CellRefused as error:
            yield name, Refusal("", row, error.column, error.value, error.reason)
        else:
            yield name, Row(row, "", record)


def _workbook_rows(path: Path, meaning: Meaning) -> Iterator[tuple[str, Row | Refusal]]:
    for line in workbook.rows_of(path):
        name = line.layout.name
        try:
            record = understand(line.layout, line.cells, "", meaning)
        except CellRefused as error:
            place = line.places.get(error.column, "")
            reason = f"cell {place}: {error.reason}" if place else error.reason
            yield name, Refusal(line.sheet, line.row, error.column, error.value, reason)
        else:
            yield name, Row(line.row, line.sheet, record)
