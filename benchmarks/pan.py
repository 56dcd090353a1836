"""The batch pan: speed of a strike, and anything done at any time: `python benchmarks/pan.py`.

A strike is timed against SciPy's `solve_ivp` on the same compiled rates at the same tolerance, in
processor seconds of one run. Then strikes are boiled in which feed is cut, vacuum lost, steam shut
off, water fed, seed missed (`tests/pans/strikes.py`): each ends with figures or with a reason.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from pans.strikes import a_strike, anything, b_strike, c_strike
from ratoon.plant.pan.strike import balances, given_of

TOLERANCE = 1e-9


def speeds() -> None:
    for name, asked in (("A", a_strike()), ("B", b_strike()), ("C", c_strike())):
        pan, start, switches, events, seconds = asked
        pan.strike(start, switches, events, seconds)
        began = time.process_time()
        for _ in range(20):
            strike = pan.strike(start, switches, events, seconds)
        each = (time.process_time() - began) / 20
        print(f"{name} strike {1e3 * each:.1f} ms of processor (goal 5), balances"
              f" {max(map(abs, balances(strike).values())):.0e}")  # fmt: skip
    pan, start, switches, _, seconds = a_strike()
    motion, given = pan.motion(True, True), given_of(switches)
    motion.run(start, given, seconds)
    began = time.process_time()
    for _ in range(20):
        motion.run(start, given, seconds)
    ours = (time.process_time() - began) / 20
    for method in ("LSODA", "BDF", "Radau"):
        began = time.process_time()
        solve_ivp(lambda _, y: motion.rates(y, given), (0.0, seconds), start, method=method,
                  rtol=TOLERANCE, atol=TOLERANCE / 100.0)  # fmt: skip
        theirs = time.process_time() - began
        print(f"one piece {1e3 * ours:.2f} ms, {method} {theirs / ours:.0f} times (goal 20)")


def anything_done(operations: int, first: int) -> None:
    told: Counter[str] = Counter()
    worst, done, began = 0.0, 0, time.process_time()
    seed = first
    while done < operations:
        pan, start, switches, events, seconds = anything(seed)
        strike = pan.strike(start, switches, events, seconds)
        states, figures = np.array(strike.states), np.array(strike.figures)
        assert np.isfinite(states).all() and np.isfinite(figures).all(), seed
        worst = max(worst, *map(abs, balances(strike).values()))
        told[strike.why.split(":")[0].split(" of ")[0] or "boiled to its end"] += 1
        done, seed = done + len(events), seed + 1
    print(f"{done} operations in {seed - first} strikes, {time.process_time() - began:.0f} s:"
          f" no figure that is none, balances within {worst:.0e}")  # fmt: skip
    for why, count in told.most_common():
        print(f"  {count:5d}  {why}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--operations", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=20310901)
    asked = parser.parse_args()
    speeds()
    anything_done(asked.operations, asked.first)


if __name__ == "__main__":
    main()
