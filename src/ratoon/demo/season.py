"""The season's tables: cane, rain, stops, cleans and the drift of parameters, day by day.

Day 1 is the mill day that starts at 06:00 on Tuesday 10 June 2031; a season of 66 days. All is
invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base.records import Stop
from ratoon.demo.hours import Floats, TruePlant
from ratoon.demo.works import reference_htc

FIRST = date(2031, 6, 10)
DAYS = 66
MINUTES = 24 * 60
RAINS = ((13, 14, 16, 4, 61), (41, 16, 45, 14, 88))
"""First day and hour since its start, last day and hour, millimetres."""
PLANNED = (9, 28, 58)
CLEANS = (9, 15, 28, 43, 58, 1005)  # the last in the season before, whose days begin at 1001
WHOLE_CLEANS = (15, 43)
FOULING = (0.0014, 0.0021, 0.0053, 0.0179, 0.1375)  # (m2.K/kW)2 a day of crushing
CLEAN_HTC = (2.50, 2.25, 1.75, 1.25, 0.62)  # kW/m2.K
CAUSES = (
    ("mills and carriers", 0.35), ("shredder", 0.08), ("boilers", 0.15), ("power", 0.06),
    ("evaporators and pans", 0.12), ("electrical and control", 0.14), ("other", 0.10),
)  # fmt: skip
SHORTEST = 20  # min; an hour that crushes less is joined to its neighbour
OVERFLOW_DAY, OVERFLOW = 57, 22e3  # kg of pol, real
ENTRAINMENT_DAYS, ENTRAINMENT = range(48, 54), 0.005
WALKING = ("mixing", "purity_ratio", "supersaturation", "purity_rise", "filter.washing",
           "filter.retention")  # fmt: skip


@dataclass(frozen=True)
class Year:
    """Days of one season that are run: what comes to it from outside.

    `first` is the first day run, `before` the days of the season that had passed by then; `number`
    is that of the first day. Events of the season go by the numbers of its days.
    """

    first: date = FIRST
    before: int = 0
    number: int = 1
    rains: tuple[tuple[int, int, int, int, int], ...] = RAINS
    planned: tuple[int, ...] = PLANNED
    richer: float = 0.0  # CCS, % cane
    more_fibre: float = 0.0  # % cane
    rate: float = 470.0  # t/h


THIS_YEAR = Year()
# The fortnight of the season before that the newest two weeks' sheets look back on: another crop,
# and a slower mill before its last overhaul.
BEFORE_FIRST, BEFORE_DAYS, BEFORE_NUMBER = date(2030, 8, 2), 14, 1001
YEAR_BEFORE = Year(BEFORE_FIRST, 52, BEFORE_NUMBER, (), (5,), -0.35, 0.4, 452.0)
WORSE_SQUEEZE = -0.007  # fibre content of final bagasse beside this year's


@dataclass(frozen=True)
class Weather:
    """Cane of each day, fractions."""

    ccs: Floats
    purity: Floats
    fibre: Floats  # true fibre
    insolubles: Floats
    rate: Floats  # t/h that the mill would crush
    temperature: Floats


def weather(rng: np.random.Generator, days: int, year: Year = THIS_YEAR) -> Weather:
    """Cane of the season: ripening, rain, and what one day shares with the next."""
    passed = np.arange(days) + year.before
    w = passed / 7.0
    ccs = 14.6 + year.richer - 0.010 * (w - 16.5) ** 2 + _red(rng, days, 0.25, 0.7)
    fibre = 14.0 + year.more_fibre + 0.010 * passed + _red(rng, days, 0.35, 0.7)
    insolubles = 0.7 * np.exp(0.2 * rng.standard_normal(days))
    for _, _, last, _, _ in year.rains:
        since = np.arange(1, days + 1) - last
        wet = since >= 0
        ccs -= np.where(wet & (since < 9), 0.45 * (1.0 - since / 9.0), 0.0)
        fibre += np.where(wet & (since < 4), 0.4, 0.0)
        soil = 2.0 - 1.0 * since / 5.0
        insolubles = np.where(wet & (since < 5), np.maximum(soil, insolubles), insolubles)
    purity = 81.6 + 2.1 * (ccs - 11.9) + 0.5 * rng.standard_normal(days)
    ramp = np.minimum(1.0, 0.75 + 0.25 * passed / 3.0)
    rate = ramp * year.rate + 5.0 * rng.standard_normal(days)
    warmth = 23.0 + 1.2 * rng.standard_normal(days)
    return Weather(ccs / 100, np.clip(purity, 80, 89) / 100, fibre / 100, insolubles / 100, rate,
                   warmth)  # fmt: skip


def _red(rng: np.random.Generator, days: int, sd: float, rho: float) -> Floats:
    """Noise of which each day keeps a share."""
    noise = rng.standard_normal(days) * sd
    for i in range(1, days):
        noise[i] = rho * noise[i - 1] + (1.0 - rho**2) ** 0.5 * noise[i]
    return noise


def stops(rng: np.random.Generator, mill: Mill, days: int, year: Year = THIS_YEAR) -> list[Stop]:
    """All stops of the mills, whole minutes, in order; none overlaps another."""
    spans: list[tuple[int, int, str, str]] = []
    for first, hour, last, until, rain in year.rains:
        spans.append(((first - 1) * MINUTES + hour * 60, (last - 1) * MINUTES + until * 60,
                      "rain, no cane", f"{rain} mm"))  # fmt: skip
    for day in year.planned:
        begin = (day - 1) * MINUTES + 60
        spans.append((begin, begin + 720, "planned stop", "maintenance and clean"))
    names, weights = zip(*CAUSES)
    for day in range(days):
        for _ in range(int(rng.poisson(2.4))):
            begin = day * MINUTES + int(rng.integers(0, MINUTES))
            hours = 0.45 * float(np.exp(0.8 * rng.standard_normal()))
            cause = str(rng.choice(names, p=weights))
            spans.append((begin, begin + max(2, round(60 * hours)), cause, ""))
        if rng.random() < 0.3:
            begin = day * MINUTES + int(rng.integers(0, MINUTES))
            length = max(5, round(60 * float(rng.exponential(1.2))))
            spans.append((begin, begin + length, "no cane", ""))
    return _apart(mill, spans, days, year.first)


def _apart(
    mill: Mill, spans: list[tuple[int, int, str, str]], days: int, first: date
) -> list[Stop]:
    """Spans that do not overlap, cut at the mill day's end; long ones stand first."""
    taken = np.zeros(days * MINUTES, dtype=bool)
    kept = []
    for begin, end, cause, note in sorted(spans, key=lambda s: (s[0] - s[1], s[0])):
        end = min(end, days * MINUTES)
        if begin >= end or taken[begin:end].any():
            continue
        taken[begin:end] = True
        kept.append((begin, end, cause, note))
    start = mill.calendar.start_of(first)
    out = []
    for begin, end, cause, note in sorted(kept):
        while begin < end:
            edge = min(end, (begin // MINUTES + 1) * MINUTES)
            out.append(Stop(start + timedelta(minutes=begin), start + timedelta(minutes=edge),
                            "mills", cause, note))  # fmt: skip
            begin = edge
    return out


def crushing_minutes(mill: Mill, all_stops: list[Stop], days: int, first: date = FIRST) -> Floats:
    """Minutes crushed in each clock hour of the season, days x 24."""
    crushes = np.ones(days * MINUTES)
    start = mill.calendar.start_of(first)
    for stop in all_stops:
        begin, end = _minutes(start, stop.start), _minutes(start, stop.end)
        crushes[begin:end] = 0.0
    hourly: Floats = crushes.reshape(days, 24, 60).sum(axis=2)
    return hourly


def _minutes(start: datetime, at: datetime) -> int:
    return round((at - start).total_seconds() / 60.0)


def steps_of(minutes: Floats) -> list[tuple[float, float]]:
    """Crushing and whole seconds of a day's steps, in order; (0, 3600) is an hour without cane.

    An hour that crushes for less than `SHORTEST` is joined to the nearest that crushes longer.
    """
    crushing, whole = 60.0 * minutes.copy(), np.full(24, 3600.0)
    for h, to in enumerate(joined(minutes)):
        if to != h:
            crushing[to] += crushing[h]
            whole[to] += whole[h]
            crushing[h] = whole[h] = 0.0
    return [(float(c), float(w)) for c, w in zip(crushing, whole) if w > 0]


def joined(minutes: Floats) -> list[int]:
    """For each clock hour the hour in whose step it is run; most run in their own."""
    long = np.flatnonzero(minutes >= SHORTEST)
    to = list(range(24))
    for h in np.flatnonzero((minutes > 0) & (minutes < SHORTEST)):
        if len(long):
            to[h] = int(long[np.argmin(np.abs(long - h))])
    return to


@dataclass
class Drift:
    """Parameters that the account assumes, as they walk over the season."""

    plant: TruePlant
    rng: np.random.Generator
    state: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.state = {a: float(np.clip(self.rng.standard_normal(), -1.5, 1.5))
                      for a in self.plant.assumed}  # fmt: skip

    def day(self) -> dict[str, float]:
        """Today's values: a walk that keeps its spread over the season at the stated sigma."""
        for key in self.state:
            rho = 0.95 if key == "mills.mixing" or key.endswith(WALKING) else 0.99
            step = (1.0 - rho**2) ** 0.5 * float(self.rng.standard_normal())
            self.state[key] = float(np.clip(rho * self.state[key] + step, -2.0, 2.0))
        return {a: float(np.clip(value + sigma * self.state[a], low, high))
                for a, (value, sigma, low, high) in self.plant.assumed.items()}  # fmt: skip


@dataclass
class Fouling:
    """Scale on each effect: 1/U2 grows with the days crushed since the last clean."""

    rng: np.random.Generator
    clean: list[float] = field(default_factory=lambda: list(CLEAN_HTC))
    crushed: list[float] = field(default_factory=lambda: [0.0] * 5)
    pace: float = 1.0

    def start_day(self, number: int, day_before: float) -> None:
        """Add yesterday's crushing [days], and clean where today is a day of cleaning."""
        self.crushed = [c + day_before for c in self.crushed]
        if number not in CLEANS:
            return
        self.pace = float(self.rng.uniform(0.8, 1.3))
        for i in range(0 if number in WHOLE_CLEANS else 2, 5):
            self.clean[i] = CLEAN_HTC[i] * float(self.rng.uniform(0.94, 1.0))
            self.crushed[i] = 0.0

    def htc(self) -> dict[str, float]:
        """Coefficients at usual brix [W/m2.K]."""
        found = {}
        for i in range(5):
            pace = self.pace if i == 4 else 1.0
            inverse = 1.0 / self.clean[i] ** 2 + FOULING[i] * pace * self.crushed[i]
            found[reference_htc(i + 1)] = 1000.0 / inverse**0.5
        return found
