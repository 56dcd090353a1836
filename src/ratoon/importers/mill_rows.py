"""Rows as mills keep them: a shift's figure, a tank's level at the stock-take, hours lost.

Each becomes a reading of its own, so the row can be found again behind every figure made from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from ratoon.base.addresses import AddressInfo, word_of
from ratoon.base.errors import nearest_names
from ratoon.base.records import Period, Reading
from ratoon.importers import cells
from ratoon.importers.one_reading import Given, Meaning, address_of, make_reading
from ratoon.importers.records import Cell, CellRefused

TANK, LEVEL, LOST = "tank.", ".level", "lost_time."


def shift_figure(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> Reading:
    """A figure of one shift; the day's figure is made from its shifts by the account."""
    info = address_of(cells.word("address", row["address"], needed=True), meaning.known)
    if info.level:
        raise CellRefused(
            "address", info.address, "a level is read at an instant: use the layout readings"
        )
    shift = shift_of(row["day"], row["shift"], meaning)
    words = cells.word("source", row["source"]), cells.word("note", row["note"])
    given = Given(row["value"], row["unit"], row["sigma"])
    return make_reading(info, (shift.start, shift.end), given, mark, meaning, words)


def shift_of(
    day: Cell, name: Cell, meaning: Meaning, column: str = "shift", day_column: str = "day"
) -> Period:
    """The period of a shift of a mill day, by the names of shifts in the mill file.

    Raises
    ------
    CellRefused : no bare date, no such shift, or a mill file that names no shifts.
    """
    wanted = cells.word(column, name, needed=True)
    found = cells.instant(day_column, day, meaning.calendar)
    if found is None:
        raise CellRefused(day_column, "", "empty")
    if isinstance(found, datetime) or not isinstance(found, date):
        raise CellRefused(
            day_column, day, "a time; a shift goes with the bare date of its mill day"
        )
    shifts = {s.name.lower(): p for s, p in meaning.calendar.shift_periods(found)}
    if not shifts:
        raise CellRefused(
            column, wanted, "mill.toml names no shifts: add them under [mill], as shifts"
        )
    if wanted.lower() not in shifts:
        near = nearest_names(wanted.lower(), shifts, 1)
        hint = f"did you mean {near[0]}? " if near else ""
        raise CellRefused(column, wanted, f"unknown shift; {hint}allowed: {', '.join(shifts)}")
    return shifts[wanted.lower()]


def tank_level(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> Reading:
    """The level of one tank at the stock-take; its calibration table stands in the mill file."""
    name = cells.word("tank", row["tank"], needed=True)
    info = _of_ours(TANK, word_of(name), LEVEL, "tank", meaning)
    at = cells.instant("time", row["time"], meaning.calendar)
    if at is None:
        raise CellRefused("time", "", "empty")
    if not isinstance(at, datetime):
        raise CellRefused("time", row["time"], "a bare date: a level is read at a time of day")
    words = cells.word("source", row["source"]), cells.word("note", row["note"])
    given = Given(row["level"], row["unit"], None, "level")
    return make_reading(info, (at, None), given, mark, meaning, words)


def lost_hours(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> Reading:
    """Crushing hours lost to one cause in a day or a shift, where no clock times were kept."""
    cause = cells.word("cause", row["cause"], needed=True)
    info = _of_ours(LOST, word_of(cause), "", "cause", meaning)
    if cells.word("shift", row["shift"]):
        period = shift_of(row["day"], row["shift"], meaning)
    else:
        day = cells.instant("day", row["day"], meaning.calendar)
        if day is None or isinstance(day, datetime):
            raise CellRefused("day", row["day"], "write the bare date of the mill day")
        period = meaning.calendar.period(day)
    words = "", cells.word("note", row["note"])
    given = Given(row["hours"], "h", None, "hours")
    found = make_reading(info, (period.start, period.end), given, mark, meaning, words)
    if found.value > period.seconds:
        raise CellRefused("hours", row["hours"], f"more than the {period.hours:g} h of its period")
    return found


def _of_ours(first: str, name: str, last: str, column: str, meaning: Meaning) -> AddressInfo:
    """What is known of a tank's level or of a cause, by its name in the mill file."""
    info = meaning.known.get(f"{first}{name}{last}")
    if info is not None:
        return info
    ours = [
        a.removeprefix(first).removesuffix(last)
        for a in meaning.known
        if a.startswith(first) and a.endswith(last)
    ]
    if not ours:
        where = "[tanks]" if first == TANK else "lost_time_causes"
        raise CellRefused(column, name, f"mill.toml names none: add them under {where}")
    near = nearest_names(name, ours, 1)
    hint = f"did you mean {near[0]}? " if near else ""
    raise CellRefused(column, name, f"unknown {column}; {hint}allowed: {', '.join(ours[:20])}")
