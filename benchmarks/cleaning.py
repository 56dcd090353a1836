"""Cleans as planned, and the season's own, on the demonstration's truth; and how near the grid is.

    python benchmarks/cleaning.py FOLDER [held | best]

FOLDER holds a finished demo. From some days of its season, the first on which scale can be seen
among them, a plan is made from the records to that day alone, as `ratoon clean` makes it: cleans
in the planned stops that the mill file names, and in rain where it comes, after which it is asked
again. Plan and the season's own cleans are then run on the true law of scale, with its own pace and
cleanness after each clean, on the hours that the season crushed. They are paid by what the true
plant earns at its usual settings (full rate until the liquor is thin, then what it bears) where the
plan holds the settings, and at the best settings where the plan sets it anew. Past the season's
last day both go on for as long as the plan counts, with the plan's cleans.
Then: the money read off the grid of scale beside the best settings searched for that scale itself,
under each law, on drawn days after a clean.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from ratoon.account.figures.since_clean import LAWS
from ratoon.base import units
from ratoon.base.errors import NotSolved
from ratoon.demo import season
from ratoon.demo.hours import TruePlant
from ratoon.demo.simulate import LEAST_BRIX
from ratoon.demo.tried import Tried
from ratoon.demo.works import REFERENCE_BRIX, reference_htc
from ratoon.jobs.best.clean import Posed, Settings, asked_of, pose
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.history import History
from ratoon.plans.best.search import MillSearch
from ratoon.plans.clean.advice import advised
from ratoon.plans.clean.programme import programme

STARTS = tuple(date(2031, 6, 18) + timedelta(k) for k in (0, 7, 13, 15, 20, 36, 52))
DRAWS, SEED = 200, 20310610
ORDINARY = date(2031, 8, 13)
AGES = ((0.0, 15.0, 30.0, 45.0), (0.0, 4.0, 8.0, 12.0, 17.0, 23.0, 30.0, 40.0))


def true_htc(ages: Any, clean: Any, pace: float) -> dict[str, float]:
    """Coefficients by the truth [W/m2.K]."""
    return {
        reference_htc(i + 1): 1000.0
        * (clean[i] ** -2 + season.FOULING[i] * (pace if i == 4 else 1.0) * ages[i]) ** -0.5
        for i in range(5)
    }


def true_money(search: MillSearch, plant: TruePlant, settings: Any = None) -> Any:
    """Money an hour by the drops 1/U of both sets, of the true plant at its usual settings."""
    truth = Tried(plant, {})
    table = np.zeros([len(a) for a in AGES])
    for k, early in enumerate(AGES[0]):
        for j, late in enumerate(AGES[1]):
            htc = true_htc([early, early, late, late, late], season.CLEAN_HTC, 1.0)
            try:
                told = truth.at({**(settings(htc) if settings else {}), **htc})
                if settings is None and told["liquor.brix"] < LEAST_BRIX:
                    given = {**truth.given, **htc, "liquor.brix": LEAST_BRIX}
                    del given["cane.rate"]
                    told = truth._run(given)
                table[k, j] = float(search.money(told))
            except NotSolved:
                table[k, j] = np.nan
    return table


def best_settings(search: MillSearch, history: History, day: date) -> Any:
    """By coefficients at usual brix: what the search from a day's account advises for them."""
    works = history.works(day.isoformat())
    asked = asked_of(search, works)
    usual = {reference_htc(i + 1): u for i, u in enumerate(season.CLEAN_HTC)}

    def settings(htc: dict[str, float]) -> dict[str, float]:
        given = dict(works["given"])
        for i, address in enumerate(usual, 1):
            thin = (1.0 - works["figures"][f"effect.{i}.brix"][0] / 100.0) / (
                1.0 - REFERENCE_BRIX[i - 1])  # fmt: skip
            given[f"effect.{i}.htc_set"] = htc[address] * thin
        return search.handed_back(search.again(replace(asked, given=given)))

    return settings


