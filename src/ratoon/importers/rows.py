"""Rows of cells to readings and stops, with what they mean checked against the mill's addresses."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period, Reading, Stop
from ratoon.importers import cells
from ratoon.importers.cane_rows import READERS, CaneRecord, understand_cane
from ratoon.importers.layouts import READINGS, Layout
from ratoon.importers.records import Cell, CellRefused

_LONGEST = timedelta(days=366)
_EARLIEST = 1950
_NEEDS_PERIOD = {*units.MEAN_OF_TOTAL, *units.MEAN_OF_TOTAL.values(), "time"}


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a row needs to be understood: addresses, clock, stations, the air's pressure [Pa]."""

    known: Mapping[str, AddressInfo]
    calendar: Calendar
    stations: Collection[str] | None = None
    atmospheric: float = units.STANDARD_ATMOSPHERE


def understand(
    layout: Layout, row: Mapping[str, Cell], mark: str, meaning: Meaning
) -> Reading | Stop | CaneRecord:
    """The reading, stop or record of cane that a row holds.

    Raises
    ------
    CellRefused : the first cell that is not what its column wants.
    """
    if layout is READINGS:
        return _reading(row, mark, meaning)
    if layout.name in READERS:
        return understand_cane(layout.name, row, mark, meaning.calendar)
    return _stop(row, meaning)


def _reading(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> Reading:
    info = _address(cells.word("address", row["address"], needed=True), meaning.known)
    start, end = _times(row, meaning.calendar, level=info.level)
    value = cells.number("value", row["value"], mark)
    if value is None:
        raise CellRefused("value", "", "empty; leave the row out when nothing was read")
    unit = _unit(row["unit"], info)
    if end is None and not info.level and units.dimension(unit) in _NEEDS_PERIOD:
        raise CellRefused("end", "", f"empty, but {unit} is read over a period: give its end")
    _limits(value, unit, info, start, end, meaning.atmospheric)
    sigma = cells.number("sigma", row["sigma"], mark)
    if sigma is not None and sigma <= 0.0:
        raise CellRefused(
            "sigma", row["sigma"], "must be above zero; leave it empty for the one in mill.toml"
        )
    return Reading(
        address=info.address,
        value=units.to_inside(value, unit, meaning.atmospheric),
        sigma=None if sigma is None else units.spread_to_inside(sigma, unit),
        start=start,
        end=end,
        unit=unit,
        given=value,
        source=cells.word("source", row["source"]),
        note=cells.word("note", row["note"]),
    )


def _address(address: str, known: Mapping[str, AddressInfo]) -> AddressInfo:
    info = known.get(address)
    if info is None:
        told = UnknownName("address", address, (name for name, i in known.items() if i.readable))
        todo = told.todo or "`ratoon addresses` lists them"
        raise CellRefused("address", address, f"unknown address. {todo}")
    if not info.readable:
        raise CellRefused("address", address, "is computed from other readings, never read itself")
    return info


def _unit(cell: Cell, info: AddressInfo) -> str:
    text = cells.word("unit", cell, needed=info.unit != "")
    shown = ", ".join(name or "(empty)" for name in info.accepted_units()[:8])
    try:
        unit = units.find_unit(text).name
    except BadInput as error:
        # What this quantity may be given in helps more than units that are spelt alike.
        todo = f". {error.todo}" if error.todo.startswith("Write") else ""
        raise CellRefused(
            "unit", text, f"{error.what}; allowed: {error.allowed or shown}{todo}"
        ) from None
    if not info.takes(unit):
        raise CellRefused(
            "unit", text, f"does not fit {info.address} ({info.dimension}); allowed: {shown}"
        )
    return unit


def _limits(
    value: float,
    unit: str,
    info: AddressInfo,
    start: datetime,
    end: datetime | None,
    atmospheric: float,
) -> None:
    """Refuse a value that the quantity cannot have.

    A total beside limits of a mean is compared as the mean over its whole period; since the
    station may have run for less of it, only the high limit and the sign can be told, and the
    other way round only the low limit. No flow at all is a value like another.
    """
    given, own = units.dimension(unit), units.dimension(info.unit)
    if value == 0.0 and (info.level or given in _NEEDS_PERIOD):
        return
    inside = units.to_inside(value, unit, atmospheric)
    low, high = info.low, info.high
    if given != own:
        if end is None:
            return
        seconds = Period(start, end).seconds
        if units.MEAN_OF_TOTAL.get(given) == own:
            inside /= seconds
            low = None if low is None else min(low, 0.0)
        else:
            inside *= seconds
            high = None
    shown = units.from_inside(inside, info.unit, atmospheric)
    if (low is not None and shown < low) or (high is not None and shown > high):
        own_value = "" if unit == info.unit else f" (that is {shown:.6g} {info.unit})"
        raise CellRefused(
            "value",
            f"{value:g}",
            f"outside what {info.address} can be{own_value}; allowed: {_range(info)}",
        )


def _range(info: AddressInfo) -> str:
    low = "" if info.low is None else f"from {info.low:g} "
    high = "" if info.high is None else f"up to {info.high:g} "
    return f"{low}{high}{info.unit}".strip()


def _times(
    row: Mapping[str, Cell], calendar: Calendar, *, level: bool = False, needs_end: bool = False
) -> tuple[datetime, datetime | None]:
    """Start and end in UTC; a bare date is the whole mill day, an empty end an instant."""
    start = cells.instant("start", row["start"], calendar)
    end = cells.instant("end", row["end"], calendar)
    if start is None:
        raise CellRefused("start", "", "empty")
    if start.year < _EARLIEST:
        raise CellRefused("start", row["start"], f"before {_EARLIEST}")
    if not isinstance(start, datetime):
        return _whole_day(start, end, row, calendar, level)
    if level and end is not None:
        raise CellRefused("end", row["end"], "a level is read at an instant: leave the end empty")
    if end is None:
        if needs_end:
            raise CellRefused("end", "", "empty; a stop ends some time")
        return start, None
    if not isinstance(end, datetime):
        raise CellRefused("end", row["end"], "a bare date after a time: write the time as well")
    if end <= start:
        raise CellRefused("end", row["end"], "not after the start")
    if end - start > _LONGEST:
        raise CellRefused("end", row["end"], "more than a year after the start")
    return start, end


def _whole_day(
    day: date, end: object, row: Mapping[str, Cell], calendar: Calendar, level: bool
) -> tuple[datetime, datetime]:
    if end is not None:
        raise CellRefused(
            "end", row["end"], "a bare date is the whole mill day: leave the end empty"
        )
    period = calendar.period(day)
    if level:
        closing = calendar.to_local(period.end).strftime("%Y-%m-%dT%H:%M")
        raise CellRefused(
            "start",
            day,
            f"a level is read at an instant: write the time, such as {closing} for this day's end",
        )
    return period.start, period.end


def _stop(row: Mapping[str, Cell], meaning: Meaning) -> Stop:
    start, end = _times(row, meaning.calendar, needs_end=True)
    station = cells.word("station", row["station"], needed=True)
    if meaning.stations is not None and station not in meaning.stations:
        told = UnknownName("station", station, meaning.stations)
        allowed = told.todo or "allowed: " + ", ".join(sorted(meaning.stations)[:12])
        raise CellRefused("station", station, f"unknown station. {allowed}")
    cause = cells.word("cause", row["cause"], needed=True)
    if end is None:
        raise CellRefused("end", "", "empty; a stop ends some time")
    return Stop(start, end, station, cause, cells.word("note", row["note"]))
