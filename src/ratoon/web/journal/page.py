"""Journal: the day's stops, lost time by cause, notes of the shifts and the handover."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any, cast

from ratoon.account.results.day import StopResult
from ratoon.base.records import Stop, main_cause
from ratoon.jobs.files.stops import known_stations, station_key
from ratoon.jobs.handover import Handover
from ratoon.jobs.sheet.actions import JobRecord
from ratoon.reports.compose import day_in_words
from ratoon.reports.doubts import ribbon_of
from ratoon.reports.morning import Ribbon
from ratoon.reports.numbers import duration
from ratoon.web.days import DayPlace
from ratoon.web.journal.lost_time import (
    LOOKING_BACK,
    CauseRow,
    EquipmentRow,
    cause_rows,
    equipment_rows,
)

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.sheet.history import DayFacts
    from ratoon.store import Note, Version


@dataclass(frozen=True, slots=True)
class StopVersion:
    """A stop as it was entered once."""

    end: str
    cause: str
    note: str
    entered: str
    who: str
    reason: str


@dataclass(frozen=True, slots=True)
class StopRow:
    """A stop in force, and what stood before it."""

    key: str
    start: str
    end: str  # empty while it is running
    station: str
    cause: str
    main: str
    equipment: str
    fault: str
    note: str
    length: str
    running: bool
    withdrawn: bool
    entered: str
    who: str
    reason: str
    before: tuple[StopVersion, ...]
    number: int


@dataclass(frozen=True, slots=True)
class NoteRow:
    """A note in force, and what stood before it."""

    number: int
    kind: str
    shift: str
    station: str
    text: str
    who: str
    entered: str
    reason: str
    before: tuple[tuple[str, str, str], ...]  # text, who, entered


@dataclass(frozen=True, slots=True)
class ShiftPart:
    """A shift with its notes."""

    name: str
    start: str
    end: str
    notes: tuple[NoteRow, ...]


@dataclass(frozen=True, slots=True)
class JournalPage:
    """The journal of a mill day."""

    place: DayPlace
    title: str
    mill_name: str
    line: str
    refused: tuple[str, ...]
    asked: tuple[str, ...]
    told: tuple[str, ...]
    start: str
    end: str
    ribbon: Ribbon
    handovers: tuple[Handover, ...]
    jobs: tuple[JobRecord, ...]
    stops: tuple[StopRow, ...]
    causes: tuple[CauseRow, ...]
    looking_back: int
    equipment: tuple[EquipmentRow, ...]
    ran: str
    shifts: tuple[ShiftPart, ...]
    stations: tuple[str, ...]
    known_causes: tuple[str, ...]
    known_equipment: tuple[str, ...]
    typed: Mapping[str, str]
    accounted: bool
    clocks_back: str
    """How a time is written on a day on which the clocks are put back; empty on any other."""


def key_of(start: datetime, station: str) -> str:
    """How a stop is named in an address: its start in UTC and its station."""
    return f"{start:%Y%m%dT%H%M%S}-{station}"


def _stop_rows(mill: Mill, versions: Sequence[Version]) -> tuple[StopRow, ...]:
    local, written = mill.calendar.to_local, mill.calendar.written
    by_key: dict[tuple[Any, str], list[Version]] = {}
    for v in versions:
        assert isinstance(v.record, Stop)
        by_key.setdefault((v.record.start, v.record.station), []).append(v)
    rows = []
    for (start, station), listed in by_key.items():
        now = next((v for v in listed if v.in_force), listed[-1])
        stop = cast(Stop, now.record)
        before = tuple(
            StopVersion(_end(mill, cast(Stop, v.record)), cast(Stop, v.record).cause,
                        v.record.note, f"{local(v.entered):%Y-%m-%d %H:%M}", v.who, v.reason)
            for v in listed if v is not now
        )  # fmt: skip
        rows.append(StopRow(
            key_of(start, station), written(start), _end(mill, stop), station, stop.cause,
            *stop.parts, stop.note, "running" if stop.running else duration(stop.hours),
            stop.running, stop.end <= stop.start,
            f"{local(now.entered):%Y-%m-%d %H:%M}", now.who, now.reason, before, now.number,
        ))  # fmt: skip
    return tuple(rows)


def _end(mill: Mill, stop: Stop) -> str:
    return "" if stop.running else mill.calendar.written(stop.end)


def _ribbon(mill: Mill, day: date, stops: Sequence[StopRow]) -> Ribbon:
    """The day ribbon from the stops as they stand now, accounted or not."""
    period = mill.calendar.period(day)
    local = mill.calendar.to_local
    now = datetime.now(UTC)
    until = now if now > period.start else period.end
    parts = []
    for s in stops:
        if s.withdrawn or station_key(s.station) not in ("mills", ""):
            continue
        begin = max(mill.calendar.read(s.start), period.start)
        end = min(until if s.running else mill.calendar.read(s.end), period.end)
        if end > begin:
            hours = (end - begin).total_seconds() / 3600.0
            parts.append(StopResult(local(begin).isoformat(), local(end).isoformat(), s.station,
                                    s.cause, s.note, hours))  # fmt: skip
    drawn = ribbon_of(local(period.start), period.hours, parts, True)
    if not period.start < now < period.end:
        return drawn
    return replace(drawn, reached=(now - period.start).total_seconds() / 3600.0)


def _notes(mill: Mill, day: date, notes: Sequence[Note]) -> tuple[ShiftPart, ...]:
    local = mill.calendar.to_local
    by_number = {n.number: n for n in notes}
    parts = []
    for shift, period in mill.calendar.shift_periods(day):
        rows = []
        for n in notes:
            if not n.in_force or not period.start <= n.start < period.end:
                continue
            before, older = [], n.replaces
            while older is not None and older in by_number:
                old = by_number[older]
                at = f"{local(old.entered):%Y-%m-%d %H:%M}" if old.entered else ""
                before.append((old.text, old.who, at))
                older = old.replaces
            at = f"{local(n.entered):%Y-%m-%d %H:%M}" if n.entered else ""
            rows.append(NoteRow(n.number, n.kind, shift.name, n.station, n.text, n.who, at,
                                n.reason, tuple(before)))  # fmt: skip
        parts.append(ShiftPart(shift.name, mill.calendar.written(period.start),
                               mill.calendar.written(period.end), tuple(rows)))  # fmt: skip
    return tuple(parts)


def _clocks_back(mill: Mill, day: date) -> str:
    calendar, period = mill.calendar, mill.calendar.period(day)
    at = period.start
    while at < period.end:
        written = calendar.written(at)
        if written[16:]:  # an offset: this time comes twice
            return ("The clocks are put back this day: a time that comes twice is written with its "
                    f"offset, such as {written} for the first {written[11:16]}.")  # fmt: skip
        at += timedelta(minutes=30)
    return ""


def journal_page(
    mill: Mill,
    days: Mapping[str, DayFacts],
    place: DayPlace,
    stops: Sequence[Version],
    notes: Sequence[Note],
    season: Sequence[Stop],
    handed: Sequence[Handover],
    jobs: Sequence[JobRecord],
    line: str = "",
    refused: Sequence[str] = (),
    typed: Mapping[str, str] | None = None,
    asked: Sequence[str] = (),
) -> JournalPage:
    """The page.

    Parameters
    ----------
    season : its stops to the day's end. handed : what its shifts were handed.
    typed : what stands in the form when some of it was refused or is asked.
    """
    day = date.fromisoformat(place.date)
    period = mill.calendar.period(day)
    rows = _stop_rows(mill, stops)
    ribbon = _ribbon(mill, day, rows)
    back = (day - timedelta(days=120)).isoformat()
    known = {main_cause(s.cause) for d, f in days.items() if d >= back for s in f.result.stops}
    seen = {s.station for d, f in days.items() if d >= back for s in f.result.stops}
    equipment, ran = equipment_rows(mill, days, day, ribbon, season)
    return JournalPage(
        place=place,
        title=day_in_words(place.date),
        mill_name=mill.name,
        line=line,
        refused=tuple(refused),
        asked=tuple(asked),
        told=(),
        start=mill.calendar.written(period.start),
        end=mill.calendar.written(period.end),
        ribbon=ribbon,
        stops=rows,
        handovers=tuple(handed),
        jobs=tuple(j for j in jobs if j.state == "open" or j.done == place.date),
        causes=cause_rows(ribbon, days, place.date),
        looking_back=LOOKING_BACK,
        equipment=equipment,
        ran=ran,
        shifts=_notes(mill, day, notes),
        stations=known_stations(mill, seen),
        known_causes=tuple(sorted(known)),
        known_equipment=tuple(sorted({s.parts[1] for s in season if s.parts[1]})),
        typed=dict(typed or {}),
        clocks_back=_clocks_back(mill, day),
        accounted=place.date in days,
    )
