"""The undetermined loss by the day alone and with its season: who holds the truth, how narrow?

Two sorts of mills. The demonstration's plant on random days, every assumption drawn anew each day,
instruments' lasting errors once a mill. And mills drawn apart (`tests/truth`), each with its first
file. Days from the fifteenth (drawn: the twenty-first) on are judged by those before them. Each is
judged again with 3 % of pol in cane spilt in its last section, on its reconciled losses.

    python benchmarks/undetermined.py [--mills 12] [--seed 20311105] [--processes 2]
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from ratoon.account.losses.with_season import SectionLosses, section_losses, with_season
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.base.records import Stop
from ratoon.demo import measure
from ratoon.demo.hours import TruePlant
from ratoon.demo.random_days import random_day
from ratoon.demo.write import mill_text
from ratoon.settings.read import parse_settings
from scoring import Z95, options, share, spread

FIGURE = "account.undetermined"
SPILT = 3.0
FIRST = date(2031, 6, 9)
Day = tuple[PeriodAccount, float]


def of_the_demonstration(seed: int, number: int) -> Iterator[Day]:
    """Twenty random days of the demonstration's plant, with the true loss [% of pol in cane]."""
    mill = Mill(parse_settings(mill_text()))
    plant, rng = TruePlant(mill.settings), np.random.default_rng([seed, number])
    lasting = measure.lasting_errors(mill, rng)
    for _ in range(20):
        day = random_day(rng, plant)
        period = mill.calendar.period(day.date)
        rows = measure.read(mill, day, lasting, rng)
        rows += measure.stocks(mill, day.opening, period.start, lasting, rng)
        rows += measure.stocks(mill, day.closing, period.end, lasting, rng)
        stood = period.start + timedelta(seconds=day.period - day.crushing)
        stop = Stop(period.start, stood, "mills", "other")
        read = [measure.as_reading(mill, r) for r in rows]
        yield account(mill, gather(mill, period, read, [stop])), 100.0 * day.figures[FIGURE]


def drawn(seed: int, number: int) -> Iterator[Day]:
    """Twenty-six days of a mill drawn apart, no reading's error drawn wider than it is stated."""
    from accounted import Case

    case = Case(seed + 1, number, 0.0)
    for _ in range(26):
        told = case.next()
        yield account(case.mill, told.gathered), told.truth[FIGURE]


def judged(kind: str, seed: int, number: int) -> list[dict[str, Any]]:
    """Each judged day: how far from the truth, and how wide, as told and with a spill."""
    days, first = (of_the_demonstration, 14) if kind == "demonstration" else (drawn, 20)
    earlier: list[tuple[date, SectionLosses]] = []
    out: list[dict[str, Any]] = []
    for n, (done, true) in enumerate(days(seed, number)):
        losses, figure = section_losses(done), done.figure(FIGURE)
        if losses is None or figure.value is None or not figure.sigma:
            continue
        alone = (figure.value, figure.sigma)
        if n >= first:
            out.append({"kind": kind, "day": told(losses, earlier, alone, true),
                        "spilt": told(spill(losses), earlier, (alone[0] + SPILT, alone[1]),
                                      true + SPILT)})  # fmt: skip
        earlier.append((FIRST + timedelta(days=7 * (n // 7)), losses))
    return out


def spill(losses: SectionLosses) -> SectionLosses:
    return replace(losses, losses=(*losses.losses[:-1], losses.losses[-1] + SPILT))


def told(
    losses: SectionLosses, earlier: list[tuple[date, SectionLosses]], alone: tuple[float, float],
    true: float,
) -> dict[str, tuple[bool, float]]:  # fmt: skip
    """Whether each figure's interval holds the truth, and its sigma on that of the day alone."""
    found = with_season(losses, earlier)
    season = alone if found is None else (found.pct, found.pct_sigma)
    both = {"alone": alone, "with_season": season}
    return {n: (abs(v - true) < Z95 * s, s / alone[1]) for n, (v, s) in both.items()}


def main() -> None:
    asked = options(__doc__ or "", 12, 20, 20311105)
    began = time.perf_counter()
    kinds = ("demonstration", "drawn")
    jobs = [(kind, asked.seed, n) for kind in kinds for n in range(asked.mills)]
    days = [d for made in spread(judged, jobs, asked) for d in made]
    for kind in kinds:
        mine = [d for d in days if d["kind"] == kind]
        print(f"{kind}: {len(mine)} days")
        for case in ("day", "spilt"):
            for name in ("alone", "with_season"):
                inside = share([d[case][name][0] for d in mine])
                wide = float(np.mean([d[case][name][1] for d in mine]))
                print(f"  {case:<6}{name:<12} inside 95 %: {inside:5.1f} %   width {wide:.2f}")
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
