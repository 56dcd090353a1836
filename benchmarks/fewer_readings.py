"""Less is read: each reading dropped in turn, and random halves, on drawn mills and the demo.

A clean day stays a clean day with less of it: the global test at 1 % rejects no more than chance,
and no headline figure moves by more than four of its new uncertainties.

    python benchmarks/fewer_readings.py [--mills 12] [--days 1] [--seed 20310702] [--processes 2]
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import numpy as np

from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gathered import Gathered
from scoring import ALL, LEVEL, Bar, demo_day, options, report, share, spread

HALVES = 20
MOVED = 4.0


def of_drawn(seed: int, number: int, days: int) -> list[dict[str, Any]]:
    """The first clean days of one drawn mill, each with less and less."""
    from accounted import Case

    case, rng = Case(seed, number), np.random.default_rng([seed, number, 1])
    made: list[dict[str, Any]] = []
    for _ in range(40):
        told = case.next()
        if not told.said.faults:
            made += less(case.mill, told.gathered, rng, f"drawn {number}")
            days -= 1
        if days == 0:
            break
    return made


def of_demo(seed: int, number: int, days: int) -> list[dict[str, Any]]:
    """Random days of the demonstration mill."""
    made: list[dict[str, Any]] = []
    for k in range(days):
        rng = np.random.default_rng([seed, 1000 + number, k])
        mill, gathered, _ = demo_day(rng)
        made += less(mill, gathered, rng, "demo")
    return made


def less(mill: Mill, whole: Gathered, rng: np.random.Generator, what: str,
         ) -> list[dict[str, Any]]:  # fmt: skip
    """The day with each reading dropped, then with random halves."""
    before = account(mill, _with(whole, list(whole.readings)))
    addresses = [r.address for r in whole.readings]
    made = []
    for dropped in addresses:
        left = [r for r in whole.readings if r.address != dropped]
        made.append(_tried(mill, whole, left, before) | {"what": what, "dropped": dropped})
    for _ in range(HALVES):
        kept = rng.random(len(addresses)) < 0.5
        left = [r for r, k in zip(whole.readings, kept) if k]
        made.append(_tried(mill, whole, left, before) | {"what": what, "dropped": "half"})
    return made


def _with(whole: Gathered, readings: list[Any]) -> Gathered:
    return replace(whole, readings=readings, notes=list(whole.notes), shown=list(whole.shown))


def _tried(mill: Mill, whole: Gathered, left: list[Any], before: PeriodAccount,
           ) -> dict[str, Any]:  # fmt: skip
    try:
        found = account(mill, _with(whole, left))
        assert found.answer is not None
    except Exception as error:  # counted, never hidden
        return {"failed": f"{type(error).__name__}: {error}"}
    moved = {}
    for address in ALL:
        was, now = before.figure(address), found.figure(address)
        if was.value is not None and now.value is not None and now.sigma:
            moved[address] = (now.value - was.value) / now.sigma
    return {"p": found.answer.global_test.p, "moved": moved}


def bars(tried: list[dict[str, Any]]) -> list[Bar]:
    """What is asked, for single readings and for halves."""
    made = []
    for what, mine in (
        ("one dropped", [t for t in tried if t["dropped"] != "half"]),
        ("halves", [t for t in tried if t["dropped"] == "half"]),
    ):
        fine = [t for t in mine if "p" in t]
        made.append(Bar(f"{what}: days that have an answer, %", share(["p" in t for t in mine]),
                        100.0, counted=len(mine)))  # fmt: skip
        made.append(Bar(f"{what}: rejected at 1 %, %", share([t["p"] < LEVEL for t in fine]),
                        high=3.0, counted=len(fine)))  # fmt: skip
        far = [abs(z) > MOVED for t in fine for z in t["moved"].values()]
        made.append(Bar(f"{what}: figures moved by more than 4 sigma, %", share(far), high=0.0,
                        counted=len(far)))  # fmt: skip
    return made


def main() -> None:
    asked = options(__doc__ or "", 12, 1, 20310702)
    began = time.perf_counter()
    jobs = [(asked.seed, n, asked.days) for n in range(asked.mills)]
    tried = [t for made in spread(of_drawn, jobs, asked) for t in made]
    demo = [(asked.seed, n, asked.days) for n in range(4)]
    tried += [t for made in spread(of_demo, demo, asked) for t in made]
    far = sorted({(t["dropped"], a) for t in tried for a, z in t.get("moved", {}).items()
                  if abs(z) > MOVED})  # fmt: skip
    report(f"fewer readings: {asked.mills} drawn mills and the demo, seed {asked.seed}",
           bars(tried), began, failed=[t["failed"] for t in tried if "failed" in t][:5],
           moved=far[:10])  # fmt: skip


if __name__ == "__main__":
    main()
