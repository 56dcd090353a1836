"""Does a chart find a small lasting bias, and does it keep quiet without one? Simulated seasons.

True days of the invented mill are drawn with every assumption about its value. Each is reconciled
once; a day of a season is one of them with fresh reading errors put on by the linear statistics of
its own operating point, or reconciled anew with these readings (`real`). Lasting errors of the
instruments are drawn once a season.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import Gathered
from ratoon.account.trust.cusum import CHARTED, Charts, run_charts
from ratoon.account.trust.points import Directions, Point, day_points, directions, points_of
from ratoon.base import units
from ratoon.base.records import Reading, Stop
from ratoon.demo import measure
from ratoon.demo.hours import TruePlant
from ratoon.demo.random_days import random_day

Floats = NDArray[np.float64]
FIRST = date(2031, 1, 1)
SEASON = 180
LEARNED, LASTS = 42, 14  # days before a bias may begin; days that it lasts
CHECKED = 0.5  # detectability from which a bias is asked to be found
SIZE = 1.2  # bias times detectability, in random standard uncertainties


@dataclass
class OperatingPoint:
    """A true day: its faultless readings gathered, reconciled once."""

    gathered: Gathered
    readings: list[Reading]
    found: Directions
    points: list[Point]


@dataclass(frozen=True)
class Bias:
    """A bias of `size` standard uncertainties from day `begin` on, `days` long.

    lasting : in the stated common standard uncertainty of the reading in place of the random one.
    """

    address: str
    size: float
    begin: int = 0
    days: int = SEASON
    lasting: bool = False


def operating_points(mill: Mill, seed: int, number: int) -> list[OperatingPoint]:
    """True days, each with its faultless readings through the real reconciliation."""
    plant, rng = TruePlant(mill.settings), np.random.default_rng([seed, 1])
    out = []
    for _ in range(number):
        day = random_day(rng, plant)
        period = mill.calendar.period(day.date)
        rows, still = [], {measure.instrument_of(a, s): 0.0
                           for a, s in mill.settings.readings.items()}  # fmt: skip
        for address, setting in mill.settings.readings.items():
            for at, levels in ((period.start, day.opening), (period.end, day.closing)):
                if address.startswith("stock."):
                    when = mill.calendar.to_local(at).strftime("%Y-%m-%dT%H:%M")
                    true: float | None = _level(mill, address, levels)
                else:
                    when, true = day.date.isoformat(), measure.true_reading(mill, day, address)
                if true is not None and (address.startswith("stock.") or at == period.start):
                    rows.append(measure.row_of(mill, address, when, true, still, 0.0, setting))
        stood = timedelta(seconds=day.period - day.crushing)
        stop = Stop(period.start, period.start + stood, "mills", "other")
        gathered = gather(mill, period, [measure.as_reading(mill, r) for r in rows], [stop])
        done = account(mill, gathered)
        assert done.answer is not None
        readings, found = list(done.answer.problem.readings), directions(done)
        out.append(OperatingPoint(gathered, readings, found, points_of(mill, readings, found)))
    return out


def _level(mill: Mill, address: str, levels: Mapping[str, float]) -> float:
    return units.from_inside(levels[address.removeprefix("stock.")], mill.addresses[address].unit)


def errors(point: OperatingPoint, lasting: dict[str, float], rng: np.random.Generator) -> Floats:
    """A day's errors of the readings, by what the mill file states; assumptions keep their own."""
    out = np.zeros(len(point.readings))
    noise = rng.standard_normal(len(out))
    for i, r in enumerate(point.readings):
        if r.kind != "measured":
            continue
        key = r.instrument or r.address
        if key not in lasting:
            lasting[key] = float(rng.standard_normal())
        out[i] = float(r.sigma or 0.0) * noise[i] + r.common * lasting[key]
    return out


