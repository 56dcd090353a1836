"""What is assumed of the sugar end, moved by one sigma: does an advised gain leave its interval?

    python benchmarks/assumed.py FOLDER [DAY ...]

FOLDER holds a finished demo; a day is an accounted mill day with cane. For dry substance,
supersaturation and purity rise of each grade: the gain an hour of settings sought again, beside
that of the day's own assumption and its 95 % interval from draws.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import numpy as np

from ratoon.account.period import account
from ratoon.account.readings.given import from_account
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.to_date import load
from ratoon.plans.best.asked import Found
from ratoon.plans.best.moves import draws
from ratoon.plans.best.search import MillSearch

DOUBTED = ("supersaturation", "purity_rise", "dry_substance", "massecuite.dry")
DRAWS = 200


def gain(search: MillSearch, found: Found) -> float:
    return float(search.money(found.best.values) - search.money(found.today.values))


def main(folder: Path, days: list[str]) -> None:
    with open_mill(folder) as opened:
        for text in days:
            day = date.fromisoformat(text)
            season = load(opened, day)
            answer = account(season.mill, season.day(day)).answer
            assert answer is not None, f"no cane was crushed on {day}"
            search = MillSearch(season.mill, opened.mill.settings.best)
            given = from_account(search.plant, answer, season.day(day).constants)
            for rate in ("held", "free"):
                found = search.ask(given, answer.state, rate)
                said = gain(search, found)
                drawn = draws(search, found, answer, DRAWS).gain
                low, high = np.quantile(drawn, (0.025, 0.975))
                print(f"{day} rate {rate}: gain {said:.0f} an hour, 95 %: {low:.0f} to {high:.0f}")
                for name, value in given.items():
                    figure = search.plant.held_by(name)
                    if not any(w in name for w in DOUBTED) or not answer.sigma(figure):
                        continue
                    sigma = answer.sigma(figure)
                    moved = []
                    for by in (-sigma, sigma):
                        asked = {**given, name: value + by}
                        moved.append(gain(search, search.ask(asked, answer.state, rate)) - said)
                    inside = all(low <= said + x <= high for x in moved)
                    print(f"  {name}: {moved[0]:+.1f}, {moved[1]:+.1f}"
                          f"{'' if inside else '  OUTSIDE'}")  # fmt: skip


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:] or ["2031-08-13"])
