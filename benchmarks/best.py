"""Best settings of every accounted day of a demo season: does anybody lose, is any limit passed?

    python benchmarks/best.py FOLDER

FOLDER holds a finished demo. For each day with cane, at the day's rate and with the rate free: the
gain an hour, the furthest past a limit, steps, processor milliseconds of a search with its prices,
by how much the plant set as advised earns less than the search said, and how far apart the money
of the two solvers is. Then, on the last of those days, what SLSQP takes in processor time with
slopes by differences for each with slopes from the factors, begun from the day and from the answer;
and how far the dearest points of grids in two and three settings lie over the search.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from ratoon.account.period import account
from ratoon.account.readings.given import from_account
from ratoon.base.errors import RatoonError
from ratoon.equations.prices import NoneFound
from ratoon.equations.reduced import Reduced, Trial
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.day import accounted_days
from ratoon.jobs.sheet.to_date import load
from ratoon.plans.best.asked import Found, bounds_of
from ratoon.plans.best.search import MillSearch

STEP = 1e-5  # of the scale: a smaller one drowns in what Newton's method leaves


class Differences(Trial):
    """The same trial with the slopes that SciPy takes by itself, as differences."""

    def minimised(self, start):  # type: ignore[no-untyped-def]
        return minimize(
            lambda d: self.solved(d)[1][0], start, method="SLSQP",
            bounds=list(zip(self.low, self.high, strict=True)),
            constraints={"type": "ineq", "fun": self.room},
            options={"ftol": 1e-11, "maxiter": 200, "eps": STEP},
        )  # fmt: skip


def by_differences(search: MillSearch, found: Found) -> None:
    """Prints the ratio of processor seconds, and how far each ends from the interior point."""
    reduced, given = Reduced(search.search, [*search.free]), search.given(found.given)
    reduced.best(given, bounds_of(found), found.best.values)  # what is made once is not counted
    for where, start in (("the day", found.today.values), ("the answer", found.best.values)):
        took = []
        for trial in (Trial, Differences):
            reduced.trial = trial
            begun = time.process_time()
            try:
                best = reduced.best(given, bounds_of(found), start)
            except NoneFound as error:
                print(f"  {trial.__name__} from {where}: {error}")
                break
            took.append(time.process_time() - begun)
            print(f"  {trial.__name__} from {where}: {1e3 * took[-1]:.0f} ms, {best.steps} steps, "
                  f"{abs(best.aim / found.best.aim - 1.0):.1e} apart")  # fmt: skip
        if len(took) == 2:
            print(f"by differences, from {where}: {took[1] / took[0]:.1f} times as long")


def grid(search: MillSearch, found: Found, asked: tuple[str, ...], points: int) -> None:
    """Prints by how much the dearest point of a grid beats the search, the rest as on the day.

    Then the same of a grid round the answer, a hundredth as wide.
    """
    alone = {a: x for a, x in search.stated.free.items() if search.figure(a) in asked}
    search = MillSearch(search.mill, replace(search.stated, free=alone))
    best = search.ask(found.given, found.today.values, "held", limits=found.limits)
    found = best
    most = search.money(best.best.values)
    for wide in (1.0, 0.01):
        ends = []
        for a in asked:
            bound, at = found.free[a], best.best[a]
            half = wide * (bound.high - bound.low) / (1.0 if wide == 1.0 else 2.0)
            ends.append((max(bound.low, at - half), min(bound.high, at + half)))
        axes = np.meshgrid(*(np.linspace(*e, points) for e in ends))
        given = {**found.given, **{search.plant.set_point_of(a): x.ravel()
                                   for a, x in zip(asked, axes, strict=True)}}  # fmt: skip
        many = search.plant.equations.solve_many(given, found.today.values, leave=True)
        allowed = np.isfinite(many[search.rate])
        for address, bound in best.limits.items():
            slack = 1e-7 * max(abs(bound.high), 1.0) if math.isfinite(bound.high) else 0.0
            allowed &= (many[address] <= bound.high + slack) & (many[address] >= bound.low - slack)
        money = np.asarray(search.money(many))[allowed]
        print(f"grid of {points} a side, {wide:g} of the ranges of {', '.join(asked)}: "
              f"{allowed.sum()} of {len(allowed)} allowed, "
              f"dearest over the search {money.max() / most - 1.0:+.1e}")  # fmt: skip


def main(folder: Path) -> None:
    rows: list[tuple[float, ...]] = []
    last: tuple[MillSearch, Found] | None = None
    none: list[str] = []
    with open_mill(folder) as opened:
        stated, searches = opened.mill.settings.best, {}
        first = opened.mill.settings.mill.season_start
        days = [date.fromisoformat(str(d)[:10]) for d in accounted_days(opened)]
        for day in (d for d in days if first is None or d >= first):
            season = load(opened, day)
            today = account(season.mill, season.day(day))
            if today.answer is None:
                continue
            text = season.mill.settings.text
            if text not in searches:
                searches[text] = MillSearch(season.mill, stated)
                searches[text].search.problem  # noqa: B018 - compiled before the clock
                reduced = Reduced(searches[text].search, [*searches[text].free])
            search = searches[text]
            for rate in ("held", "free"):
                try:
                    given = from_account(search.plant, today.answer, season.day(day).constants)
                    found = search.ask(given, today.answer.state, rate)
                    begun = time.process_time()
                    found = search.again(found)
                    took = time.process_time() - begun
                    works = search.plant.solve(search.advised(found), found.best.values)
                except RatoonError as error:
                    none.append(f"{day} {rate}: {error}")
                    continue
                other = math.nan
                try:
                    asked = search.given(given), bounds_of(found), found.today.values
                    other = abs(reduced.best(*asked).aim / found.best.aim - 1.0)
                except NoneFound as error:
                    none.append(f"{day} {rate}, SLSQP: {error}")
                best = search.money(found.best.values)
                rows.append((best - search.money(found.today.values), found.best.breach,
                             float(found.best.steps), 1e3 * took,
                             abs(best - search.money(works.values)) / best,
                             other))  # fmt: skip
                last = search, found
    gains, breaches, steps, times, apart, solvers = zip(*rows, strict=True)
    print(f"{len(rows)} answers; least gain {min(gains):.1f} an hour")
    print(f"furthest past a limit {max(breaches):.1e} of its scale")
    print(f"steps {statistics.median(steps):.0f}, most {max(steps):.0f}")
    print(f"processor ms of a search {statistics.median(times):.0f}, most {max(times):.0f}")
    print(f"set as advised, money apart by {max(apart):.1e} at most")
    both = [x for x in solvers if not math.isnan(x)]
    print(f"money of the two solvers apart by {max(both):.1e} at most in {len(both)} questions")
    if last is not None:
        by_differences(*last)
        grid(*last, ("imbibition.on_fibre", "filter.wash_on_cake"), 41)
        grid(*last, ("imbibition.on_fibre", "filter.wash_on_cake", "exhaust.pressure"), 15)
    for line in none:
        print(line)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
