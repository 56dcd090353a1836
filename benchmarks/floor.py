"""Random strike-planning cases against HiGHS: `python benchmarks/floor.py [--cases N] [--first N]`.

Each case (`tests/floor/drawn.py`) is planned by the program and by a linear programme in whole
starts written apart (`tests/floor/milp.py`); statuses and all aims must agree, each plan is
replayed by a checker that shares no code with either, and of each refusal the limits named must
contradict one another, and no longer do so without any one of them.

With `--mill DIR` instead the floor of a mill: 24 and 48 hours, at 10 % more cane, and again after
pans are lost, with how many of the later starts move by more than an hour.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from floor.agree import compared


def of_mill(folder: Path) -> None:
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.strikes.floor import FloorAsked, case_of, keeping_to
    from ratoon.plans.floor.case import FloorCase
    from ratoon.plans.floor.result import FloorResult
    from ratoon.plans.floor.search import plan_floor

    def told(name: str, case: FloorCase) -> FloorResult:
        began = time.process_time()
        plan = plan_floor(case, 60.0)
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
            again = told(f"{pan} lost for 8 h", keeping_to(case, whole))
            far = sum(abs(a - b) > 1.0 for t in tasks
                      for a, b in zip(starts(whole, t), starts(again, t)))  # fmt: skip
            print(f"  {far} of {sum(len(starts(whole, t)) for t in tasks)} starts moved over 1 h")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--first", type=int, default=20310801)
    parser.add_argument("--mill", type=Path)
    asked = parser.parse_args()
    if asked.mill:
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
