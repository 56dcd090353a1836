"""What a season's forecast rests on: mill days, stops, rain, zones and the mill's own rules.

Rows come as dictionaries by the columns of the files (`ratoon import --layouts`), in trade units,
or as the records below; an empty cell is None or an empty text.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from datetime import date, datetime, time, timedelta
from functools import cached_property
from itertools import pairwise
from typing import Any, TypeVar

from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput
from ratoon.base.records import Stop, joined, kind_of_stop
from ratoon.base.season import HOURS, MillDay, ZoneRow
from ratoon.settings.season import PlannedStop, SeasonSettings

DAY = timedelta(days=1)
APART = timedelta(days=45)
"""Days without a record after which another season begins."""
SHORTEST = 60
"""Days on record below which a stretch tells nothing of a season."""
LONGEST = 300
"""Most days that a season's forecast looks ahead."""
T = TypeVar("T")


@dataclass(frozen=True)
class Rules:
    """The mill's own rules and prices for the season."""

    start: date
    latest: date
    season: SeasonSettings
    planned_stops: tuple[PlannedStop, ...] = ()
    sugar_price: float = 0.0
    cane_price: float = 0.0
    currency: str = "$"
    week_start: int = 0
    """Monday is 0."""
    lacking: tuple[str, ...] = ()


@dataclass(frozen=True)
class Given:
    """All that was known when the mill day `at` began.

    Parameters
    ----------
    days : mill days of earlier seasons and of this one before `at`, in order.
    stops : stops by the mill's own fault: start [days since year 1, local], hours.
    rain : mm by calendar day, as many years as are on record.
    zones : what was written of the zones up to `at`, in order.
    """

    at: date
    days: tuple[MillDay, ...]
    stops: tuple[tuple[float, float], ...]
    rain: Mapping[date, float]
    zones: tuple[ZoneRow, ...]
    rules: Rules
    hours_in_day: Mapping[date, float] = field(default_factory=dict)
    """Hours of those stops in each mill day."""

    @cached_property
    def seasons(self) -> list[list[MillDay]]:
        """Earlier seasons, oldest first, each a run of days; a few days alone are none."""
        made: list[list[MillDay]] = []
        for day in self.days:
            if day.date >= self.rules.start:
                break
            if not made or day.date - made[-1][-1].date > APART:
                made.append([])
            made[-1].append(day)
        return [one for one in made if len(one) >= SHORTEST]

    @cached_property
    def season(self) -> list[MillDay]:
        """This season's days so far."""
        return [d for d in self.days if d.date >= self.rules.start]

    def hours_run(self, day: MillDay) -> float:
        """Hours in which a mill day crushed [h]."""
        lost = sum(x or 0.0 for x in (day.planned, day.rain_lost, day.no_cane))
        return min(24.0, max(0.0, 24.0 - lost - self.hours_in_day.get(day.date, 0.0)))

    @property
    def horizon(self) -> int:
        """Days from `at` to the latest finish."""
        return min(LONGEST, max(0, (self.rules.latest - self.at).days + 1))


def given(
    days: Iterable[Any], stops: Iterable[Any], rain: Iterable[Any], zones: Iterable[Any],
    rules: Rules, at: date, day_start: time = time(6),
) -> Given:  # fmt: skip
    """Records of what a forecast rests on, from rows of the files; what is later than `at` is left.

    Raises
    ------
    BadInput : a row that cannot be: dates out of order or twice, an impossible value.
    """
    known = [d for d in _days(days) if d.date < at]
    gauge = {d.date: d.rain for d in known if d.rain is not None} | {
        day: mm for day, mm in _rain(rain) if day < at
    }
    told = sorted((_record(ZoneRow, z, "zones") for z in zones), key=lambda z: (z.as_of, z.zone))
    told = [checked_zone(z) for z in told if z.as_of <= at]
    all_stops = joined(_stop(s) for s in stops)
    own, hours, other = _by_day(all_stops, at, day_start)
    filled = tuple(_filled(d, other) for d in known)
    return Given(at, filled, own, gauge, tuple(told), rules, hours)


def _days(rows: Iterable[Any]) -> list[MillDay]:
    made = [checked_day(_record(MillDay, row, "days")) for row in rows]
    made.sort(key=lambda d: d.date)
    for one, after in pairwise(made):
        if one.date == after.date:
            raise BadInput("a mill day stands twice", where="days", value=one.date.isoformat())
    return made


def _filled(day: MillDay, other: Mapping[tuple[date, str], float]) -> MillDay:
    """A day whose lost hours were not written takes them from the stops of those causes."""
    from dataclasses import replace

    rain = other.get((day.date, "rain"), 0.0) if day.rain_lost is None else day.rain_lost
    wait = other.get((day.date, "no cane"), 0.0) if day.no_cane is None else day.no_cane
    plan = other.get((day.date, "planned"), 0.0) if day.planned is None else day.planned
    return replace(day, rain_lost=rain, no_cane=wait, planned=plan)


