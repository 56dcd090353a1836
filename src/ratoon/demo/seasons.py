"""Kestrel Point's earlier seasons in short form, its rain and its zones; all of it invented.

Rain comes by three kinds of weather, dry, showery and wet, that follow one another, in years that
are dry, middling or wet. Ground is lost for as many hours as two days' rain says. Planted: one zone
estimated 12 % too high, and in the season before a wet fortnight and a repair of 40 hours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path

import numpy as np

from ratoon.demo import season, sheets

Rng = np.random.Generator
DAYS = ("date", "rain", "cane", "ccs", "sugar", "planned", "rain_lost", "no_cane")
ZONES = ("zone", "as_of", "area", "estimate", "sigma", "area_cut", "cut")
STARTS = (date(2026, 6, 16), date(2027, 6, 8), date(2028, 6, 13), date(2029, 6, 12),
          date(2030, 6, 11))  # fmt: skip
FIRST_YEAR, FIRST_DAY, RAIN_DAYS = 1996, (5, 1), 275
FOLLOWS = np.array([[0.90, 0.08, 0.02], [0.45, 0.40, 0.15], [0.20, 0.40, 0.40]])
"""Chances of dry, showery and wet weather on the day after each."""
MILLIMETRES = (0.0, 4.0, 22.0)
YEARS, YEAR_CHANCE = (0.45, 1.0, 1.9), (0.3, 0.45, 0.25)
"""How much rain a dry, a middling and a wet year bring, and how often each comes."""
WET_FORTNIGHT, WET_MM = (date(2030, 9, 9), date(2030, 9, 22)), 17.0
LONG_REPAIR, REPAIR_HOURS = datetime(2030, 7, 9, 14), 40.0
TOO_HIGH, BY = "Plover", 1.12
OPENING, SURVEY_ERROR = 6200.0, 0.03
"""Bagasse truly in store when the season began [t], and the relative error of a survey."""
SURVEYED = (date(2031, 6, 10), date(2031, 7, 10), date(2031, 8, 7))
AREAS: Mapping[str, tuple[float, float, float]] = {
    "Tern": (3150.0, 84.0, 1.0), "Heron": (2480.0, 79.0, 0.8), "Plover": (1890.0, 88.0, 1.45),
    "Kite": (2760.0, 74.0, 0.9), "Egret": (2230.0, 82.0, 1.1), "Dunlin": (3020.0, 70.0, 0.85),
}  # fmt: skip
"""Area [ha], yield [t/ha], and how fast a zone is cut beside the others."""
TOLD = (date(2031, 6, 9), date(2031, 7, 8), date(2031, 8, 5))
"""When the zones of this season were written down; the last knows this zone half cut."""


def write_seasons(
    folder: Path, cane: Mapping[date, float], seed: int, stored: Mapping[date, float] | None = None
) -> None:
    """Earlier days with their stops, rain, zones and fuel surveys into the folder's `input`.

    Parameters
    ----------
    cane : what each mill day of this season crushed, as weighed [t]. stored : what truly went to
        the bagasse store, net [t].
    """
    rng = np.random.default_rng([seed, 9])
    into = folder / "input"
    rain = _rain(rng)
    rows = [["rain", d.isoformat(), "", f"{mm:.1f}", "mm", "", "gauge", ""]
            for d, mm in sorted(rain.items())]  # fmt: skip
    sheets.write_csv(into / "rain-readings.csv", sheets.READINGS, rows)
    days, stops, zones = [], [], []
    for start in STARTS:
        made = _Season(rng, start, rain)
        days += made.days
        stops += made.stops
        zones += made.zones
    sheets.write_csv(into / "earlier-days.csv", DAYS, days)
    sheets.write_csv(into / "earlier-stops.csv", sheets.STOPS, stops)
    sheets.write_csv(into / "zones.csv", ZONES, [*zones, *_this_year(rng, cane)])
    if stored:
        sheets.write_csv(into / "fuel-surveys.csv", sheets.READINGS, _surveys(stored, seed))


def _surveys(stored: Mapping[date, float], seed: int) -> list[list[str]]:
    """What was surveyed in the bagasse store on three mornings."""
    rng, held, rows = np.random.default_rng([seed, 10]), OPENING, []
    for day, net in sorted(stored.items()):
        if day in SURVEYED:
            seen = held * (1.0 + SURVEY_ERROR * rng.standard_normal())
            rows.append(["store.bagasse.held", f"{day}T06:00", "", f"{seen:.0f}", "t",
                         f"{SURVEY_ERROR * seen:.0f}", "survey", ""])  # fmt: skip
        held += net
    return rows


def _rain(rng: Rng) -> dict[date, float]:
    """Rain of each day from May to January of every year, and of this season so far [mm]."""
    made: dict[date, float] = {}
    for year in range(FIRST_YEAR, season.FIRST.year):
        wetness, weather = rng.choice(YEARS, p=YEAR_CHANCE), 0
        first = date(year, *FIRST_DAY)
        for n in range(RAIN_DAYS):
            summer = 1.0 + max(0.0, n - 120) / 110.0
            chances = FOLLOWS[weather] * [1.0, summer * wetness**0.5, summer * wetness**0.5]
            weather = int(rng.choice(3, p=chances / chances.sum()))
            amount = MILLIMETRES[weather] * wetness**0.5 * rng.weibull(0.8)
            made[first + timedelta(days=n)] = round(float(amount), 1)
    day = WET_FORTNIGHT[0]
    while day <= WET_FORTNIGHT[1]:
        made[day] = round(float(made[day] + WET_MM * rng.uniform(0.5, 1.5)), 1)
        day += timedelta(days=1)
    first = date(season.FIRST.year, *FIRST_DAY)
    last = season.FIRST + timedelta(days=season.DAYS - 1)
    made |= {first + timedelta(days=n): 0.0 for n in range((last - first).days + 1)}
    for begins, _, ends, _, amount in season.RAINS:  # most of it on the first day
        for n in range(begins, ends + 1):
            share = 0.6 if n == begins else 0.4 / (ends - begins)
            made[season.FIRST + timedelta(days=n - 1)] = round(amount * share, 1)
    return made


@dataclass
class _Season:
    """One earlier season, run day by day."""

    rng: Rng
    start: date
    rain: Mapping[date, float]
    days: list[list[str]] = field(default_factory=list)
    stops: list[list[str]] = field(default_factory=list)
    zones: list[list[str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        rng = self.rng
        self.district = _District(rng, rng.lognormal(0.0, 0.06))
        rate, best = rng.normal(455.0, 12.0), rng.normal(14.6, 0.35)
        recovery, slow, left, busy = rng.normal(0.965, 0.006), 0.0, 1.0, 0.0
        self.zones += self.district.rows(self.start - timedelta(days=1))
        day, n = self.start, 0
        while self.district.left > 1.0 and n < 240:
            fell = self.rain.get(day, 0.0)
            ground = fell + 0.7 * self.rain.get(day - timedelta(days=1), 0.0)
            lost = min(24.0, max(0.0, (ground - 7.0) * 0.75))
            planned = 10.0 if n % 14 == 13 else 0.0
            short = float(rng.uniform(0.5, 4.0)) if rng.random() < 0.2 else 0.0
            own, busy = self._own_stops(day, busy)
            hours = max(0.0, 24.0 - lost - planned - short - own)
            slow = 0.85 * slow + rng.normal(0.0, 0.018)
            left = 0.55 if self.district.left < 0.03 * self.district.crop else 1.0
            cane = self.district.cut(hours * rate * left * np.exp(slow))
            week = (n / 7.0 - 15.0) / 10.0
            ccs = best - 0.9 * week * week - 0.02 * min(ground, 40.0) + rng.normal(0.0, 0.12)
            sugar = cane * ccs / 100.0 * recovery
            self.days.append([
                day.isoformat(), f"{fell:.1f}", f"{cane:.0f}", f"{ccs:.2f}" if cane else "",
                f"{sugar:.0f}", f"{planned:.1f}", f"{min(lost, 24.0 - planned):.1f}",
                f"{min(short, max(0.0, 24.0 - planned - lost)):.1f}",
            ])  # fmt: skip
            day, n = day + timedelta(days=1), n + 1
            if n % 28 == 0 or self.district.left <= 1.0:
                self.zones += self.district.rows(day)

    def _own_stops(self, day: date, busy: float) -> tuple[float, float]:
        """Hours of the mill's own stops on a day, and what a repair leaves for the next."""
        rng, begin = self.rng, datetime.combine(day, time(6))
        spans = []
        if busy > 0.0:
            spans.append((0.0, min(busy, 24.0), "boilers"))
        if begin <= LONG_REPAIR < begin + timedelta(days=1):
            spans.append(((LONG_REPAIR - begin).total_seconds() / 3600.0, REPAIR_HOURS, "boilers"))
        elif busy <= 0.0:
            for at in np.sort(rng.uniform(0.0, 22.0, rng.poisson(1.1))):
                cause = str(rng.choice([name for name, _ in season.CAUSES]))
                spans.append((float(at), float(rng.lognormal(-0.1, 0.9)), cause))
        total, left, end = 0.0, 0.0, 0.0
        for at, hours, cause in spans:
            at = max(at, end)
            stop = min(at + hours, 24.0)
            left = max(busy - 24.0, at + hours - 24.0 if hours == REPAIR_HOURS else 0.0, 0.0)
            if stop - at < 0.02:
                continue
            first, last = (begin + timedelta(minutes=round(60 * h)) for h in (at, stop))
            if (
                not season.BEFORE_FIRST
                <= day
                < season.BEFORE_FIRST + timedelta(days=season.BEFORE_DAYS)
            ):
                times = [t.isoformat(timespec="minutes") for t in (first, last)]
                self.stops.append([*times, "mills", cause, ""])
            total, end = total + stop - at, stop
        return total, left


