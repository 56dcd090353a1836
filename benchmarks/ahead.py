"""What is said of fuel and of the next stop on drawn districts, against what came hour by hour.

Districts are drawn apart from the program (`tests/truth/districts`); a boiler house is drawn for
each here, its hours by other laws: weeks of good and bad fibre in steps, a belt that reads too much
all season, surveys that err. Said on one morning of a season, then the season's own hours are run.

    python benchmarks/ahead.py [--districts 120] [--seed 20311207]
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

ROOM, STANDS = 9000.0, 6.0
CASES = ("rain", "stop", "end")


def standing(season: Any) -> dict[date, np.ndarray[Any, Any]]:
    """Share of each hour of each mill day in which the mill stood."""
    made = {}
    for row in season.days:
        edges = np.cumsum([0.0, row["rain_lost"], row["planned"], row["no_cane"]])
        made[date.fromisoformat(row["date"])] = np.clip(edges[-1] - np.arange(24), 0.0, 1.0)
    for stop in season.stops:
        begin, end = (
            datetime.fromisoformat(stop[k]) - timedelta(hours=6) for k in ("start", "end")
        )
        day = begin.date()
        if day not in made:
            continue
        first = (begin - datetime.combine(day, datetime.min.time())).total_seconds() / 3600
        last = first + (end - begin).total_seconds() / 3600
        hour = np.arange(24)
        made[day] = np.maximum(made[day], np.clip(np.minimum(hour + 1, last)
                                                  - np.maximum(hour, first), 0.0, 1.0))  # fmt: skip
    return made


class House:
    """A boiler house and its store over one season."""

    def __init__(self, rng: Any, stood: dict[date, Any], at: date) -> None:
        self.surplus, self.burn = rng.uniform(-4.0, 12.0), rng.uniform(8.0, 30.0)
        self.once, self.belt = rng.uniform(0.0, 80.0), rng.normal(0.0, 1.5)
        weeks = rng.normal(0.0, 1.0, 60)
        days = sorted(stood)
        surveyed = at - timedelta(days=int(rng.integers(3, 21)))
        self.seen, self.counted = [], []
        held, before, self.short, self.value, self.sigma = rng.uniform(500, 6000), 0, {}, 0.0, 0.0
        for n, day in enumerate(days):
            if day == surveyed:
                self.sigma = 0.06 * held
                self.value = held + rng.normal(0.0, self.sigma)
            gain = self.surplus + weeks[n // 7] + rng.normal(0.0, 1.0)
            long = stood[day].sum() >= STANDS
            net = 0.0
            for hour in stood[day]:
                once = self.once * (long and not before and hour > 0.5)
                step = gain * (1 - hour) - self.burn * hour - once
                before = int(hour > 0.5 and long) or (before and long)
                if day >= at:
                    self.short[day] = self.short.get(day, 0.0) + max(-(held + step), 0.0)
                held, net = min(max(held + step, 0.0), ROOM), net + step
            before = int(long)
            if day < at:
                run = 24.0 - stood[day].sum()
                seen = net + run * self.belt + rng.normal(0.0, 8.0)
                self.seen.append((day, seen, run))
                if day >= surveyed:
                    self.value += seen
                    self.counted.append((seen, run))

    def fuel(self) -> Any:
        from ratoon.plans.season.fuel import Fuel, FuelDay, fit_net

        days, before = [], 0.0
        for day, net, run in self.seen:
            stood = 24.0 - run if 24.0 - run >= STANDS else 0.0
            days.append(FuelDay(day.toordinal(), net, run, stood, stood > 0 and not before))
            before = stood
        net = replace(fit_net(days, 1.5), worked_off=self.once)
        sigma = float(np.hypot(self.sigma, 1.5 * sum(run for _, run in self.counted)))
        return Fuel(self.value, sigma, self.counted, ROOM, 0.0, net,
                    {"low": (self.burn, 0.02 * self.burn)}, None)  # fmt: skip


def trial(seed: int, number: int) -> dict[str, Any] | None:
    """One district on one morning: chances and hours as said, and as they came."""
    from districts.district import LATEST, district

    from ratoon.plans.season import given as of_rows
    from ratoon.plans.season.forecast import fitted_to
    from ratoon.plans.season.fuel_advice import FuelPrices, fuel_answer
    from ratoon.plans.season.rules import rules
    from ratoon.plans.season.stop_days import Waiting, asked, first_wet, futures_of, moved, on_day

    rng = np.random.default_rng([seed, number, 1])
    drawn = district(seed, number)
    one = drawn.season
    at = one.start + timedelta(days=14 * int(rng.integers(3, 9)) - 3)
    end = one.finish or one.start + timedelta(weeks=LATEST)
    if (end - at).days < 21:
        return None
    rows = drawn.given(at)
    rows["settings"]["planned_stops"][0] |= {"movable": 10, "notice": 1}
    own = rules(rows["settings"], at)
    known = of_rows.given(rows["days"], rows["stops"], rows["rain"], rows["zones"], own, at)
    fit, house = fitted_to(known), House(rng, standing(one), at)
    prices = FuelPrices(None, 0.0, None, None, "$")
    told = fuel_answer(at, fit, house.fuel(), None, prices, (), number, 2000)
    lost = {date.fromisoformat(d["date"]): d["rain_lost"] for d in one.days}
    plan = {date.fromisoformat(d["date"]): d["planned"] for d in one.days}
    short = {d: x for d, x in house.short.items() if d <= end}
    windows = {
        "rain": _first([d for d in short if lost[d] >= 12.0]),
        "stop": _first([d for d in short if plan[d] >= STANDS]),
        "end": list(short),
    }
    came = {c: sum(short[d] for d in w) > 0.5 for c, w in windows.items() if w}
    said = {c.case: 1.0 - c.lasts for c in told.cases}
    a = asked(own, at, fit, Waiting(), None)
    assert a.day is not None and a.stop is not None
    blocks = list(futures_of(a, number, 1000))
    days = [at + timedelta(days=a.day + n) for n in range(11)]
    taken = next((min(n + 1, 10) for n, d in enumerate(days) if lost.get(d, 0.0) >= 12.0), 10)
    hours = {"planned": (_mean(blocks, on_day(a.day), moved), a.hours * _dry(lost, days[0])),
             "rule": (_mean(blocks, first_wet(a.day + 10), moved),
                      a.hours * _dry(lost, days[taken]))}  # fmt: skip
    return {"said": said, "came": came, "hours": hours}


def _mean(blocks: Any, choose: Any, moved: Any) -> float:
    return float(np.mean(np.concatenate([moved(f, choose).hours for f in blocks])))


def _dry(lost: dict[date, float], day: date) -> float:
    return 1.0 - lost.get(day, 0.0) / 24.0


def _first(days: list[date]) -> list[date]:
    """The first run of days that follow one another."""
    made = days[:1]
    for day in days[1:]:
        if day != made[-1] + timedelta(days=1):
            break
        made.append(day)
    return made


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])  # type: ignore[union-attr]
    ask.add_argument("--districts", type=int, default=120)
    ask.add_argument("--seed", type=int, default=20311207)
    given = ask.parse_args()
    found = [t for n in range(given.districts) if (t := trial(given.seed, n))]
    print(f"{len(found)} districts; off: what came less what was said, in standard errors")
    for case in CASES:
        both = [(t["said"][case], t["came"][case]) for t in found
                if case in t["said"] and case in t["came"]]  # fmt: skip
        for low, high in ((0.0, 1.01), (0.0, 1 / 3), (1 / 3, 2 / 3), (2 / 3, 1.01)):
            some = [(p, y) for p, y in both if low <= p < high]
            if not some:
                continue
            p, y = (np.array([s[k] for s in some], dtype=float) for k in (0, 1))
            off = (y - p).sum() / np.sqrt((p * (1 - p)).sum() + 0.25)
            print(f"{case:<5} said {low:.2f}-{min(high, 1):.2f}: {len(some):4d},"
                  f" said {p.mean():.3f}, came {y.mean():.3f}, off {off:+.2f}")  # fmt: skip
    for name in ("planned", "rule"):
        said, came = (np.array([t["hours"][name][k] for t in found]) for k in (0, 1))
        error = (came - said).std() / np.sqrt(len(found))
        print(f"hours lost, {name}: said {said.mean():.2f}, came {came.mean():.2f},"
              f" off {(came - said).mean() / error:+.2f}")  # fmt: skip
    gain = [np.array([t["hours"]["planned"][k] - t["hours"]["rule"][k] for t in found])
            for k in (0, 1)]  # fmt: skip
    error = (gain[1] - gain[0]).std() / np.sqrt(len(found))
    print(f"hours gained by waiting: said {gain[0].mean():.2f}, came {gain[1].mean():.2f},"
          f" off {(gain[1] - gain[0]).mean() / error:+.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
