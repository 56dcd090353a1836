"""Wide sheets: one sample a row, one analysis a column, under our headings or the mill's own.

A sheet says which heading holds what. A cell becomes one reading: its address is the sample's
place joined with the column's quantity, or the column's own address. A cell that is refused stops
no other cell of its row.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time

from ratoon.base.addresses import AddressInfo, word_of
from ratoon.base.errors import BadInput, nearest_names
from ratoon.base.records import Reading
from ratoon.importers import cells
from ratoon.importers.mill_rows import shift_of
from ratoon.importers.one_reading import Given, Meaning, make_reading, times_of
from ratoon.importers.records import Broken, Cell, CellRefused

_CLOCK = re.compile(r"(\d{1,2})[:.h](\d\d)(?::(\d\d))?")


@dataclass(frozen=True, slots=True)
class WideColumn:
    """What a column holds: a whole address, or the last word of one, and the unit written in."""

    address: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class WideSheet:
    """A sheet's headings; an empty one is not in the sheet.

    `start` holds date and time, or the date alone with the time of day under `time` or the shift
    under `shift`. `samples` gives places for the sheet's own names of samples. With `any_quantity`
    a heading that is not listed is the last word of an address.
    """

    name: str
    start: str
    time: str = ""
    end: str = ""
    shift: str = ""
    sample: str = ""
    source: str = ""
    note: str = ""
    samples: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, WideColumn] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()
    any_quantity: bool = False

    @property
    def fixed(self) -> tuple[str, ...]:
        """Headings that are no analysis."""
        named = (self.start, self.time, self.end, self.shift, self.sample, self.source, self.note)
        return tuple(name for name in named if name)

    @property
    def needed(self) -> tuple[str, ...]:
        """Headings without which a row cannot be understood."""
        named = (self.start, self.time, self.shift, self.sample)
        return tuple(name for name in named if name)


OWN = WideSheet("laboratory", "start", end="end", sample="sample", source="source", note="note",
                any_quantity=True)  # fmt: skip


def recognise_wide(
    header: Sequence[str], sheets: Sequence[WideSheet], where: str
) -> WideSheet | None:
    """The wide sheet that a header belongs to; None when it is none.

    Raises
    ------
    BadInput : a heading that stands twice, or that neither the sheet nor the mill file knows.
    """
    found = [name for name in header if name]
    for sheet in (*sheets, OWN):
        if not set(sheet.needed) <= set(found):
            continue
        if not sheet.any_quantity and not set(sheet.columns) & set(found):
            continue
        twice = [name for name in found if found.count(name) > 1]
        if twice:
            raise BadInput(f"column {twice[0]!r} stands twice", where=where)
        known = {*sheet.fixed, *sheet.columns, *sheet.ignored}
        strange = [name for name in found if name not in known]
        if strange and not sheet.any_quantity:
            raise BadInput(
                f"column {strange[0]!r} has no meaning yet",
                where=where,
                todo=f"Name it under [sheets.{sheet.name}.columns] in mill.toml, or in its ignored",
            )
        return sheet
    return None


def readings_of(
    row: Mapping[str, Cell], sheet: WideSheet, mark: str, meaning: Meaning
) -> Iterator[Reading | CellRefused]:
    """The readings of one row, and a refusal for each cell that is none.

    A row whose time or sample cannot be understood gives one refusal.
    """
    try:
        place = _place(row, sheet, meaning)
        whole_row = _Times(row, sheet, meaning)
        words = (
            cells.word(sheet.source, row.get(sheet.source)) if sheet.source else "",
            cells.word(sheet.note, row.get(sheet.note)) if sheet.note else "",
        )
        whole_row.of(level=False)
    except CellRefused as error:
        yield error
        return
    filled = 0
    for heading, cell in row.items():
        if not heading or heading in sheet.fixed or heading in sheet.ignored:
            continue
        if cell is None or (isinstance(cell, str) and not cell.strip()):
            continue
        filled += 1
        try:
            column = sheet.columns.get(heading) or WideColumn(heading)
            info = _address(place, column.address, heading, cell, meaning.known)
            given = Given(cell, column.unit or info.unit, None, heading, heading)
            times = whole_row.of(level=info.level)
            yield make_reading(info, times, given, mark, meaning, words)
        except CellRefused as error:
            yield error
    if not filled:
        yield CellRefused(sheet.sample or sheet.start, place, "no analysis in this row")


def _place(row: Mapping[str, Cell], sheet: WideSheet, meaning: Meaning) -> str:
    """How the addresses of a row's sample begin; empty where columns name whole addresses."""
    if not sheet.sample:
        return ""
    name = cells.word(sheet.sample, row.get(sheet.sample), needed=True)
    given = {known.lower(): place for known, place in sheet.samples.items()}
    if name.lower() in given:
        return given[name.lower()]
    places = {a.rpartition(".")[0] for a, i in meaning.known.items() if i.readable}
    for candidate in (name, word_of(name)):
        if candidate in places:
            return candidate
    near = nearest_names(word_of(name), [*places, *sheet.samples], 2)
    hint = f"did you mean {' or '.join(near)}? " if near else ""
    raise CellRefused(
        sheet.sample, name, f"unknown sample; {hint}Write how its addresses begin, or give the "
        "name a meaning under samples in mill.toml",
    )  # fmt: skip


