"""Draws of the second district, from files to statements: `python benchmarks/districts.py [DRAWS]`.

Each draw is a month of an invented district that knows nothing of the program's own laws, with its
faults planted (`tests/ledger/district.py`). On every draw each kilogram weighed is paid, held or
refused, and none is paid twice, or the run ends there; of all together the shares are printed,
each with the goal beside it. A draw's laboratory has one lasting error in all its cane, so few
draws say little of whole intervals: beside them stands how often an error holds once the draw's
mean is taken off, against the parcel's own uncertainty. `--first N` begins with another draw.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from ledger.scored import scored, shares

GOALS = {"intervals hold": "0.93 to 0.97", "held for nothing": "below 0.01",
         "mislabels named": "0.80 or more"}  # fmt: skip
BEFORE = 24
"""Short days before the two whole ones: a fortnight of history before the week that is judged."""


def one(seed: int) -> Counter[str]:
    """Counts of one draw."""
    with tempfile.TemporaryDirectory() as folder:
        return scored(Path(folder), seed, BEFORE)


def main() -> None:
    """Run the draws, two at a time, and print what they come to."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("draws", type=int, nargs="?", default=30)
    ask.add_argument("--first", type=int, default=0)
    given = ask.parse_args()
    found: Counter[str] = Counter()
    with ProcessPoolExecutor(2) as pool:
        for counts in pool.map(one, range(given.first, given.first + given.draws)):
            found.update(counts)
            print(f"{found['draws']} draws: every kilogram paid, held or refused", file=sys.stderr)
    for name, count in sorted(found.items()):
        print(f"{name:28} {count:7d}")
    for name, share in shares(found).items():
        print(f"{name:28} {share:7.3f}   {GOALS.get(name, '')}")


if __name__ == "__main__":
    main()