def on_the_truth(
    table: Any, cleans: dict[int, int], posed: Posed, hours: Any, ages: Any, rng: Any
) -> float:
    """What the days earn with cleans (day: way)."""
    assert posed.question is not None
    ways, stands = posed.question.ways, posed.ahead.days.stands
    groups = posed.ahead.stated.groups
    age, total = list(ages), 0.0
    clean = np.array(season.CLEAN_HTC) * rng.uniform(0.94, 1.0, 5)
    pace = rng.uniform(0.8, 1.3)
    for day, crush in enumerate(hours):
        lost = 0.0
        if (way := cleans.get(day, -1)) >= 0:
            total -= ways[way].cost
            lost = min(max(ways[way].hours - stands[day], 0.0), crush)
            pace = rng.uniform(0.8, 1.3)
            for effect in sorted(groups[way].effects, reverse=True):
                i = effect - 1
                age[i], clean[i] = 0.0, season.CLEAN_HTC[i] * rng.uniform(0.94, 1.0)
        total += (crush - lost) * _read_off(table, age, clean, pace)
        age = [a + crush / 24.0 for a in age]
    return total


def _read_off(table: Any, age: Any, clean: Any, pace: float) -> float:
    """Money at a state of scale: ages of a mean clean that need the same drops."""
    flux = np.array([18.7, 14.2, 10.5, 11.6, 12.7])  # kW/m2, about, of the usual plant
    place = []
    for axis, mine in enumerate(((0, 1), (2, 3, 4))):
        now = sum(flux[i] / true_htc(age, clean, pace)[reference_htc(i + 1)] for i in mine)
        knots = [sum(flux[i] / true_htc([a] * 5, season.CLEAN_HTC, 1.0)[reference_htc(i + 1)]
                     for i in mine) for a in AGES[axis]]  # fmt: skip
        place.append(np.interp(now, knots, np.arange(len(knots))))
    (i, p), (j, q) = ((min(int(x), n - 2), x - min(int(x), n - 2))
                      for x, n in zip(place, table.shape))  # fmt: skip
    return float((1 - p) * ((1 - q) * table[i, j] + q * table[i, j + 1])
                 + p * ((1 - q) * table[i + 1, j] + q * table[i + 1, j + 1]))  # fmt: skip


class Plans:
    """Plans from days of the season, each from the records to its day alone."""

    def __init__(self, history: History, settings: Settings) -> None:
        self.history, self.settings = history, settings
        self.made: dict[date, Posed] = {}

    def of(self, start: date) -> Posed:
        if start not in self.made:
            last = season.FIRST + timedelta(season.DAYS - 1)
            days = max((last - start).days, 1)
            self.made[start] = pose(self.history, start, days, settings=self.settings)
        return self.made[start]

    def followed(self, start: date, hours: Any) -> dict[int, int]:
        """Cleans of a plan; after a clean in rain it is asked again, on the next day with cane."""
        question, money = self.of(start).question, self.of(start).money
        assert question is not None and money is not None
        judged, in_rain = advised(question, money)
        best, cleans = programme(question), {j.day: j.way for j in judged}
        state = [0] * question.sets
        for day, crush in enumerate(hours[: len(question.days)]):
            if crush == 0.0 and day in in_rain and (way := best.way(day, state, True)) >= 0:
                then = next(k for k in range(day, len(hours)) if hours[k] > 0.0)
                rest = self.followed(start + timedelta(then + 1), hours[then + 1 :])
                before = {d: w for d, w in cleans.items() if d < day}
                return before | {day: way} | {d + then + 1: w for d, w in rest.items()}
            state = best.after(day, state, cleans.get(day, -1))
        return cleans


