"""Days of the demonstration mill with a planted fault: does the headline still hold the truth?

Each day is drawn about the demonstration's truth; one reading that the others check is put wrong
by 5/d of its uncertainties or more, of either sign.

    python benchmarks/demo_faults.py [--days 60] [--seed 20310704] [--processes 2]
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import numpy as np

from ratoon.account.period import account
from scoring import ALL, Bar, demo_day, inside, named_in, offs, options, report, share, spread

CHECKED = 0.5
UP_TO = 3.0  # times the smallest fault


def day(seed: int, number: int) -> dict[str, Any]:
    """One day with a fault."""
    rng = np.random.default_rng([seed, number])
    mill, gathered, truth = demo_day(rng)
    sound = account(mill, replace(gathered, notes=[], shown=[]))
    assert sound.answer is not None
    checked = [r for r in sound.answer.readings
               if r.kind == "measured" and (r.detectability or 0.0) >= CHECKED]  # fmt: skip
    chosen = checked[int(rng.integers(len(checked)))]
    size = 5.0 / float(chosen.detectability or 1.0) * float(rng.uniform(1.0, UP_TO))
    size *= 1.0 if rng.random() < 0.5 else -1.0
    readings = []
    for r in gathered.readings:
        if r.address == chosen.address:
            sigma = ((r.sigma or 0.0) ** 2 + (r.common or 0.0) ** 2) ** 0.5
            r = replace(r, value=r.value + size * sigma)
        readings.append(r)
    told: dict[str, Any] = {"day": number, "fault": chosen.address, "size": size}
    try:
        found = account(mill, replace(gathered, readings=readings, notes=[], shown=[]))
        assert found.answer is not None
    except Exception as error:  # counted, never hidden
        return told | {"failed": f"{type(error).__name__}: {error}"}
    return told | {"off": offs(found, truth, [a for a in ALL if a in truth]),
                   "before": offs(sound, truth, [a for a in ALL if a in truth]),
                   "named": named_in(found, (chosen.address,))}  # fmt: skip


def main() -> None:
    asked = options(__doc__ or "", 1, 60, 20310704)
    began = time.perf_counter()
    days = spread(day, [(asked.seed, n) for n in range(asked.days)], asked)
    fine = [d for d in days if "off" in d]
    hits = inside([d["off"] for d in fine], ALL)
    bars = [
        Bar("days that have an answer, %", share(["off" in d for d in days]), 100.0,
            counted=len(days)),
        Bar("headline truth inside 95 %, %", share(hits), 92.0, counted=len(hits)),
        Bar("faults named, %", share([d["named"] for d in fine]), 85.0, counted=len(fine)),
    ]  # fmt: skip
    for name in ("boiling_house_recovery", "overall_recovery", "pol_in_cane", "extraction"):
        hits = inside([d["off"] for d in fine], [f"account.{name}"])
        bars.append(Bar(f"  {name} inside 95 %, %", share(hits), 92.0, counted=len(hits)))
    hits = inside([d["before"] for d in fine], ALL)
    bars.append(Bar("the same days without the fault, %", share(hits), 92.0, counted=len(hits)))
    report(f"{asked.days} demonstration days with a fault, seed {asked.seed}", bars, began,
           failed=[d["failed"] for d in days if "failed" in d][:5])  # fmt: skip


if __name__ == "__main__":
    main()