def checked_day(day: MillDay) -> MillDay:
    """The same, where it can be so."""
    for name, high, unit in MillDay.LIMITS:
        value = getattr(day, name)
        if value is not None and not 0.0 <= value <= high:
            raise BadInput(f"{name} cannot be", where=f"days: {day.date}", value=value,
                           allowed=f"0 to {high:g} {unit}")  # fmt: skip
    lost = sum(getattr(day, name) or 0.0 for name in HOURS)
    if lost > MillDay.LONGEST:
        raise BadInput("more hours lost than a day has", where=f"days: {day.date}", value=lost)
    return day


def checked_zone(zone: ZoneRow) -> ZoneRow:
    """The same, where it can be so."""
    column, why = zone.fault()
    if column:
        raise BadInput(f"{column} {why}", where=f"zones: {zone.zone} as of {zone.as_of}",
                       value=getattr(zone, column))  # fmt: skip
    return zone


def _rain(rows: Iterable[Any]) -> list[tuple[date, float]]:
    made = []
    for row in rows:
        day, mm = (row["date"], row["rain"]) if isinstance(row, Mapping) else row
        amount = _number(mm, "rain", f"rain: {day}")
        if amount is None:
            continue
        if not 0.0 <= amount <= 1000.0:
            raise BadInput("rain cannot be", where=f"rain: {day}", value=amount,
                           allowed="0 to 1000 mm")  # fmt: skip
        made.append((_date(day, "rain"), amount))
    return made


def _record(kind: type[T], row: Any, where: str) -> T:
    if isinstance(row, kind):
        return row
    if not isinstance(row, Mapping):
        raise BadInput("a row is a table of columns", where=where, value=row)
    made: dict[str, Any] = {}
    for f in fields(kind):  # type: ignore[arg-type]
        cell = row.get(f.name)
        if f.type == "date":
            made[f.name] = _date(cell, f"{where}: {f.name}")
        elif f.type == "str":
            made[f.name] = str(cell or "").strip()
        else:
            made[f.name] = _number(cell, f.name, where)
            if made[f.name] is None and "None" not in str(f.type):
                raise BadInput(f"{f.name} is empty", where=f"{where}: {dict(row)}")
    return kind(**made)


def _number(cell: Any, name: str, where: str) -> float | None:
    if cell is None or cell == "":
        return None
    try:
        value = float(cell)
    except (TypeError, ValueError):
        raise BadInput(f"{name} is no number", where=where, value=cell) from None
    if not math.isfinite(value):
        raise BadInput(f"{name} is not finite", where=where, value=cell)
    return value


def _date(cell: Any, where: str) -> date:
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    try:
        return parse_date(str(cell))
    except BadInput as error:
        raise BadInput(error.what, where=where, value=cell, allowed=error.allowed) from None


def _stop(row: Any) -> Stop:
    if isinstance(row, Stop):
        return row
    start, end = _moment(row["start"]), _moment(row["end"])
    if end < start:
        raise BadInput("a stop ends before it starts", where="stops", value=str(row["end"]))
    return Stop(start, end, str(row.get("station") or ""), str(row.get("cause") or ""))


def _moment(cell: Any) -> datetime:
    if isinstance(cell, datetime):
        return cell
    try:
        return datetime.fromisoformat(str(cell))
    except ValueError:
        raise BadInput("no such time", where="stops", value=cell,
                       allowed="YYYY-MM-DDTHH:MM") from None  # fmt: skip


def _by_day(
    stops: Iterable[Stop], at: date, day_start: time
) -> tuple[tuple[tuple[float, float], ...], dict[date, float], dict[tuple[date, str], float]]:
    """The mill's own stops, their hours in each mill day, and hours of other causes by day."""
    own: list[tuple[float, float]] = []
    hours: dict[date, float] = {}
    other: dict[tuple[date, str], float] = {}
    shift = timedelta(hours=day_start.hour, minutes=day_start.minute)
    for stop in stops:
        start, end = stop.start.replace(tzinfo=None) - shift, stop.end.replace(tzinfo=None) - shift
        if start.date() >= at:
            continue
        kind: str = kind_of_stop(stop.cause, stop.station)
        if kind == "no cane" and "rain" in stop.cause.lower():
            kind = "rain"
        if kind == "stop":
            own.append((start.toordinal() + (start.hour + start.minute / 60) / 24, stop.hours))
        while start < end:
            edge = min(end, datetime.combine(start.date() + DAY, time(0)))
            length = (edge - start).total_seconds() / 3600.0
            if kind == "stop":
                hours[start.date()] = hours.get(start.date(), 0.0) + length
            else:
                other[start.date(), kind] = other.get((start.date(), kind), 0.0) + length
            start = edge
    return tuple(own), hours, other
