"""Best settings of every accounted day of a demo season: does anybody lose, is any limit passed?

    python benchmarks/best.py FOLDER

FOLDER holds a finished demo. For each day with cane, at the day's rate and with the rate free: the
gain an hour, the furthest past a limit, steps, processor milliseconds of a search with its prices,
and by how much the works set as advised earn less than the search said.
"""

from __future__ import annotations

import statistics
import sys
import time
from datetime import date
from pathlib import Path

from ratoon.account.given import from_account
from ratoon.account.period import account
from ratoon.base.errors import RatoonError
from ratoon.jobs.day import accounted_days
from ratoon.jobs.mills import open_mill
from ratoon.jobs.season import load
from ratoon.plans.best import MillSearch


def main(folder: Path) -> None:
    rows: list[tuple[float, float, float, float, float]] = []
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
            search = searches[text]
            given = from_account(search.plant, today.answer, season.day(day).constants)
            for rate in ("held", "free"):
                try:
                    found = search.ask(given, today.answer.state, rate)
                    begun = time.process_time()
                    found = search.again(found)
                    took = time.process_time() - begun
                    works = search.plant.solve(search.advised(found), found.best.values)
                except RatoonError as error:
                    none.append(f"{day} {rate}: {error}")
                    continue
                best = search.money(found.best.values)
                rows.append((best - search.money(found.today.values), found.best.breach,
                             float(found.best.steps), 1e3 * took,
                             abs(best - search.money(works.values)) / best))  # fmt: skip
    gains, breaches, steps, times, apart = zip(*rows, strict=True)
    print(f"{len(rows)} answers, {len(none)} without one; least gain {min(gains):.1f} an hour")
    print(f"furthest past a limit {max(breaches):.1e} of its scale")
    print(f"steps {statistics.median(steps):.0f}, most {max(steps):.0f}")
    print(f"processor ms of a search {statistics.median(times):.0f}, most {max(times):.0f}")
    print(f"set as advised, money apart by {max(apart):.1e} at most")
    for line in none:
        print(line)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