def beside(plans: Plans, table: Any, start: date) -> tuple[float, float, float]:
    """What the own cleans earn, the mean gain of the plan, the share of draws without a loss."""
    days, posed = plans.history.days(), plans.of(start)
    ahead = [d for d in sorted(days) if d > start.isoformat()]
    hours = [24.0 * posed_hours(days, start + timedelta(k + 1)) for k in range(len(ahead))]
    later = len(hours)  # then the days go on as the plan has them, with its cleans for both
    hours += posed.ahead.days.crush[later:].tolist()
    plan = plans.followed(start, hours)
    own = {(season.FIRST + timedelta(n - 1) - start).days - 1: int(n in season.WHOLE_CLEANS)
           for n in season.CLEANS if n <= season.DAYS}  # fmt: skip
    own = {day: way for day, way in own.items() if day >= 0}
    own |= {day: way for day, way in plan.items() if day >= later}
    whole = sum(posed.season.crushed.values())  # of an effect whose scale is not seen yet
    ages = [posed.scales[e].crushed if e in posed.scales else whole for e in range(1, 6)]
    rows = np.array([
        [on_the_truth(table, which, posed, hours, ages, np.random.default_rng([SEED, k]))
         for which in (plan, own)] for k in range(DRAWS)
    ])  # fmt: skip
    told = [[(str(start + timedelta(d + 1)), w) for d, w in sorted(one.items())]
            for one in (plan, own)]  # fmt: skip
    print(f"  {start}, plant of {posed.plant}: plan {told[0]}, own {told[1]}")
    gain = rows[:, 0] - rows[:, 1]
    return float(rows[:, 1].mean()), float(gain.mean()), float((gain >= 0.0).mean())


def posed_hours(days: Any, day: date) -> float:
    found = days.get(day.isoformat())
    return (found.result.period.crushing_hours or 0.0) / 24.0 if found else 0.0


def nearness(history: History, start: date) -> list[float]:
    """Relative errors of money read off, beside a search for that state of scale."""
    posed = pose(history, start, 30)
    assert posed.money is not None
    search = MillSearch(history.mill, history.mill.settings.best)
    works, scale = history.works(start.isoformat()), posed.money.scale
    asked = asked_of(search, works)
    rng, errors = np.random.default_rng(SEED), []
    for law in range(len(LAWS)):
        by = scale.every(law)
        for _ in range(3):
            ages = [np.array([a]) for a in rng.uniform(0.0, 30.0, len(scale.sets))]
            new = [np.ones(1)] * len(ages)
            given = dict(works["given"])
            for of, mine in enumerate(scale.sets):
                for k in mine:
                    s = scale.surfaces[k]
                    u = by[k].coefficient(ages[of], new[of])[0, 0]
                    given[s.setting] = float(units.to_inside(float(u), s.unit)) * s.to_day
            money = float(search.money(search.again(replace(asked, given=given)).best.values))
            errors.append(float(posed.money.by_law(law)(ages, new, True)[0]) - money)
    return errors


def main() -> None:
    with open_mill(Path(sys.argv[1])) as opened:
        history = History(opened.folder, lambda: opened.store)
        mill = history.mill
        begun = time.process_time()
        pose(history, None, 90)
        print(f"a plan of 90 days posed in {time.process_time() - begun:.1f} s of processor")
        plant = TruePlant(mill.settings, patient=True)
        search = MillSearch(mill, mill.settings.best)
        asked: tuple[tuple[Settings, Any], ...] = (
            ("held", None), ("best", best_settings(search, history, ORDINARY)))  # fmt: skip
        for what, settings in (one for one in asked if one[0] in (sys.argv[2:] or one)):
            table = true_money(search, plant, settings)
            print(f"true money an hour, settings {what}, effects 1-2 down, 3-5 across:\n",
                  np.round(table))  # fmt: skip
            plans = Plans(history, what)
            for start in STARTS:
                own, gain, share = beside(plans, table, start)
                print(f"{start}: own cleans earn {own:,.0f}; the plan {gain:+,.0f} "
                      f"({100 * share:.0f} % of {DRAWS} draws not less)")  # fmt: skip
        errors = nearness(history, ORDINARY)
        print(f"money read off less money searched, an hour: {min(errors):+.1f} to "
              f"{max(errors):+.1f}, {len(errors)} states")  # fmt: skip


if __name__ == "__main__":
    main()
