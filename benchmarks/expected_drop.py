"""Whether a strike's expected drop holds, two thirds through: `python benchmarks/expected_drop.py`.

The strikes are the invented mill's, boiled by a law of its own; each of the later ones is cut off
two thirds through and told from those before. Against its truth: how often the 95 % interval holds
it, and the error beside that of the grade's average of the strikes before.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from false_grain import FORTNIGHT, WAYS, Mill, mill_text, parse_settings, simulate, written
from ratoon.demo.boiling import boil
from ratoon.demo.floor_log import name_of
from ratoon.demo.strikes import strikes_of
from ratoon.plant.pan.expected import FEWEST, expected

SEED, Z95, EACH = 20311312, 1.96, 25


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=SEED)
    asked.add_argument("--each", type=int, default=EACH)
    given = asked.parse_args()
    mill = Mill(parse_settings(mill_text()))
    days = simulate(mill, given.seed, FORTNIGHT)
    rng = np.random.default_rng([given.seed, 0])
    grades, truth = [], {}
    for grade in WAYS:
        s = strikes_of(mill, grade, days, rng)
        with np.errstate(invalid="ignore"):
            boil(s, rng)
        grades.append(s)
        for k in range(len(s.pans)):
            if s.volume[k] > 0.4 * np.median(s.volume):
                truth[name_of(s, k)] = {
                    "hours": (s.drop[k] - s.start[k]) / 3600.0, "brix": 100 * s.brix[k],
                    "ma": 1e3 * s.path["ma"][-1][k], "cv": 100 * s.path["cv"][-1][k],
                    "purity": 100 * s.purity[k],
                }  # fmt: skip
    told = [t for t in written(mill, days, grades, rng) if t.id in truth]
    for grade in WAYS:
        own = [t for t in told if t.grade == grade and t.drop]
        off, average, held = (defaultdict(list) for _ in range(3))
        later = own[FEWEST + 12 :]
        for t in later[:: max(len(later) // given.each, 1)]:
            assert t.drop is not None
            cut = t.start + (t.drop - t.start) * 2 / 3
            running = replace(t, rows=tuple(r for r in t.rows if r.time <= cut),
                              trace=tuple(p for p in t.trace if p.time <= cut))  # fmt: skip
            found = expected(running, own)
            if found is None:
                continue
            past = [truth[o.id] for o in own if o.drop and o.drop <= cut]
            figures = {"hours": ((found.at - t.start).total_seconds() / 3600.0,
                                 found.sigma.total_seconds() / 3600.0)}  # fmt: skip
            for name in ("brix", "ma", "cv", "purity"):
                if (f := getattr(found, name)) is not None:
                    figures[name] = f.value, f.sigma
            for name, (value, sigma) in figures.items():
                true = truth[t.id][name]
                off[name].append(value - true)
                average[name].append(np.mean([p[name] for p in past]) - true)
                held[name].append(abs(value - true) <= Z95 * sigma)
        for name, errors in off.items():
            ours, theirs = (float(np.sqrt(np.mean(np.square(e)))) for e in (errors, average[name]))
            print(f"{grade} {name}: {len(errors)} strikes, error {ours:.3f}, of the average "
                  f"{theirs:.3f} (ratio {ours / theirs:.2f}), in its interval "
                  f"{100 * np.mean(held[name]):.0f} %", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
