"""How often the 95 % intervals of a week and of a season to date hold the truth.

    python benchmarks/weeks.py [--seasons N] [--first N] [--days N] [--seed N]

Each simulated season draws every common error and every assumption once, a calibrated instrument's
anew on its date; its first week and its season to date go through the real account.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from ratoon.demo.write import mill_text

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from trials.days import coverage
from trials.weeks import run_stretches

PARTS = 10


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seasons", type=int, default=300)
    ask.add_argument("--first", type=int, default=0, help="number of the first season")
    ask.add_argument("--days", type=int, default=28)
    ask.add_argument("--seed", type=int, default=20310615)
    given = ask.parse_args()
    begun, last = time.monotonic(), given.first + given.seasons
    with ProcessPoolExecutor(2) as pool:
        jobs = [pool.submit(run_stretches, mill_text(), given.seed,
                            range(given.first + part, last, PARTS), given.days)
                for part in range(PARTS)]  # fmt: skip
        found = [pair for job in jobs for pair in job.result()]
    for name, stretches in (("week", [w for w, _ in found]), ("season", [s for _, s in found])):
        shares = coverage(stretches)
        together = shares.pop("all")
        failed = sum(1 for s in stretches if s.failed)
        print(f"{name}: {len(stretches)} accounts, {failed} failed; all figures together "
              f"{100 * together:.1f} %")  # fmt: skip
        for figure, share in sorted(shares.items(), key=lambda x: x[1]):
            print(f"  {figure:24s} {100 * share:.1f} %")
    print(f"{time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()
