"""A district with its mill: fields cut in an order, wet ground, weak fortnights, long repairs.

What differs from what a forecast would assume: ground is a bucket that drains faster in warm
months; a repair runs on by the clock, through wet hours too; three kinds of stop, none of them
memoryless; a weak fortnight is a drop that begins and ends, no wandering; CCS rises and falls by
other powers on either side of its peak; fields differ in yield and the order in which they are cut
is not chance; sugar comes a day after its cane.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np

from districts.climate import Climate, Rng, drawn, year_of_rain

EARLIER = 5
DECADES = 40
YEAR = 2031
LATEST = 33
"""Weeks after the start at which nobody crushes any more."""


@dataclass
class Laws:
    """What a district is, the same in all its seasons."""

    climate: Climate
    rate: float
    trend: float
    noise: float
    weak_every: float
    weak_drop: tuple[float, float]
    slow_share: float
    slow_rate: float
    gaps: tuple[float, float, float]
    shapes: tuple[float, float, float]
    repairs: tuple[float, float]
    long: tuple[float, float]
    ground: tuple[float, float, float, float]
    no_cane: tuple[float, float]
    planned: tuple[int, float]
    common: float
    own: float
    order: float
    fields: float
    areas: np.ndarray[Any, Any]
    yields: np.ndarray[Any, Any]
    ccs: dict[str, float]
    recovery: float


def laws(rng: Rng, wild: bool) -> Laws:
    """A district drawn; the ranges."""
    u = rng.uniform
    zones = int(rng.integers(5, 10))
    areas, yields = u(0.5, 2.0, zones), u(65.0, 105.0, zones)
    rate = u(350.0, 600.0)
    crop = rate * 24 * 7 * u(22.0, 27.0) * u(0.66, 0.74)
    areas *= crop / (areas @ yields)
    return Laws(
        drawn(rng, wild), rate, u(-0.05, 0.03), u(0.02, 0.05), u(40.0, 80.0),
        (u(0.04, 0.07), u(0.10, 0.16)), u(0.02, 0.05), u(0.4, 0.75),
        (u(20.0, 40.0), u(10.0, 25.0), u(900.0, 2500.0)), (u(0.8, 1.2), u(0.7, 1.0), u(0.9, 1.1)),
        (u(0.9, 2.0), u(0.7, 1.0)), (u(24.0, 36.0), u(6.0, 14.0)),
        (u(0.70, 0.88), u(6.0, 16.0), u(15.0, 40.0), u(0.05, 0.15)), (u(0.1, 0.3), u(1.0, 3.0)),
        (14, u(8.0, 12.0)), u(0.03, 0.08), u(0.04, 0.09), u(-0.3, 0.3), u(0.12, 0.25), areas,
        yields,
        {"peak": u(13.5, 15.5), "week": u(14.0, 18.0), "rise": u(0.9, 2.2), "fall": u(0.6, 1.6),
         "level": u(0.2, 0.5), "wander": u(0.10, 0.25), "rain": u(0.003, 0.009),
         "noise": u(0.08, 0.2)},
        u(0.94, 0.99),
    )  # fmt: skip


@dataclass
class Season:
    """One season as the mill writes it, and what came of it."""

    start: date
    days: list[dict[str, Any]] = field(default_factory=list)
    stops: list[dict[str, Any]] = field(default_factory=list)
    zones: list[dict[str, Any]] = field(default_factory=list)
    finish: date | None = None
    crop: float = 0.0
    totals: tuple[float, ...] = ()


@dataclass
class District:
    """Earlier seasons, decades of rain, and the season to be forecast."""

    laws: Laws
    rain: dict[date, float]
    earlier: list[Season]
    season: Season

    def given(self, at: date) -> dict[str, Any]:
        """The arguments of a forecast: all that was written before the day `at`."""
        seasons = [*self.earlier, self.season]
        noon = datetime.combine(at, time(6))
        known = [s for one in seasons for s in one.stops if s["start"] < noon.isoformat()]
        every, hours = self.laws.planned
        start = self.season.start
        return {
            "days": [d for one in seasons for d in one.days if d["date"] < at.isoformat()],
            "stops": [{**s, "end": min(s["end"], noon.isoformat())} for s in known],
            "rain": [{"date": d.isoformat(), "rain": r} for d, r in self.rain.items() if d < at],
            "zones": [z for one in seasons for z in one.zones if z["as_of"] <= at.isoformat()],
            "settings": {
                "mill": {"season_start": start,
                         "earlier_seasons": [s.start for s in self.earlier]},
                "season": {"planned_finish": start + timedelta(weeks=22),
                           "latest_finish": start + timedelta(weeks=LATEST)},
                "planned_stops": [{"first": start + timedelta(days=every), "every": every,
                                   "hours": round(hours, 1), "cause": "planned"}],
                "prices": {"sugar": 600.0, "cane": 52.0, "variable": 4.0},
            },
            "at": at,
        }  # fmt: skip


def district(seed: int, number: int) -> District:
    """One district of a series; even ones have wild rain, odd ones steadier."""
    rng = np.random.default_rng([seed, number])
    law = laws(rng, number % 2 == 0)
    years = range(YEAR - DECADES, YEAR + 1)
    rain: dict[date, float] = {}
    for year in years:
        rain |= year_of_rain(rng, law.climate, year)
    seasons = [_season(rng, law, date(y, 6, 10 + (y * 3) % 6), rain)
               for y in range(YEAR - EARLIER, YEAR + 1)]  # fmt: skip
    return District(law, rain, seasons[:-1], seasons[-1])


class _Stops:
    """Stops of three kinds, by hours run."""

    def __init__(self, rng: Rng, law: Laws) -> None:
        from math import gamma

        self.rng, self.law = rng, law
        bad = rng.lognormal(0.0, 0.12)
        self.mean = [g / bad / gamma(1 + 1 / s) for g, s in zip(law.gaps, law.shapes)]
        self.left = [self._gap(k) for k in range(3)]

    def _gap(self, kind: int) -> float:
        return float(self.mean[kind] * self.rng.weibull(self.law.shapes[kind]))

    def next(self) -> float:
        return min(self.left)

    def run(self, hours: float) -> None:
        self.left = [g - hours for g in self.left]

    def stop(self) -> tuple[str, float]:
        kind = int(np.argmin(self.left))
        self.left[kind] = self._gap(kind)
        rng, law = self.rng, self.law
        if kind == 0:
            return "mechanical", float(law.repairs[0] * rng.lognormal(0.0, law.repairs[1]))
        if kind == 1:
            return "choke", float(rng.uniform(0.2, 0.9))
        return "breakdown", float(rng.gamma((law.long[0] / law.long[1]) ** 2,
                                            law.long[1] ** 2 / law.long[0]))  # fmt: skip


def _season(rng: Rng, law: Laws, start: date, rain: Mapping[date, float]) -> Season:
    made = Season(start)
    fields = _Fields(rng, law, start)
    made.crop, made.totals = fields.crop, tuple(fields.total.tolist())
    stops, ccs = _Stops(rng, law), _Ccs(rng, law)
    rate = law.rate * rng.lognormal(0.0, 0.03)
    recovery = law.recovery * rng.lognormal(0.0, 0.008)
    wet, drop, weak, busy, behind = 0.0, 0.0, 0, 0.0, 0.0
    made.zones += fields.rows(start)
    for n in range(LATEST * 7):
        day = start + timedelta(days=n)
        wet = wet * (law.ground[0] - law.ground[3] * n / 150) + rain[day]
        lost = 0.0
        if wet > law.ground[1]:
            lost = 24 * (1 - np.exp(-(wet - law.ground[1]) / law.ground[2]))
            lost = min(24.0, max(0.0, lost * rng.lognormal(0.0, 0.2)))
        planned = law.planned[1] if n and n % law.planned[0] == 0 else 0.0
        short = rng.uniform(0.3, 2 * law.no_cane[1]) if rng.random() < law.no_cane[0] else 0.0
        runs, waits, busy = _clock(made, stops, day, lost, planned, short, busy)
        if weak == 0 and rng.random() < 1 / law.weak_every:
            weak, drop = int(rng.integers(8, 19)), rng.uniform(*law.weak_drop)
        pace = rate * (1 + law.trend * n / 150) * (1 - drop * (weak > 0)) * rng.normal(1, law.noise)
        weak = max(0, weak - 1)
        cane = fields.cut(pace * runs)
        content = ccs.of(n, rain[day])
        fresh = cane * content / 100 * recovery
        sugar = behind + 0.6 * fresh
        behind = 0.4 * fresh
        made.days.append({
            "date": day.isoformat(), "rain": rain[day], "cane": round(cane, 1),
            "ccs": round(content, 2) if cane > 0 else None,
            "sugar": round(sugar * rng.normal(1, 0.02), 1), "planned": round(waits[1], 2),
            "rain_lost": round(waits[0], 2), "no_cane": round(waits[2], 2),
        })  # fmt: skip
        if (n + 1) % 14 == 0 and fields.left > 0:
            made.zones += fields.rows(day + timedelta(days=1))
        if fields.left <= 0:
            made.finish = day
            made.zones += fields.rows(day + timedelta(days=1))
            break
    return made


def _clock(
    made: Season, stops: _Stops, day: date, lost: float, planned: float, short: float, busy: float
) -> tuple[float, list[float], float]:
    """Hours run in a day, hours lost to rain, plan and want of cane, hours of repair left over.

    Wet hours come first, then the planned stop, then want of cane; a repair takes what it needs by
    the clock, and hours it covers are lost to nothing else.
    """
    begin = datetime.combine(day, time(6))
    blocks = [min(lost, 24.0), planned, short]
    now, run, waits = min(busy, 24.0), 0.0, [0.0, 0.0, 0.0]
    edge = 0.0
    for kind, length in enumerate(blocks):
        end = min(edge + length, 24.0)
        if end > now:
            waits[kind] = end - max(now, edge)
            now = end
        edge = end
    over = max(0.0, busy - 24.0)
    while now < 24.0 - 1e-9:
        if stops.next() >= 24.0 - now:
            stops.run(24.0 - now)
            run, now = run + 24.0 - now, 24.0
            break
        gap = max(stops.next(), 0.0)
        stops.run(gap)
        run, now = run + gap, now + gap
        cause, hours = stops.stop()
        _written(made, begin, now, now + hours, cause)
        now, over = min(now + hours, 24.0), max(0.0, now + hours - 24.0)
    return run, waits, over


def _written(made: Season, begin: datetime, start: float, end: float, cause: str) -> None:
    """A stop in the journal, which cuts it at each day's end."""
    edge = 24.0
    while start < end:
        stop = min(end, edge)
        if stop - start > 1 / 120:
            made.stops.append({
                "start": (begin + timedelta(hours=start)).isoformat(timespec="seconds"),
                "end": (begin + timedelta(hours=stop)).isoformat(timespec="seconds"),
                "station": "mill", "cause": cause, "note": ""})  # fmt: skip
        start, edge = stop, edge + 24.0


