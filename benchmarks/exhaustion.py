"""Falls of purity by step: do their intervals hold on true days of the demonstration mill?

    python benchmarks/exhaustion.py [--days 40] [--seed 20311130]

Each true day is read once with errors of its own and accounted; the falls found stand beside those
of the true plant, which has laws of its own (`ratoon.demo.works`).
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from ratoon.account.figures.purity_falls import falls
from ratoon.account.figures.works import works_part
from ratoon.account.period import account
from ratoon.base.errors import RatoonError
from ratoon.demo.random_days import random_day
from ratoon.demo.tried import Tried
from ratoon.jobs.strikes.purity_falls import steps_of
from scoring import Bar, demo_mill, report, share
from trials.days import read_day


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=40)
    parser.add_argument("--seed", type=int, default=20311130)
    asked, began = parser.parse_args(), time.perf_counter()
    mill, plant = demo_mill()
    plant.patient = True
    off: dict[str, list[float]] = {}
    failed: list[str] = []
    for number in range(asked.days):
        rng = np.random.default_rng([asked.seed, number])
        try:
            day = random_day(rng, plant)
            truth = Tried(plant, day.given).today
            found = falls(
                steps_of(mill), works_part(account(mill, read_day(mill, day, rng)))["figures"]
            )
        except RatoonError as error:
            failed.append(f"{number}: {error}")
            continue
        for step in steps_of(mill):
            if step.name in found:
                fall, sigma, _ = found[step.name]
                true = 100.0 * (truth[step.before] - truth[step.after])
                off.setdefault(step.name, []).append((fall - true) / sigma)
    bars = [Bar(f"{name}: inside 95 %, %", share([abs(z) < 1.96 for z in of]), 88.0,
                counted=len(of)) for name, of in off.items()]  # fmt: skip
    every = [abs(z) < 1.96 for of in off.values() for z in of]
    bars.append(Bar("all steps: inside 95 %, %", share(every), 92.0, counted=len(every)))
    report(f"falls of purity, seed {asked.seed}", bars, began, failed=failed[:5],
           off={name: round(float(np.mean(of)), 2) for name, of in off.items()})  # fmt: skip


if __name__ == "__main__":
    main()