def season(
    mill: Mill,
    pool: list[OperatingPoint],
    rng: np.random.Generator,
    bias: Bias | None = None,
    days: int = SEASON,
    real: bool = False,
    only: frozenset[str] | None = None,
) -> Charts:
    """The charts of one simulated season; `only` some of them, with the limit of all."""
    lasting: dict[str, float] = {}
    series = []
    for n in range(days):
        point = pool[int(rng.integers(len(pool)))]
        off = errors(point, lasting, rng)
        if bias is not None and bias.begin <= n < bias.begin + bias.days:
            for i, r in enumerate(point.readings):
                if r.address == bias.address:
                    off[i] += bias.size * (r.common if bias.lasting else float(r.sigma or 0.0))
        made = through_account(mill, point, off) if real else through_lines(point, off)
        series.append((FIRST + timedelta(days=n), made))
    number = None
    if only is not None:
        number = charted(pool)
        series = [(d, [p for p in points if p.address in only]) for d, points in series]
    return run_charts(series, number=number)


def charted(pool: list[OperatingPoint]) -> int:
    """How many charts a season of these days has."""
    seen: dict[str, list[float]] = {}
    for point in pool:
        for p in point.points:
            seen.setdefault(p.address, []).append(p.detectability)
    return sum(len(v) > len(pool) // 2 and float(np.median(v)) >= CHARTED for v in seen.values())


def through_lines(point: OperatingPoint, off: Floats) -> list[Point]:
    """A day's points by the linear statistics of its operating point."""
    moved = point.found.weights @ off
    scales = (fact[3] for fact in point.found.facts)
    return [replace(p, size=p.size + float(m) / scale)
            for p, m, scale in zip(point.points, moved, scales)]  # fmt: skip


def through_account(mill: Mill, point: OperatingPoint, off: Floats) -> list[Point]:
    """A day's points by reconciling its readings with their errors."""
    changed = {r.address: r.value + float(e) for r, e in zip(point.readings, off)}
    readings = [replace(r, value=changed.get(r.address, r.value)) for r in point.gathered.readings]
    done: PeriodAccount = account(mill, replace(point.gathered, readings=readings))
    return day_points(done)


def checked_readings(pool: list[OperatingPoint]) -> dict[str, float]:
    """Readings that others check on most days, with their usual detectability."""
    seen: dict[str, list[float]] = {}
    for point in pool:
        for address, stated, checked, _ in point.found.facts:
            if stated:
                seen.setdefault(address, []).append(checked)
    usual = {a: float(np.median(v)) for a, v in seen.items() if len(v) > len(pool) // 2}
    return {a: d for a, d in usual.items() if d >= CHECKED}


def share_found(
    mill: Mill, pool: list[OperatingPoint], seed: int, cases: Iterable[int], real: bool = False
) -> dict[int, bool]:
    """Whether the bias of each numbered case was found while it lasted.

    Found: an alarm of that fortnight holds the reading, by its own chart or by one that moves
    with it (`Alarm.addresses`, or the day's points that say they are alike).

    The readings take turns; the bias begins on any day of a season but its first six weeks.
    """
    readings = sorted(checked_readings(pool).items())
    found = {}
    for number in cases:
        rng = np.random.default_rng([seed, 2, number])
        address, checked = readings[number % len(readings)]
        begin = int(rng.integers(LEARNED, SEASON - LASTS))
        way = 1 if rng.integers(2) else -1
        bias = Bias(address, way * SIZE / checked, begin, LASTS)
        alike = {a for point in pool for p in point.points if p.address == address for a in p.alike}
        only = frozenset({address, *alike})
        charts = season(mill, pool, rng, bias, begin + LASTS, real, only)
        since = FIRST + timedelta(days=begin)
        found[number] = any(c.day >= since and (c.way == way or c.address != address)
                            for a in alike | {address} if a in charts.charts
                            for c in charts.charts[a].crossings)  # fmt: skip
    return found


def false_alarms(mill: Mill, pool: list[OperatingPoint], seed: int, cases: Iterable[int]) -> float:
    """Alarms in 30 days over all charts, in seasons whose errors are as stated."""
    counts = [len(season(mill, pool, np.random.default_rng([seed, 3, n])).alarms) for n in cases]
    return float(np.mean(counts)) * 30.0 / SEASON
