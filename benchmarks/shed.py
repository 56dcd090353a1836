"""Chances of a full and of an empty shed as said on a morning, against what came day by day.

Districts are drawn apart from the program (`tests/truth/districts`). A shed is drawn for each here
and run day by day by other laws: weighers that err all season, a sister mill that stands in the
same rain, ships that come by chance, a melt that wanders from week to week. One survey by then.

    python benchmarks/shed.py [--districts 100] [--seed 20311301]
"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

DAY = timedelta(days=1)
HEEL = 200.0
CRUSH = 154
"""Days of crushing as planned before the season."""


class Shed:
    """The truth of one shed, day by day, and what the mill wrote of it before `at`."""

    def __init__(
        self, rng: Any, usual: float, sugar: dict[date, float], at: date, end: date
    ) -> None:
        # Shed and refinery were built for what is usual. Were room and melt drawn by what this
        # season makes and sells in the end, they would tell what nobody could know.
        u = rng.uniform
        plan, sold = u(0.1, 0.6), u(0.2, 0.5)
        sister, self.error = plan * rng.lognormal(0.0, 0.10), rng.normal(1.0, 0.004, 2)
        start, year = min(sugar), (end - min(sugar)).days
        left = usual * (1.0 + plan) * (1.0 - u(0.2, 0.5)) * u(0.85, 1.10)
        melt, self.room = left / year, left * (1.0 - CRUSH / year) * u(0.85, 1.15)
        a_day = usual * (1.0 + plan) * sold / CRUSH
        every = u(4.0, 9.0)
        cargo = a_day * every
        held, pace = u(0.02, 0.08) * usual, 1.0
        self.full = self.empty = False
        self.lots: list[Any] = []
        self.moves: list[Any] = []
        surveyed = at - timedelta(days=int(rng.integers(3, 15)))
        self.survey, last = (0.0, 0.0), max(d for d, t in sugar.items() if t > 0.0)
        self._write(start - DAY, "adjust", "", "A/1", held)
        behind, day = 0.0, start
        while day < end:
            if day.weekday() == 0:  # the melt wanders, and comes back slowly
                pace = 1.0 + 0.8 * (pace - 1.0) + rng.normal(0.0, 0.04)
            own = sugar.get(day, 0.0)
            # what the sister mill made comes by train two days later, in whole trains
            behind += own * sister * rng.gamma(8.0, 1.0 / 8.0)
            train = behind if day.weekday() in (1, 4) else 0.0
            behind -= train
            ship = cargo if day <= last and rng.random() < 1.0 / every else 0.0
            comes, wants = own + train, melt * pace * rng.gamma(30.0, 1.0 / 30.0)
            goes = min(wants + ship, max(held + comes - HEEL, 0.0))
            if day < at:
                stored = 1.0 - max(held + comes - goes - self.room, 0.0) / max(comes, 1e-9)
                self._write(day, "made", "", "A/1", own * stored * self.error[0])
                self._write(day, "in", "Sister", "A/1", train * stored * self.error[0])
                self._write(day, "melt", "A/1", "refinery", min(wants, goes) * self.error[1])
                self._write(day, "load", "A/1", "Buyer", max(goes - wants, 0.0) * self.error[1])
                if day == surveyed:
                    there = min(held + comes - goes, self.room)
                    sigma = 0.03 * there
                    self.survey = (there + rng.normal(0.0, sigma), sigma)
            else:
                self.full |= held + comes - goes >= self.room
                self.empty |= held + comes - wants - ship <= HEEL
            held = min(held + comes - goes, self.room)
            day += DAY
        self.surveyed = surveyed

    def _write(self, day: date, kind: str, from_: str, to: str, tonnes: float) -> None:
        from ratoon.base.sugar import Lot, Movement

        if tonnes < 0.5:
            return
        at = datetime.combine(day, time(10), UTC)
        if kind == "made":
            self.lots.append(Lot(f"L{day}", at - timedelta(hours=8), at, "", "raw", tonnes,
                                 shed="A", cell="1"))  # fmt: skip
        else:
            self.moves.append(Movement(f"{kind}{day}", at, kind, from_, to, tonnes))


def trial(seed: int, number: int, futures: int) -> dict[str, tuple[float, bool]] | None:
    """One district on one morning: chances as said, and whether it came."""
    from districts.district import district

    from ratoon.base.sugar import ShedSurvey
    from ratoon.plans.season import given as of_rows
    from ratoon.plans.season.forecast import fitted_to
    from ratoon.plans.season.rules import rules
    from ratoon.plans.shed import make
    from ratoon.plans.shed.books import Told
    from ratoon.plans.shed.shed import shed_answer
    from ratoon.settings.sugar import ShedRow

    rng = np.random.default_rng([seed, number, 1])
    drawn = district(seed, number)
    one = drawn.season
    at = one.start + timedelta(days=7 * int(rng.integers(9, 17)))
    sugar = {date.fromisoformat(d["date"]): float(d["sugar"] or 0.0) for d in one.days}
    end = one.start + timedelta(days=365)
    rows = drawn.given(at)
    own = rules(rows["settings"], at)
    known = of_rows.given(rows["days"], rows["stops"], rows["rain"], rows["zones"], own, at)
    usual = float(np.mean([sum(d["sugar"] or 0.0 for d in s.days) for s in drawn.earlier]))
    shed = Shed(rng, usual, sugar, at, end)
    fit = fitted_to(known)
    starts = make.weeks_to(fit.week_starts, (end - at).days)
    made = make.forecast_make(fit, len(starts) - 1, futures, number)
    now = datetime.combine(at, time(6), UTC)
    lacking: list[str] = []
    season = datetime.combine(one.start, time(6), UTC)
    flows = [make.lately([m for m in shed.moves if m.kind == kind],
                         shed.lots if kind == "in" else (), season, now, lacking, kind)
             for kind in ("in", "load", "melt")]  # fmt: skip
    row = ShedRow(name="A", tonnes=1000.0 * shed.room, heel=1000.0 * HEEL)
    survey = ShedSurvey("A", datetime.combine(shed.surveyed, time(22), UTC), "", *shed.survey)
    told = Told(at, now, [row], shed.lots, shed.moves, [survey], (), starts, made,
                make.crushing(made, starts), *flows, [0.0] * (len(starts) - 1), 0.0, 0.0, "$",
                lambda t: t, seed=number)  # fmt: skip
    (said,) = shed_answer(told, ()).sheds
    return {"full": (said.full.chance, shed.full), "empty": (said.empty.chance, shed.empty)}


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])  # type: ignore[union-attr]
    ask.add_argument("--districts", type=int, default=100)
    ask.add_argument("--seed", type=int, default=20311301)
    ask.add_argument("--futures", type=int, default=500)
    given = ask.parse_args()
    found = [t for n in range(given.districts) if (t := trial(given.seed, n, given.futures))]
    print(f"{len(found)} districts; off: what came less what was said, in standard errors")
    for case in ("full", "empty"):
        both = [t[case] for t in found]
        for low, high in ((0.0, 1.01), (0.0, 1 / 3), (1 / 3, 2 / 3), (2 / 3, 1.01)):
            some = [(p, y) for p, y in both if low <= p < high]
            if not some:
                continue
            p, y = (np.array([s[k] for s in some], dtype=float) for k in (0, 1))
            off = (y - p).sum() / np.sqrt((p * (1 - p)).sum() + 0.25)
            print(f"{case:<5} said {low:.2f}-{min(high, 1):.2f}: {len(some):4d},"
                  f" said {p.mean():.3f}, came {y.mean():.3f}, off {off:+.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
