"""What a mill learns from its days: the same honesty afterwards, and narrower.

Each drawn mill is accounted for some days with its first file, learns from them, and is accounted
on days that it did not learn from, with the first file and with the one that it learnt. On these
days the undetermined loss is told with the season's earlier days as well.

    python benchmarks/learnt.py [--mills 30] [--days 20] [--seed 20310706] [--processes 2]
"""

from __future__ import annotations

import time
from datetime import date, timedelta
from typing import Any

import numpy as np

from ratoon.account.learn import learn, taught
from ratoon.account.losses.with_season import SectionLosses, section_losses, with_season
from ratoon.account.period import PeriodAccount, account
from scoring import ALL, LEVEL, Z95, Bar, inside, offs, options, report, share, spread

UNSEEN = 6  # days beyond those learnt from
UNDETERMINED = "account.undetermined"


def mill(seed: int, number: int, days: int) -> list[dict[str, Any]]:
    """The days that one drawn mill did not learn from, before and after."""
    from accounted import FIRST, Case, gathered

    case = Case(seed, number)
    told = [case.next() for _ in range(days + UNSEEN)]
    try:
        done = [account(case.mill, t.gathered) for t in told[:days]]
        learnt = learn(done)
        wiser = taught(case.mill, learnt)
    except Exception as error:  # counted, never hidden
        return [{"mill": number, "failed": f"{type(error).__name__}: {error}"}]
    earlier = [x for a in done if (x := dated(a))]
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
        sigma = before.figure(UNDETERMINED).sigma
        today = [x for x in (dated(before), dated(after)) if x]
        if sigma and len(today) == 2:
            day["season"] = [led(x, earlier, a, t.truth[UNDETERMINED], sigma)
                             for x, a in zip(today, (before, after), strict=True)]  # fmt: skip
            earlier.append(today[0])
        made.append(day | {"narrower": narrower})
    return made


def dated(done: PeriodAccount) -> tuple[date, SectionLosses] | None:
    """A day's losses by section, by the first day of its week."""
    losses = section_losses(done)
    calendar = done.mill.calendar
    day = calendar.day_of(done.gathered.period.start)
    return None if losses is None else (calendar.first_of_week(day), losses)


def led(
    today: tuple[date, SectionLosses], earlier: list[tuple[date, SectionLosses]],
    done: PeriodAccount, truth: float, before: float,
) -> dict[str, Any]:  # fmt: skip
    """How far alone and with the season are from the truth, and how wide."""
    figure = done.figure(UNDETERMINED)
    told = with_season(today[1], earlier)
    alone = ((figure.value or 0.0) - truth, figure.sigma or before)
    season = alone if told is None else (told.pct - truth, told.pct_sigma)
    both = {"alone": alone, "with": season}
    return {n: [off / sigma, sigma / before] for n, (off, sigma) in both.items()}


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
    for n, text in (("alone", "by the day alone"), ("with", "with the season")):
        for k, file in enumerate(("first file", "learnt")):
            seen = [d["season"][k][n] for d in clean if "season" in d]
            hits = [abs(off) < Z95 for off, _ in seen]
            bars.append(Bar(f"undetermined loss {text}, {file}: inside 95 %, %", share(hits), 88.0,
                            99.5, len(hits)))  # fmt: skip
            wide = 100.0 * float(np.mean([w for _, w in seen])) if seen else float("nan")
            bars.append(Bar("  its uncertainty, % of the day alone with the first file", wide,
                            high=100.0 if n == "alone" else 75.0, counted=len(seen)))  # fmt: skip
    others = {a: round(float(np.mean([d["narrower"][a] for d in fine if a in d["narrower"]])), 2)
              for a in ALL if any(a in d["narrower"] for d in fine)}  # fmt: skip
    title = f"{asked.mills} drawn mills that learnt from {asked.days} days, seed {asked.seed}"
    report(title, bars, began, narrower=others,
           failed=[d["failed"] for d in days if "failed" in d][:5])  # fmt: skip


if __name__ == "__main__":
    main()
