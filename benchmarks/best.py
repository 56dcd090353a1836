"""Best settings of every accounted day of a demo season: does anybody lose, is any limit passed?

    python benchmarks/best.py FOLDER

FOLDER holds a finished demo. For each day with cane, at the day's rate and with the rate free: the
gain an hour, the furthest past a limit, steps, processor milliseconds of a search with its prices,
by how much the works set as advised earn less than the search said, and how far apart the money
of the two solvers is. Then, on the last of those days, what SLSQP takes in processor time with
slopes by differences for each with slopes from the factors, begun from the day and from the answer.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from datetime import date
from pathlib import Path

from scipy.optimize import minimize

from ratoon.account.given import from_account
from ratoon.account.period import account
from ratoon.base.errors import RatoonError
from ratoon.equations.prices import NoneFound
from ratoon.equations.reduced import Reduced, Trial
from ratoon.jobs.day import accounted_days
from ratoon.jobs.mills import open_mill
from ratoon.jobs.season import load
from ratoon.plans.asked import Found, bounds_of
from ratoon.plans.best import MillSearch

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
    for where, start in (("the day", found.today.values), ("the answer", found.best.values)):
        took = []
        for trial in (Trial, Differences):
            reduced.trial = trial
            begun = time.process_time()
            best = reduced.best(given, bounds_of(found), start)
            took.append(time.process_time() - begun)
            print(f"  {trial.__name__} from {where}: {1e3 * took[-1]:.0f} ms, {best.steps} steps, "
                  f"{abs(best.aim / found.best.aim - 1.0):.1e} apart")  # fmt: skip
        print(f"by differences, from {where}: {took[1] / took[0]:.1f} times as long")


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
    for line in none:
        print(line)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
