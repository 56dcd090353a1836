"""Advice tried on the truth: from noisy accounts of true days, does what was said come true?

Each true day of the demonstration mill is read again and again with errors of its own; each account
gives its best settings and what they are said to gain, with its interval; those settings are then
set on the true mill, which has laws of its own (`ratoon.demo.works`).

    python benchmarks/advice.py [--days 3] [--mills 200] [--seed 20311210] [--rate free]

`--mills` is the number of accounts, shared between the days. Free and held rate by turns, or one
alone.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

import numpy as np

from ratoon.account.period import account
from ratoon.account.readings.given import from_account
from ratoon.base.errors import RatoonError
from ratoon.demo.random_days import random_day
from ratoon.demo.tried import Tried
from ratoon.plans.best.moves import draws
from ratoon.plans.best.search import MillSearch, Rate
from scoring import Bar, demo_mill, report, share
from trials.days import read_day

RATES: tuple[Rate, ...] = ("held", "free")


def tried(search: MillSearch, truth: Tried, gathered: Any, rate: Rate, count: int,
          ) -> dict[str, Any]:  # fmt: skip
    """One account's advice: what it was said to gain an hour, and what it gains on the truth."""
    answer = account(search.mill, gathered).answer
    assert answer is not None
    given = from_account(search.plant, answer, gathered.constants)
    found = search.ask(given, answer.state, rate)
    gain = draws(search, found, answer, count).gain
    low, high = np.quantile(gain, (0.025, 0.975))
    then = truth.at(search.handed_back(found))
    return {
        "said": float(search.money(found.best.values) - search.money(found.today.values)),
        "low": float(low), "high": float(high), "sigma": float(gain.std()),
        "came": float(search.money(then) - search.money(truth.today)), "rate": rate,
        "p": answer.global_test.p,
    }  # fmt: skip


def bars(rows: list[dict[str, Any]], what: str) -> list[Bar]:
    inside = [r["low"] <= r["came"] <= r["high"] for r in rows]
    return [Bar(f"{what}: gain on the truth inside what was said, %", share(inside), 90.0,
                counted=len(rows)),
            Bar(f"{what}: loses money on the truth, %", share([r["came"] < 0.0 for r in rows]),
                high=5.0, counted=len(rows))]  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    for name, usual in (("days", 3), ("mills", 200), ("seed", 20311210), ("draws", 100)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--rate", choices=RATES)
    parser.add_argument("--keep", type=Path, help="file for every account's row, as JSON lines")
    asked, began = parser.parse_args(), time.perf_counter()
    rates: tuple[Rate, ...] = (asked.rate,) if asked.rate else RATES
    mill, plant = demo_mill()
    plant.patient = True
    search = MillSearch(mill, mill.settings.best)
    rows: list[dict[str, Any]] = []
    failed: list[str] = []
    for number in range(asked.days):
        day = random_day(np.random.default_rng([asked.seed, number]), plant)
        truth = Tried(plant, day.given)
        for k in range(asked.mills // asked.days):
            gathered = read_day(mill, day, np.random.default_rng([asked.seed, number, k]))
            try:
                row = tried(search, truth, gathered, rates[k % len(rates)], asked.draws)
                rows.append(row | {"day": number})
                if asked.keep:
                    with asked.keep.open("a", encoding="utf-8") as file:
                        file.write(json.dumps(rows[-1]) + "\n")
            except RatoonError as error:
                failed.append(f"{number} {k}: {error}")
    made = [bar for rate in rates for bar in bars([r for r in rows if r["rate"] == rate],
                                                  f"rate {rate}")]  # fmt: skip
    made += bars(rows, "together")
    off = [(r["came"] - r["said"]) / r["sigma"] for r in rows]
    report(f"advice on the truth, seed {asked.seed}", made, began, failed=failed[:5],
           said=round(float(np.median([r["said"] for r in rows]))),
           came=round(float(np.median([r["came"] for r in rows]))),
           off=[round(float(x), 2) for x in np.quantile(off, (0.025, 0.5, 0.975))])  # fmt: skip


if __name__ == "__main__":
    main()
