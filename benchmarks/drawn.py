"""Drawn mills through the account: does an interval hold, is a clean day clean, is a fault named?

Each mill is drawn apart from the program (`tests/truth`), described by a first file that knows
plates and usual readings, and accounted for some days in memory. A day on which some reading was
drawn beyond three of its uncertainties is a day with a fault. On each mill's first clean day every
reading that the others check (detectability of 0.5 or more) is put wrong by 5/d in turn.

    python benchmarks/drawn.py [--mills 150] [--days 4] [--seed 20310701] [--processes 2]
"""

from __future__ import annotations

import copy
import time
from typing import Any

import numpy as np

from ratoon.account.period import PeriodAccount, account
from scoring import ALL, LEVEL, STEAM, Bar, inside, offs, options, report, share, spread

CHECKED = 0.5
FIRST_SET = 4


def mill(seed: int, number: int, days: int) -> list[dict[str, Any]]:
    """The days of one drawn mill."""
    from accounted import Case

    began = time.perf_counter()
    case = Case(seed, number)
    p = case.true.plate
    kind = f"{p.mills} mills, {p.effects} effects, {len(p.letters)} massecuites, " + (
        "electric" if p.electric else "steam"
    )
    made: list[dict[str, Any]] = []
    tried = False
    for _ in range(days):
        told = case.next()
        day: dict[str, Any] = {"mill": number, "kind": kind, "faults": told.said.faults}
        try:
            found = account(case.mill, told.gathered)
            assert found.answer is not None
        except Exception as error:  # counted, never hidden
            made.append(day | {"failed": f"{type(error).__name__}: {error}"})
            continue
        day |= told_of(found)
        day["off"] = offs(found, told.truth)
        day["sigma"] = {a: found.figure(a).sigma for a in told.truth}
        if not tried and not told.said.faults:
            day["named"], tried = planted(found), True
        made.append(day)
    made[0]["seconds"] = time.perf_counter() - began
    return made


def told_of(found: PeriodAccount) -> dict[str, Any]:
    """What the account says of its readings."""
    answer = found.answer
    assert answer is not None
    whole = found.settled.whole if found.settled else None
    return {
        "p": whole.global_test.p if whole else 0.0, "p_shown": answer.global_test.p,
        "statistic": answer.objective, "dof": answer.dof,
        "suspects": [[s.address, *s.equivalent] for s in found.suspects],
        "aside": list(found.aside), "forced": answer.forced, "at_bound": answer.at_bound,
        "scores": {r.address: round(r.standardised, 2) for r in answer.readings if r.standardised},
    }  # fmt: skip


def planted(found: PeriodAccount) -> dict[str, bool]:
    """For each checked reading, whether an error of 5/d in it stands in the first set.

    The error goes on the reconciled day by the linear statistics, then through the elimination.
    """
    answer = found.answer
    assert answer is not None
    tests, named = answer.tests, {}
    for j, result in enumerate(answer.readings):
        d = result.detectability or 0.0
        if result.kind == "assumed" or not result.redundant or d < CHECKED:
            continue
        size = 5.0 / d * float(np.sqrt(tests.variance[j]))
        wrong = copy.copy(answer)
        for kept in ("tests", "suspects", "readings", "global_test"):
            wrong.__dict__.pop(kept, None)
        wrong.white_residuals = answer.white_residuals + tests.projection @ (
            answer.factor_inverse[:, j] * size
        )
        again = copy.copy(tests)
        again.answer, again.d = wrong, answer.factor_inverse.T @ wrong.white_residuals
        suspects = again.eliminate()
        first = (suspects[0].address, *suspects[0].equivalent) if suspects else ()
        named[result.address] = result.address in first[:1] or (
            result.address in first and len(first) <= FIRST_SET
        )
    return named


def bars(days: list[dict[str, Any]]) -> list[Bar]:
    """What is asked of the days."""
    fine = [d for d in days if "off" in d]
    clean = [d for d in fine if not d["faults"]]
    wrong = [d for d in fine if d["faults"]]
    made = [Bar("days that have an answer, %", share(["off" in d for d in days]), 100.0,
                counted=len(days))]  # fmt: skip
    low = [d["p"] < LEVEL for d in clean]
    made.append(Bar("clean days: global test under 1 %, %", share(low), high=3.0,
                    counted=len(low)))  # fmt: skip
    hits = inside([d["off"] for d in clean], ALL)
    made.append(Bar("clean days: headline figures inside 95 %, %", share(hits), 93.0, 97.0,
                    len(hits)))  # fmt: skip
    for address in ALL:
        hits = inside([d["off"] for d in clean], [address])
        if hits:
            made.append(Bar(f"clean days: {address}", share(hits), 88.0, 99.0, len(hits)))
    hits = inside([d["off"] for d in clean], [f"account.{x}" for x in STEAM])
    made.append(Bar("clean days: steam figures inside 95 %, %", share(hits), 93.0, 97.0,
                    len(hits)))  # fmt: skip
    hits = inside([d["off"] for d in wrong], ALL)
    made.append(Bar("days with a fault: headline figures inside 95 %, %", share(hits), 90.0,
                    counted=len(hits)))  # fmt: skip
    false = [bool(d["suspects"]) for d in clean]
    made.append(Bar("clean days with a false name, %", share(false), high=3.0, counted=len(false)))
    false = [bool(d["aside"]) for d in clean]
    made.append(Bar("clean days with a reading set aside, %", share(false), high=3.0,
                    counted=len(false)))  # fmt: skip
    named = [v for d in fine for v in d.get("named", {}).values()]
    made.append(Bar("faults of 5/d named first or in a set of four, %", share(named), 85.0,
                    counted=len(named)))  # fmt: skip
    return made


def main() -> None:
    asked = options(__doc__ or "", 150, 4, 20310701)
    began = time.perf_counter()
    jobs = [(asked.seed, n, asked.days) for n in range(asked.mills)]
    days = [day for made in spread(mill, jobs, asked) for day in made]
    statistic = [d["statistic"] / d["dof"] for d in days if d.get("dof") and not d["faults"]]
    report(f"{asked.mills} drawn mills, {asked.days} days each, seed {asked.seed}", bars(days),
           began, statistic_on_dof=round(float(np.mean(statistic)), 2) if statistic else None,
           failed=[d["failed"] for d in days if "failed" in d][:5])  # fmt: skip


if __name__ == "__main__":
    main()