def _address(
    place: str, quantity: str, heading: str, cell: Cell, known: Mapping[str, AddressInfo]
) -> AddressInfo:
    shown = cell.value if isinstance(cell, Broken) else cell
    for address in (quantity, f"{place}.{quantity}" if place else ""):
        info = known.get(address)
        if info is not None and info.readable:
            return info
    if not place:
        raise CellRefused(heading, shown, f"unknown address {quantity}")
    has = [a.removeprefix(f"{place}.") for a, i in known.items()
           if a.rpartition(".")[0] == place and i.readable and ".flow." not in a]  # fmt: skip
    raise CellRefused(
        heading, shown, f"{place} has no {quantity} that can be read; it has {', '.join(has[:12])}"
    )


@dataclass(frozen=True, slots=True)
class _Times:
    """Start and end of a row's readings, whichever way the sheet writes them."""

    row: Mapping[str, Cell]
    sheet: WideSheet
    meaning: Meaning

    def of(self, level: bool) -> tuple[datetime, datetime | None]:
        sheet, row = self.sheet, self.row
        if sheet.shift and cells.word(sheet.shift, row.get(sheet.shift)):
            period = shift_of(
                row.get(sheet.start), row.get(sheet.shift), self.meaning, sheet.shift, sheet.start
            )
            return (period.end, None) if level else (period.start, period.end)
        start = row.get(sheet.start)
        if sheet.time:
            start = self._with_clock(start)
        both = {"start": start, "end": row.get(sheet.end) if sheet.end else None}
        try:
            return times_of(both, self.meaning.calendar, level=level)
        except CellRefused as error:
            heading = sheet.start if error.column == "start" else sheet.end
            raise CellRefused(heading, error.value, error.reason) from None

    def _with_clock(self, start: Cell) -> Cell:
        """The date of a row joined with its time of day; the date alone where that is empty."""
        sheet = self.sheet
        cell = self.row.get(sheet.time)
        text = cell.value if isinstance(cell, Broken) else cell
        if text is None or (isinstance(text, str) and not text.strip()):
            return start
        clock = _CLOCK.fullmatch(str(text).strip())
        day = cells.instant(sheet.start, start, self.meaning.calendar)
        if day is None or isinstance(day, datetime):
            raise CellRefused(sheet.start, start, "a bare date is wanted beside a time of day")
        try:
            if clock is None:
                raise ValueError
            at = time(int(clock[1]), int(clock[2]), int(clock[3] or 0))
        except ValueError:
            raise CellRefused(sheet.time, str(text), "no time of day; allowed: 09:30") from None
        return datetime.combine(date(day.year, day.month, day.day), at)
