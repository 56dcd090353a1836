"""Random strike-planning cases against HiGHS: `python benchmarks/floor.py [--cases N] [--first N]`.

Each case (`tests/floor/drawn.py`) is planned by the program and by a linear programme in whole
starts written apart (`tests/floor/milp.py`); statuses and all aims must agree, each plan is
replayed by a checker that shares no code with either, and of each refusal the limits named must
contradict one another, and no longer do so without any one of them.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from floor.agree import compared


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--first", type=int, default=20310801)
    asked = parser.parse_args()
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
