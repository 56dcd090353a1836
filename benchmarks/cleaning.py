"""Cleans as planned, and the season's own, on the demonstration's truth; and how near the grid is.

    python benchmarks/cleaning.py FOLDER

FOLDER holds a finished demo. From some days of its season a plan is made from the records to that
day alone, as `ratoon clean` makes it: cleans in the planned stops that the mill file names, and in
rain where it comes. Plan and the season's own cleans are then run on the true law of scale, with
its own pace and cleanness after each clean, on the hours that the season crushed. They are paid by
what the true plant earns at its usual settings (full rate until the liquor is thin, then what it
bears) where the plan holds the settings, and at the best settings where the plan sets it anew. Past
the season's last day both go on for as long as the plan counts, with the plan's cleans.
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

STARTS = tuple(date(2031, 6, 25) + timedelta(k) for k in (0, 6, 13, 29))
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
    table: Any, plan: dict[int, int], rain: Any, posed: Posed, hours: Any, ages: Any, rng: Any
) -> float:
    """What the days earn with a plan (day: way), and in rain what `rain` says of a state."""
    ways, stands = posed.question.ways, posed.ahead.days.stands
    sets = ((2, 3, 4), (0, 1))  # as the mill file's groups part the effects
    age, state, total = list(ages), [0, 0], 0.0
    clean = np.array(season.CLEAN_HTC) * rng.uniform(0.94, 1.0, 5)
    pace = rng.uniform(0.8, 1.3)
    for day, crush in enumerate(hours):
        way = plan.get(day, -1)
        if crush == 0.0 and rain is not None:
            way = max(way, rain(day, state))
        lost = 0.0
        if way >= 0:
            state = [day + 1 if s in ways[way].sets else at for s, at in enumerate(state)]
            total -= ways[way].cost
            lost = min(max(ways[way].hours - stands[day], 0.0), crush)
            pace = rng.uniform(0.8, 1.3)
            for s in ways[way].sets:
                for i in sets[s]:
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


def beside(
    history: History, table: Any, start: date, settings: Settings
) -> tuple[float, float, float]:
    """What the own cleans earn, the mean gain of the plan, the share of draws without a loss."""
    days = history.days()
    ahead = [d for d in sorted(days) if d > start.isoformat()]
    last = season.FIRST + timedelta(season.DAYS - 1)
    posed = pose(history, start, (last - start).days, settings=settings)
    assert posed.question is not None and posed.money is not None
    hours = [24.0 * posed_hours(days, start + timedelta(k + 1)) for k in range(len(ahead))]
    later = len(hours)  # then the days go on as the plan has them, with its cleans for both
    hours += posed.ahead.days.crush[later:].tolist()
    judged, in_rain = advised(posed.question, posed.money)
    best = programme(posed.question)
    plan = {j.day: j.way for j in judged}
    own = {(season.FIRST + timedelta(n - 1) - start).days - 1: int(n in season.WHOLE_CLEANS)
           for n in season.CLEANS if n <= season.DAYS}  # fmt: skip
    own = {day: way for day, way in own.items() if day >= 0}
    own |= {day: way for day, way in plan.items() if day >= later}
    ages = [posed.scales[e].crushed for e in range(1, 6)]

    def rain(day: int, state: Any) -> int:
        return best.way(day, state, True) if day in in_rain else -1

    earned = []
    for k in range(DRAWS):
        earned.append([
            on_the_truth(table, which, wet, posed, hours, ages, np.random.default_rng([SEED, k]))
            for which, wet in ((plan, rain), (own, None))
        ])  # fmt: skip
    rows = np.array(earned)
    print(f"  {start}: plan {[(str(start + timedelta(d + 1)), w) for d, w in plan.items()]}, "
          f"own {[(str(start + timedelta(d + 1)), w) for d, w in own.items()]}")  # fmt: skip
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
        for what, settings in asked:
            table = true_money(search, plant, settings)
            print(f"true money an hour, settings {what}, effects 1-2 down, 3-5 across:\n",
                  np.round(table))  # fmt: skip
            for start in STARTS:
                own, gain, share = beside(history, table, start, what)
                print(f"{start}: own cleans earn {own:,.0f}; the plan {gain:+,.0f} "
                      f"({100 * share:.0f} % of {DRAWS} draws not less)")  # fmt: skip
        errors = nearness(history, ORDINARY)
        print(f"money read off less money searched, an hour: {min(errors):+.1f} to "
              f"{max(errors):+.1f}, {len(errors)} states")  # fmt: skip


if __name__ == "__main__":
    main()
