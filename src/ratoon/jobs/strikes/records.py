"""Strikes of the records put together again: those of a mill day, and one with its trace."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base import units
from ratoon.base.errors import UnknownName
from ratoon.base.records import Period
from ratoon.base.strikes import StrikeFigure, StrikeRow, strike_figure, usual_unit
from ratoon.jobs.strike_season import FalseGrain, kept_fit, said_of, season_of
from ratoon.jobs.strikes.rows import (
    BEFORE,
    MADE,
    NEAR_EDGE,
    STRIKE,
    TRACE,
    boiled_rows,
    rows_in,
    traces_in,
)
from ratoon.plant.pan.constants import Constant
from ratoon.plant.pan.expected import expected
from ratoon.plant.pan.followed import TracePoint, followed
from ratoon.plant.pan.records import Status, StrikeRecord, figures_of, in_pans, strikes_of
from ratoon.store.cane import kept as cane

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

TELLING = (*MADE, "nutsch", "sieve", "slide")
"""Events that the list of a day tells."""
SECOND = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class StrikeLine:
    """A strike as the list of a day shows it; times ISO with the mill's offset."""

    id: str
    pan: str
    grade: str
    start: str
    drop: str | None
    status: Status
    volume: StrikeFigure | None
    brix: StrikeFigure | None
    purity: StrikeFigure | None
    crystal: StrikeFigure | None
    ma: StrikeFigure | None
    cv: StrikeFigure | None
    fines: StrikeFigure | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimeTold:
    """A moment, ISO with the mill's offset, and its standard uncertainty [h]."""

    value: str
    sigma: float
    unit: str = "h"
    kind: str = "found"


@dataclass(frozen=True, slots=True)
class ExpectedDrop:
    """What a strike that still boils is to be dropped at."""

    time: TimeTold
    brix: StrikeFigure | None
    ma: StrikeFigure | None
    cv: StrikeFigure | None
    purity: StrikeFigure | None


@dataclass(frozen=True, slots=True)
class StrikeDetail(StrikeLine):
    """A strike with what was followed of it, its grade's constants, and what is to be said."""

    trace: tuple[TracePoint, ...] = ()
    fit: Mapping[str, Constant] = field(default_factory=dict)
    expected_drop: ExpectedDrop | None = None
    false_grain: FalseGrain | None = None


def usual_of(mill: Mill, grade: str, name: str, value: float) -> float | None:
    """Standard uncertainty that the mill file states for a grade's figure, inside units."""
    setting = mill.settings.readings.get(f"pan.{grade}.{name}")
    if setting is None:
        return None
    if setting.relative is not None:
        return setting.relative * abs(value)
    if setting.sigma is None:
        return None
    return units.spread_to_inside(setting.sigma, usual_unit(name.rpartition(".")[2]))


def line_of(mill: Mill, s: StrikeRecord) -> StrikeLine:
    """A strike with its figures, and what is to be said of it."""
    f = figures_of(s, lambda grade, name, value: usual_of(mill, grade, name, value))

    return StrikeLine(
        s.id, s.pan, s.grade, _when(mill, s.start), _when(mill, s.drop) if s.drop else None,
        s.status,
        f.volume, f.brix, f.purity, f.crystal, f.ma, f.cv, f.fines,
        (*s.contradictions, *s.remarks, *f.remarks),
    )  # fmt: skip


def _when(mill: Mill, at: datetime) -> str:
    return mill.calendar.to_local(at).isoformat(timespec="minutes")


def strikes_in(opened: OpenMill, period: Period) -> tuple[list[StrikeRecord], datetime]:
    """Strikes that boiled at any time of a period, and the last moment of it that is on record.

    Traces are with them as far as they tell what the pans held then.
    """
    ask = opened.store.ask
    rows = boiled_rows(ask(rows_in, Period(period.start - BEFORE, period.end + BEFORE), None,
                           TELLING), period.start)  # fmt: skip
    newest = ask(cane.newest, TRACE)
    at = min(max([r.time for r in rows] + ([newest] if newest else []), default=period.end),
             period.end)  # fmt: skip
    traces = ask(traces_in, Period(at - NEAR_EDGE, at + SECOND)) if rows else ()
    found = [s for s in strikes_of(rows, traces)
             if s.start < period.end and (s.drop or s.seen) >= period.start]  # fmt: skip
    return found, at


@dataclass(frozen=True, slots=True)
class FloorDay:
    """The strikes of a mill day by their start; what the pans of each grade hold at its end.

    `at` is that end, or the last moment on record of a day that is not over.
    """

    strikes: tuple[StrikeLine, ...]
    held: Mapping[str, StrikeFigure]
    at: str


def floor_of_day(opened: OpenMill, day: date) -> FloorDay:
    """The pan floor of a mill day."""
    mill = opened.mill_on(day)
    found, at = strikes_in(opened, mill.calendar.period(day))
    held = in_pans(found, at)
    return FloorDay(
        tuple(line_of(mill, s) for s in found),
        {g: strike_figure("volume", *held[g], "found") for g in mill.settings.pans if g in held},
        _when(mill, at),
    )  # fmt: skip


def strikes_of_day(opened: OpenMill, day: date) -> tuple[StrikeLine, ...]:
    """The strikes of a mill day, by their start."""
    return floor_of_day(opened, day).strikes


def rows_of(opened: OpenMill, name: str) -> list[StrikeRow]:
    """What was written down of one strike, in order of time."""
    return sorted(opened.store.ask(rows_in, None, name), key=lambda r: r.time)


def strike_record(opened: OpenMill, name: str) -> StrikeRecord:
    """One strike with its trace, and with what it contradicts among its neighbours.

    Raises
    ------
    UnknownName : no such strike.
    """
    rows = opened.store.ask(rows_in, None, name)
    if not rows:
        known = sorted({key.split(" ")[0] for key in opened.store.ask(cane.keys_of, STRIKE, "")})
        raise UnknownName("strike", name, known)
    first, last = min(r.time for r in rows), max(r.time for r in rows)
    near = Period(first - BEFORE, last + BEFORE)
    boiled = boiled_rows(opened.store.ask(rows_in, near, None, MADE), first)
    boiled = [r for r in boiled if r.strike != name]
    traced = opened.store.ask(traces_in, Period(first, last + BEFORE), [name])
    return next(s for s in strikes_of([*rows, *boiled], traced) if s.id == name)


def strike_of(opened: OpenMill, name: str) -> StrikeDetail:
    """One strike: its figures, and what each moment of its trace tells."""
    s = strike_record(opened, name)
    mill = opened.mill_on(opened.mill.calendar.day_of(s.start))
    line = line_of(mill, s)
    own = {f.name: getattr(line, f.name) for f in fields(line)}
    pan = mill.settings.pans.get(s.grade)
    trace = followed(s, pan.dry_on_brix, lambda at: _when(mill, at)) if pan else ()
    said, drop = said_of(opened, s), None
    if s.status == "running" and (e := expected(s, season_of(opened, s.seen, s.grade))):
        time = TimeTold(_when(mill, e.at), e.sigma.total_seconds() / 3600.0)
        drop = ExpectedDrop(time, e.brix, e.ma, e.cv, e.purity)
    own["notes"] = (*line.notes, *said.notes)
    return StrikeDetail(**own, trace=trace, fit=kept_fit(opened, s.grade) or {},
                        expected_drop=drop, false_grain=said.false_grain)  # fmt: skip