class _Fields:
    """Fields of each zone, cut in an order; the estimate made before the season."""

    def __init__(self, rng: Rng, law: Laws, start: date) -> None:
        zones = len(law.areas)
        self.law, self.start = law, start
        season = rng.lognormal(0.0, 0.07)
        self.yields, self.areas = [], []
        for area, mean in zip(law.areas, law.yields):
            count = int(rng.integers(30, 60))
            own = rng.lognormal(0.0, law.fields, count)
            tendency = law.order * np.log(own) / law.fields + rng.normal(0, 1, count)
            own = own[np.argsort(tendency)]
            drift = np.linspace(-1, 1, count) * rng.normal(0, 0.03)
            share = rng.uniform(0.5, 1.5, count)
            self.areas.append(area * share / share.sum())
            self.yields.append(mean * season * own / own.mean() * (1 + drift)
                               * rng.lognormal(0.0, 0.06))  # fmt: skip
        self.total = np.array([a @ y for a, y in zip(self.areas, self.yields)])
        error = rng.normal(0, law.common) + rng.normal(0, law.own, zones)
        self.estimate = self.total / np.exp(error)
        self.cut_t = np.zeros(zones)
        self.crop = float(self.total.sum())
        pace = rng.lognormal(0.0, 0.25, zones)
        self.pace = pace * self.total / (pace @ self.total)

    @property
    def left(self) -> float:
        return float((self.total - self.cut_t).sum())

    def cut(self, tonnes: float) -> float:
        """Cut what the mill asks for; less of it where few fields are left."""
        if self.left < self.law.slow_share * self.crop:
            tonnes *= self.law.slow_rate
        tonnes = wanted = min(max(tonnes, 0.0), self.left)
        while wanted > 1e-6:
            free = self.total - self.cut_t
            share = self.pace * (free > 0)
            take = np.minimum(wanted * share / share.sum(), free)
            self.cut_t += take
            self.cut_t[self.total - self.cut_t < 1e-6] = self.total[self.total - self.cut_t < 1e-6]
            wanted -= float(take.sum())
        return tonnes

    def rows(self, day: date) -> list[dict[str, Any]]:
        """What is written of the zones on a day."""
        made = []
        for n, (areas, yields) in enumerate(zip(self.areas, self.yields)):
            heap = np.concatenate([[0.0], np.cumsum(areas * yields)])
            area = float(np.interp(self.cut_t[n], heap, np.concatenate([[0.0], np.cumsum(areas)])))
            made.append({
                "zone": f"Z{n + 1}", "as_of": day.isoformat(), "area": round(float(areas.sum()), 2),
                "estimate": round(float(self.estimate[n]), 0), "sigma": 8.0,
                "area_cut": round(area, 2), "cut": round(float(self.cut_t[n]), 1)})  # fmt: skip
        return made


class _Ccs:
    """CCS of a day: other powers before and after its peak, a wandering week, falls after rain."""

    def __init__(self, rng: Rng, law: Laws) -> None:
        self.rng, self.c = rng, law.ccs
        self.peak = law.ccs["peak"] + rng.normal(0, law.ccs["level"])
        self.week = law.ccs["week"] + rng.normal(0, 1.0)
        self.wander, self.wash = 0.0, 0.0

    def of(self, n: int, rain: float) -> float:
        c, rng = self.c, self.rng
        if n % 7 == 0:
            self.wander = 0.6 * self.wander + rng.normal(0, 0.8 * c["wander"])
        self.wash = 0.93 * self.wash + rain
        far = (n / 7 - self.week) / 14
        curve = c["rise"] * abs(far) ** 1.7 if far < 0 else c["fall"] * (2 * far) ** 2.2
        fall = 0.9 * (1 - np.exp(-c["rain"] * self.wash))
        return max(7.0, float(self.peak - curve + self.wander - fall + rng.normal(0, c["noise"])))
