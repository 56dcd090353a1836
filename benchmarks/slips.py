"""Planted slips of typing on drawn mills: the day answers, names them, and its headline holds.

Ten times, a tenth, swapped with a neighbour, wrong sign, wrong unit (degF, bar, kg), two digits
exchanged: one slip on each day, the rest of the day as it was read.

    python benchmarks/slips.py [--mills 60] [--days 5] [--seed 20310703] [--processes 2]
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import numpy as np

from ratoon.account.period import PeriodAccount, account
from scoring import ALL, Bar, named_in, options, report, share, spread

SLIPS = ("ten times", "a tenth", "swapped", "wrong sign", "wrong unit", "digits exchanged")
LARGE = 5.0
WITHIN = 2.0


def slipped(rng: np.random.Generator, kind: str, values: dict[str, float], units: dict[str, str],
            ) -> tuple[dict[str, float], tuple[str, ...]] | None:  # fmt: skip
    """The day's values with one slip, and the readings that it spoils."""
    addresses = list(values)
    a = addresses[int(rng.integers(len(addresses)))]
    v, unit = values[a], units[a]
    if kind == "swapped":
        at = addresses.index(a)
        b = addresses[at + 1 if at + 1 < len(addresses) else at - 1]
        if units[b] != unit or values[b] == v:
            return None
        return values | {a: values[b], b: v}, (a, b)
    if kind == "wrong unit":
        wrong = {"degC": 1.8 * v + 32.0, "kPa a": v / 100.0, "t": 1000.0 * v}.get(unit)
        if wrong is None:
            return None
    elif kind == "digits exchanged":
        text = f"{v:.4g}"
        pairs = [k for k in range(len(text) - 1)
                 if text[k : k + 2].isdigit() and text[k] != text[k + 1]]  # fmt: skip
        if not pairs:
            return None
        k = pairs[int(rng.integers(len(pairs)))]
        wrong = float(text[:k] + text[k + 1] + text[k] + text[k + 2 :])
    else:
        wrong = {"ten times": 10.0 * v, "a tenth": 0.1 * v, "wrong sign": -v}[kind]
    return values | {a: wrong}, (a,)


def mill(seed: int, number: int, days: int) -> list[dict[str, Any]]:
    """Days of one drawn mill, each with a slip of a kind in turn."""
    from accounted import FIRST, Case, gathered

    case, rng = Case(seed, number), np.random.default_rng([seed, number, 2])
    units = {a: i.unit for a, i in case.mill.addresses.items()}
    made = []
    for k in range(days):
        told = case.next()
        kind = SLIPS[(number * days + k) % len(SLIPS)]
        found = None
        while found is None:
            found = slipped(rng, kind, told.said.values, units)
        values, spoilt = found
        before = account(case.mill, told.gathered)
        said = replace(told.said, values=values)
        day: dict[str, Any] = {"mill": number, "kind": kind, "spoilt": spoilt}
        day["size"] = max(_size(before, a, told.said.values[a], values[a]) for a in spoilt)
        try:
            wrong = account(case.mill, gathered(case.mill, FIRST, said, told.day.hours))
            assert wrong.answer is not None
        except Exception as error:  # counted, never hidden
            made.append(day | {"failed": f"{type(error).__name__}: {error}"})
            continue
        day["named"] = named_in(wrong, spoilt)
        day["moved"] = {}
        for address in ALL:
            was, now = before.figure(address), wrong.figure(address)
            if was.value is not None and was.sigma and now.value is not None:
                day["moved"][address] = (now.value - was.value) / was.sigma
        made.append(day)
    return made


def _size(before: PeriodAccount, address: str, was: float, now: float) -> float:
    """Of a slip, in uncertainties times the detectability of its reading."""
    answer = before.answer
    assert answer is not None
    for r in answer.readings:
        if r.address == address and r.reading.value:
            sigma = (r.reading.sigma or 0.0) ** 2 + (r.reading.common or 0.0) ** 2
            if sigma <= 0.0 or was == 0.0:
                return 0.0
            # both in the trade unit; a shift in it is the same share of the uncertainty
            per_unit = before.mill.addresses[address].unit
            from ratoon.base.units import spread_to_inside

            moved = spread_to_inside(abs(now - was), per_unit)
            if before.seconds_of(address, per_unit) != 1.0:
                moved /= before.seconds_of(address, per_unit)
            return float(moved / sigma**0.5 * (r.detectability or 0.0))
    return 0.0


def main() -> None:
    asked = options(__doc__ or "", 60, 5, 20310703)
    began = time.perf_counter()
    jobs = [(asked.seed, n, asked.days) for n in range(asked.mills)]
    days = [day for made in spread(mill, jobs, asked) for day in made]
    fine = [d for d in days if "moved" in d]
    large = [d for d in days if d["size"] >= LARGE]
    still = [abs(z) <= WITHIN for d in fine for z in d["moved"].values()]
    bars = [
        Bar("days with a slip that have an answer, %", share(["moved" in d for d in days]), 100.0,
            counted=len(days)),
        Bar("slips of 5/d or more that are named, %", share([d.get("named", False)
            for d in large]), 95.0, counted=len(large)),
        Bar("headline within 2 sigma of the unspoilt account, %", share(still), 95.0,
            counted=len(still)),
    ]  # fmt: skip
    for kind in SLIPS:
        mine = [d.get("named", False) for d in large if d["kind"] == kind]
        if mine:
            bars.append(Bar(f"  named: {kind}, %", share(mine), 95.0, counted=len(mine)))
    missed = [(d["kind"], d["spoilt"], round(d["size"], 1)) for d in large if not d.get("named")]
    report(f"slips of typing on {asked.mills} drawn mills, seed {asked.seed}", bars, began,
           failed=[d["failed"] for d in days if "failed" in d][:5], missed=missed[:10])  # fmt: skip


if __name__ == "__main__":
    main()
