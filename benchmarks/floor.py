"""Random strike-planning cases against HiGHS: `python benchmarks/floor.py [--cases N] [--first N]`.

Each case (`tests/floor/drawn.py`) is planned by the program and by a linear programme in whole
starts written apart (`tests/floor/milp.py`); statuses and all aims must agree, each plan is
replayed by a checker that shares no code with either, and of each refusal the limits named must
contradict one another, and no longer do so without any one of them.

With `--mill DIR` instead the floor of a mill: 24 and 48 hours, at 10 % more cane, and again after
pans are lost, with how many of the later starts move by more than an hour. With `--futures N` as
well, its plans at three rates are lived through N times by a simulator written apart
(`tests/floor/lived.py`), strike hours drawn from a gamma law of 8 %: no level outside its limits,
and as often slowed as is said. With `--chokes`, the highest rate where one thing alone is made
scarce, beside the rate at which that thing is just busy all the time.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from floor.agree import compared
from floor.lived import lived


def of_mill(folder: Path) -> None:
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.strikes.floor import AGAIN_WORK, FloorAsked, case_of, keeping_to
    from ratoon.plans.floor.case import FloorCase
    from ratoon.plans.floor.result import FloorResult
    from ratoon.plans.floor.search import plan_floor

    def told(name: str, case: FloorCase, work: float = 60.0) -> FloorResult:
        began = time.process_time()
        plan = plan_floor(case, 10.0 * work, work=work)
        took = time.process_time() - began
        aims = "; ".join(f"{a.aim} {a.value} (bound {a.bound})" for a in plan.aims)
        print(f"{name}: {plan.status}, {took:.1f} processor s, {plan.seconds:.1f} s; {aims}")
        return plan

    def starts(plan: FloorResult, task: str) -> list[float]:
        return sorted(s.start for s in plan.strikes if s.task == task and s.start >= 0.0)

    with open_mill(folder) as opened:
        usual = opened.mill.settings.cane.rate * 3.6
        told("24 h", case_of(opened, FloorAsked(hours=24.0))[0])
        whole = told("48 h", case_of(opened, FloorAsked())[0])
        told("48 h, +10 %", case_of(opened, FloorAsked(rate=1.1 * usual))[0])
        tasks = sorted({s.task for s in whole.strikes})
        for pan in sorted({s.pan for s in whole.strikes}):
            case, _ = case_of(opened, FloorAsked(lost={pan: 8.0}))
            again = told(f"{pan} lost for 8 h", keeping_to(case, whole), AGAIN_WORK)
            far = sum(abs(a - b) > 1.0 for t in tasks
                      for a, b in zip(starts(whole, t), starts(again, t)))  # fmt: skip
            print(f"  {far} of {sum(len(starts(whole, t)) for t in tasks)} starts moved over 1 h")


def futures_of(folder: Path, count: int, seed: int = 20311320) -> None:
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.strikes.floor import FloorAsked, case_of
    from ratoon.plans.floor.chance import LITTLE, SPREAD, slows
    from ratoon.plans.floor.search import plan_floor

    shape = 1.0 / SPREAD**2
    with open_mill(folder) as opened:
        usual = opened.mill.settings.cane.rate * 3.6
        for n, part in enumerate((0.85, 0.92, 1.0)):
            case, _ = case_of(opened, FloorAsked(rate=part * usual))
            plan = plan_floor(replace(case, aims=case.aims[:1]), 600.0, work=60.0)
            planned = lived(case, plan.strikes, lambda: 1.0)
            drawn = np.random.default_rng([seed, n])
            times = count // 3 + (n < count % 3)
            factor = partial(drawn.gamma, shape, 1.0 / shape)
            many = [lived(case, plan.strikes, factor) for _ in range(times)]
            broken = sum(bool(f.broken) for f in [planned, *many])
            asked = float(sum(case.stores["liquor"].inflow))
            late = float(np.mean([f.held > LITTLE * asked for f in many]))
            told, off = slows(case, plan.strikes), 1.96 * (late * (1.0 - late) / times) ** 0.5
            print(f"{100 * part:.0f} % of the rate: plan {plan.status}, held back as planned"
                  f" {planned.held:.1f} m3, waited {planned.waited:.2f} h; {broken} of {times + 1}"
                  f" outside a limit; slowed {100 * late:.1f} +- {100 * off:.1f} %, said"
                  f" {100 * told.low:.1f} to {100 * told.high:.1f}; mean"
                  f" {np.mean([f.held for f in many]):.1f} m3, said {told.held:.1f}",
                  flush=True)  # fmt: skip


def chokes_of(folder: Path) -> None:
    """One thing made scarce at a time, of tanks near empty so that they help little."""
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.strikes.floor import FloorAsked, highest_rate
    from ratoon.jobs.strikes.rows import names_of_pans
    from ratoon.plant.pan.steady import HOUR, at_rate

    with open_mill(folder) as opened:
        settings = opened.mill.settings
        usual = settings.cane.rate * 3.6
        made = {
            g: f.massecuite / usual for g, f in at_rate(opened.mill.plant, usual).grades.items()
        }
        pans = names_of_pans(settings.pans)
        tanks = settings.floor.tanks

        def steady(grade: str, takes: float) -> float:
            return takes / made[grade]

        for grade, lost in (("A", "A2"), ("B", "B2"), ("C", "C2")):
            left = sum(v for n, (g, v) in pans.items() if g == grade and n != lost)
            busy = steady(grade, left / ((settings.pans[grade].cycle or HOUR) / HOUR))
            store = sum(tanks[t] for t in tanks if t in ("liquor", f"{grade}_molasses")) / 72.0
            found = highest_rate(opened, FloorAsked(hours=72.0, lost={lost: 72.0}, limit=80.0,
                                                    work=8.0))  # fmt: skip
            print(f"without {lost}: pans of {grade} are busy all the time at {busy:.0f} t/h, the"
                  f" floor takes {found.rate:.0f} over 72 h (tanks help by {store:.1f} m3/h at"
                  f" most); beyond: {', '.join(found.without)}", flush=True)  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--first", type=int, default=20310801)
    parser.add_argument("--mill", type=Path)
    parser.add_argument("--futures", type=int, default=0)
    parser.add_argument("--chokes", action="store_true")
    asked = parser.parse_args()
    if asked.mill:
        if asked.chokes:
            chokes_of(asked.mill)
        elif asked.futures:
            futures_of(asked.mill, asked.futures)
        else:
            of_mill(asked.mill)
        return
    statuses: Counter[str] = Counter()
    slowest = (0.0, 0)
    compared(asked.first)  # loads the solvers
    began = time.process_time()
    for seed in range(asked.first, asked.first + asked.cases):
        status, seconds = compared(seed)
        statuses[status] += 1
        slowest = max(slowest, (seconds, seed))
    print(f"{sum(statuses.values())} cases agree: {dict(statuses)}")
    print(f"slowest {slowest[0]:.2f} processor s (case {slowest[1]}; goal 5), all"
          f" {time.process_time() - began:.0f} with HiGHS")  # fmt: skip


if __name__ == "__main__":
    main()