class _District:
    """The zones of one season: what grew, what was expected, what is cut."""

    def __init__(self, rng: Rng, year: float, planted: bool = False) -> None:
        self.rng = rng
        grown = {n: a * y * year * rng.lognormal(0.0, 0.05) for n, (a, y, _) in AREAS.items()}
        self.total = grown
        common = rng.normal(0.0, 0.04)
        error = {n: float(np.exp(common + rng.normal(0.0, 0.05))) for n in grown}
        if planted:  # every other zone as right as an estimate may be
            error = {n: BY if n == TOO_HIGH else 1.0 + rng.normal(0.0, 0.015) for n in grown}
        self.estimate = {n: grown[n] * error[n] for n in grown}
        self.off = {n: float(rng.normal(0.0, 0.03)) for n in grown}
        self.done = dict.fromkeys(grown, 0.0)
        self.crop = sum(grown.values())

    @property
    def left(self) -> float:
        return self.crop - sum(self.done.values())

    def cut(self, tonnes: float) -> float:
        """Cut so many tonnes, of each zone by its pace; what is left where there is less."""
        todo = tonnes = min(tonnes, self.left)
        while todo > 1e-6:
            open_ = {n: self.total[n] - self.done[n] for n in self.total
                     if self.total[n] - self.done[n] > 1e-9}  # fmt: skip
            if not open_:
                break
            pace = {n: AREAS[n][2] * self.total[n] for n in open_}
            whole, given = sum(pace.values()), 0.0
            for n, there in open_.items():
                take = min(there, todo * pace[n] / whole)
                self.done[n] += take
                given += take
            todo -= given
        return tonnes

    def rows(self, day: date) -> list[list[str]]:
        """The zones as written on a day; what is cut yields a bit more or less than the rest."""
        made = []
        for n, (area, _, _) in AREAS.items():
            share = self.done[n] / self.total[n]
            of_area = share - self.off[n] * share * (1.0 - share)
            made.append([n, day.isoformat(), f"{area:.0f}", f"{self.estimate[n]:.0f}", "8",
                         f"{area * of_area:.1f}", f"{self.done[n]:.0f}"])  # fmt: skip
        return made


def _this_year(rng: Rng, cane: Mapping[date, float]) -> Sequence[list[str]]:
    district, made = _District(rng, 1.0, planted=True), []
    days = sorted(cane)
    for told in TOLD:
        while days and days[0] < told:
            district.cut(cane[days.pop(0)])
        made += district.rows(told)
    return made


def listed() -> list[dict[str, object]]:
    """What is planted in the seasons, for the folder of truths."""
    return [
        {"what": f"zone {TOO_HIGH} estimated {100 * (BY - 1):.0f} % too high",
         "expected": f"the forecast of {TOLD[-1]} names it beyond two sigma, and no other"},
        {"what": f"a wet fortnight from {WET_FORTNIGHT[0]}", "expected": "hours lost to rain"},
        {"what": f"a repair of {REPAIR_HOURS:.0f} h from {LONG_REPAIR:%Y-%m-%d %H:%M}",
         "expected": "one stop, joined over three mill days"},
        {"what": f"{OPENING:.0f} t of bagasse in store as the season began, surveyed within"
                 f" {100 * SURVEY_ERROR:.0f} %",
         "expected": "the store rolls from the last survey"},
    ]  # fmt: skip
