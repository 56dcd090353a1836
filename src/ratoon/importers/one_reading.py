"""One reading out of its cells: address, times, unit, value and sigma, each checked.

Every layout that holds readings ends here, so a value is judged the same way however it came.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period, Reading
from ratoon.importers import cells
from ratoon.importers.plausible import limits_of
from ratoon.importers.records import Cell, CellRefused

_LONGEST = timedelta(days=366)
LEAST_SHARE = 1e-6
"""A sigma is no smaller a share of its value, and no larger a multiple than the inverse."""
_NEEDS_PERIOD = {*units.MEAN_OF_TOTAL, *units.MEAN_OF_TOTAL.values(), "time"}


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a row needs to be understood: addresses, clock, the air's pressure [Pa]."""

    known: Mapping[str, AddressInfo]
    calendar: Calendar
    atmospheric: float = units.STANDARD_ATMOSPHERE


@dataclass(frozen=True, slots=True)
class Given:
    """The cells of one reading: value, unit and sigma, and the headings they stand under."""

    value: Cell
    unit: Cell
    sigma: Cell = None
    column: str = "value"
    unit_column: str = "unit"


def make_reading(
    info: AddressInfo,
    times: tuple[datetime, datetime | None],
    given: Given,
    mark: str,
    meaning: Meaning,
    words: tuple[str, str],
) -> Reading:
    """A reading of one quantity.

    Parameters
    ----------
    times : start and end in UTC; no end for an instant.
    given : its cells. mark : the decimal mark of a text file. words : source and note.

    Raises
    ------
    CellRefused : the first cell that is not what it should be.
    """
    start, end = times
    value = cells.number(given.column, given.value, mark)
    if value is None:
        raise CellRefused(given.column, "", "empty; leave the row out when nothing was read")
    unit = unit_of(given.unit, info, given.unit_column)
    at_once = info.level or _held(info)
    if end is None and not at_once and units.dimension(unit) in _NEEDS_PERIOD:
        raise CellRefused("end", "", f"empty, but {unit} is read over a period: give its end")
    _limits(value, unit, info, (start, end), meaning.atmospheric, given.column)
    sigma = cells.number("sigma", given.sigma, mark)
    if sigma is not None and sigma <= 0.0:
        raise CellRefused(
            "sigma", given.sigma, "must be above zero; leave it empty for the one in mill.toml"
        )
    if sigma is not None:
        _likely(sigma, value, given.sigma)
    return Reading(
        address=info.address,
        value=units.to_inside(value, unit, meaning.atmospheric),
        sigma=None if sigma is None else units.spread_to_inside(sigma, unit),
        start=start,
        end=end,
        unit=unit,
        given=value,
        source=words[0],
        note=words[1],
    )


def _held(info: AddressInfo) -> bool:
    """Whether it is what a store holds: an amount, but surveyed at an instant or on a day."""
    return info.kind == "assumed" and info.dimension in units.MEAN_OF_TOTAL


def _likely(sigma: float, value: float, shown: Cell) -> None:
    """Refuse a sigma that no instrument has: the account could not be solved with it."""
    size = abs(value) or 1.0
    low, high = size * LEAST_SHARE, max(size, 1.0) / LEAST_SHARE
    if not low <= sigma <= high:
        allowed = f"{low:.3g} to {high:.3g}, or empty for the one in mill.toml"
        why = f"no instrument's, beside a value of {value:g}; allowed: {allowed}"
        raise CellRefused("sigma", shown, why)


def address_of(address: str, known: Mapping[str, AddressInfo]) -> AddressInfo:
    info = known.get(address)
    if info is None:
        unknown = UnknownName("address", address, (name for name, i in known.items() if i.readable))
        todo = unknown.todo or "`ratoon addresses` lists them"
        raise CellRefused("address", address, f"unknown address. {todo}")
    if not info.readable:
        raise CellRefused("address", address, "is computed from other readings, never read itself")
    return info


def unit_of(cell: Cell, info: AddressInfo, column: str = "unit") -> str:
    text = cells.word(column, cell, needed=info.unit != "")
    shown = ", ".join(name or "(empty)" for name in info.accepted_units()[:8])
    try:
        unit = units.find_unit(text).name
    except BadInput as error:
        # What this quantity may be given in helps more than units that are spelt alike.
        todo = f". {error.todo}" if error.todo.startswith("Write") else ""
        raise CellRefused(
            column, text, f"{error.what}; allowed: {error.allowed or shown}{todo}"
        ) from None
    if not info.takes(unit):
        raise CellRefused(
            column, text, f"does not fit {info.address} ({info.dimension}); allowed: {shown}"
        )
    return unit


def _limits(
    value: float,
    unit: str,
    info: AddressInfo,
    times: tuple[datetime, datetime | None],
    atmospheric: float,
    column: str,
) -> None:
    """Refuse a value that the quantity cannot have.

    A total beside limits of a mean is compared as the mean over its whole period; since the
    station may have run for less of it, only the high limit and the sign can be told, and the
    other way round only the low limit. No flow at all is a value like another.
    """
    start, end = times
    given, own = units.dimension(unit), units.dimension(info.unit)
    if value == 0.0 and (info.level or given in _NEEDS_PERIOD):
        return
    inside = units.to_inside(value, unit, atmospheric)
    low, high = limits_of(info)
    allowed = _range(low, high, info.unit)
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
            column,
            f"{value:g}",
            f"outside what {info.address} can be{own_value}; allowed: {allowed}",
        )


def _range(low: float | None, high: float | None, unit: str) -> str:
    least = "" if low is None else f"from {low:g} "
    most = "" if high is None else f"up to {high:g} "
    return f"{least}{most}{unit}".strip()


def times_of(
    row: Mapping[str, Cell], calendar: Calendar, *, level: bool = False, needs_end: bool = False
) -> tuple[datetime, datetime | None]:
    """Start and end in UTC; a bare date is the whole mill day, an empty end an instant."""
    start = cells.instant("start", row["start"], calendar)
    end = cells.instant("end", row["end"], calendar)
    if start is None:
        raise CellRefused("start", "", "empty")
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
