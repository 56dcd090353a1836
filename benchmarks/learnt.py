"""What a mill learns from its days: the same honesty afterwards, and narrower.

Each drawn mill is accounted for some days with its first file, learns from them, and is accounted
on days that it did not learn from, with the first file and with the one that it learnt.

    python benchmarks/learnt.py [--mills 30] [--days 20] [--seed 20310706] [--processes 2]
"""

from __future__ import annotations

import time
from datetime import timedelta
from typing import Any

import numpy as np

from ratoon.account.learn import learn, taught
from ratoon.account.period import account
from scoring import ALL, LEVEL, Bar, inside, offs, options, report, share, spread

UNSEEN = 6  # days beyond those learnt from
UNDETERMINED = "account.undetermined"


def mill(seed: int, number: int, days: int) -> list[dict[str, Any]]:
    """The days that one drawn mill did not learn from, before and after."""
    from accounted import FIRST, Case, gathered

    case = Case(seed, number)
    told = [case.next() for _ in range(days + UNSEEN)]
    try:
        learnt = learn([account(case.mill, t.gathered) for t in told[:days]])
        wiser = taught(case.mill, learnt)
    except Exception as error:  # counted, never hidden
        return [{"mill": number, "failed": f"{type(error).__name__}: {error}"}]
    made: list[dict[str, Any]] = []
    for k, t in enumerate(told[days:], days):
        day: dict[str, Any] = {"mill": number, "faults": t.said.faults,
                               "learnt": len(learnt.changes)}  # fmt: skip
        try:
            before = account(case.mill, t.gathered)
            on = FIRST + timedelta(days=k)
            after = account(wiser, gathered(wiser, on, t.said, t.day.hours))
            assert before.answer is not None and after.answer is not None
        except Exception as error:  # counted, never hidden
            made.append(day | {"failed": f"{type(error).__name__}: {error}"})
            continue
        day["off"], day["wiser"] = offs(before, t.truth, ALL), offs(after, t.truth, ALL)
        day["p"], day["p_wiser"] = before.answer.global_test.p, after.answer.global_test.p
        narrower = {}
        for a in ALL:
            was, now = before.figure(a).sigma, after.figure(a).sigma
            if was and now:
                narrower[a] = now / was
        made.append(day | {"narrower": narrower})
    return made


def main() -> None:
    asked = options(__doc__ or "", 30, 20, 20310706)
    began = time.perf_counter()
    jobs = [(asked.seed, n, asked.days) for n in range(asked.mills)]
    days = [day for made in spread(mill, jobs, asked) for day in made]
    fine = [d for d in days if "wiser" in d]
    clean, wrong = ([d for d in fine if bool(d["faults"]) == fault] for fault in (False, True))
    low = [d["p_wiser"] < LEVEL for d in clean]
    hits = inside([d["wiser"] for d in clean], ALL)
    bars = [
        Bar("mills and days that have an answer, %", share(["wiser" in d for d in days]), 100.0,
            counted=len(days)),
        Bar("learnt, clean days: global test under 1 %, %", share(low), high=3.0,
            counted=len(low)),
        Bar("learnt, clean days: headline inside 95 %, %", share(hits), 93.0, 97.0, len(hits)),
    ]  # fmt: skip
    for a in ALL:
        hits = inside([d["wiser"] for d in clean], [a])
        if hits:
            bars.append(Bar(f"learnt, clean days: {a}", share(hits), 88.0, 99.0, len(hits)))
    hits = inside([d["wiser"] for d in wrong], ALL)
    bars.append(Bar("learnt, days with a fault: headline inside 95 %, %", share(hits), 90.0,
                    counted=len(hits)))  # fmt: skip
    ratio = [d["narrower"][UNDETERMINED] for d in fine if UNDETERMINED in d["narrower"]]
    bars.append(Bar("undetermined loss: its uncertainty, % of that before",
                    100.0 * float(np.mean(ratio)) if ratio else float("nan"), high=75.0,
                    counted=len(ratio)))  # fmt: skip
    others = {a: round(float(np.mean([d["narrower"][a] for d in fine if a in d["narrower"]])), 2)
              for a in ALL if any(a in d["narrower"] for d in fine)}  # fmt: skip
    title = f"{asked.mills} drawn mills that learnt from {asked.days} days, seed {asked.seed}"
    report(title, bars, began, narrower=others,
           failed=[d["failed"] for d in days if "failed" in d][:5])  # fmt: skip


if __name__ == "__main__":
    main()
