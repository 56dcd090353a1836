"""The refinery's year: seconds of its programme, its rule beside the plan, chances beside a truth.

    python benchmarks/refinery.py speed             52 weeks, 4 mills, 3 brands, 2 sheds, 6 products
    python benchmarks/refinery.py rule [--cases 8]  cost of spill and shortage on 10,000 other years
    python benchmarks/refinery.py prices [--cases 3]  each printed price beside solving again
    python benchmarks/refinery.py truth [--cases 300]

Cases are drawn by `tests/refinery/drawn.py`. The truth is another: days, a season that is good or
bad, spells of bad weeks, breakdowns; sales go on one day a week. What the program is told of it is
the plan and how far twelve earlier seasons came off theirs. Each case is then lived once.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

EARLIER, OTHERS, MOST = 12, 10_000, 3.0
CHANCES = "full", "empty", "short"
Array = np.ndarray[Any, Any]


def speed(seed: int, count: int) -> None:
    """Processor seconds of building and solving, with and without ages."""
    from ratoon.plans.refinery.model import year_of
    from ratoon.plans.refinery.reading import read_case
    from refinery import drawn

    for ages in (False, True):
        took = []
        for n in range(count):
            text = json.dumps(drawn.case(seed + n, 52, 4, 6, ages=ages))
            case = read_case(text, "case")
            began = time.process_time()
            found = year_of(case).program.solved()
            took.append(time.process_time() - began)
            print(f"{'13 ages' if ages else 'one age'}, seed {seed + n}: {took[-1]:.2f} s,"
                  f" {'no plan' if found is None else f'{found.money:,.0f}'}")  # fmt: skip
        print(f"middle {np.median(took):.2f} s, most {max(took):.2f} s")


def rule(seed: int, count: int) -> None:
    """The rule and the plan as it is on the same other years."""
    from ratoon.plans.refinery.futures import drawn as futures
    from ratoon.plans.refinery.futures import lived, unanswered, whole_of
    from ratoon.plans.refinery.model import year_of
    from ratoon.plans.refinery.reading import read_case
    from ratoon.plans.refinery.rule import FUTURES, rule_for
    from refinery import drawn

    total = np.zeros(2)
    for n in range(count):
        case = read_case(json.dumps(drawn.case(seed + n, 52, 4, 6)), "case")
        year = year_of(case)
        found = year.program.solved()
        if found is None:
            print(f"seed {seed + n}: no plan")
            continue
        whole = whole_of(case, year, found)
        rngs = [np.random.default_rng(s) for s in np.random.SeedSequence(seed + n).spawn(2)]
        began = time.process_time()
        answers = rule_for(whole, futures(case, rngs[0], FUTURES))
        took = time.process_time() - began
        make = futures(case, rngs[1], OTHERS)
        came = [lived(whole, a, make) for a in (unanswered(whole), answers)]
        cost = [c.cost(whole) for c in came]
        total += cost
        print(f"seed {seed + n}: rule in {took:.1f} s; spilt"
              f" {came[0].spilt.mean():,.0f} -> {came[1].spilt.mean():,.0f} t, short"
              f" {came[0].short.mean():,.0f} -> {came[1].short.mean():,.0f} t, full"
              f" {came[0].full.mean():.2f} -> {came[1].full.mean():.2f}, cost of both"
              f" {cost[0]:,.0f} -> {cost[1]:,.0f}: {cost[1] / max(cost[0], 1.0):.2f}")  # fmt: skip
    print(f"all: {total[1] / total[0]:.3f} of the plan's cost")


def prices(seed: int, count: int) -> None:
    """Every price against the case solved again, its limit moved in its JSON; last with ages."""
    from ratoon import plan_year
    from refinery import drawn

    for n in range(count):
        told = drawn.case(seed + n, 52, 4, 6, ages=n == count - 1)
        began = time.process_time()
        answer = plan_year(told)
        took, worst, kinks = time.process_time() - began, 0.0, 0
        for x in answer.limits:
            assert x.price is not None and x.holds_to is not None and answer.money is not None
            by = 0.5 * (x.holds_to - x.limit)
            gain = (drawn.moved(told, x, by) - answer.money) / abs(by)
            worst = max(worst, abs(gain / x.price - 1.0))
            kinks += x.other_side is None or abs(x.other_side / x.price - 1.0) > 0.01
        print(f"seed {seed + n}: {len(answer.limits)} limits in {took:.0f} s, farthest from"
              f" solving again {100 * worst:.3f} %, {kinks} with another price on the other"
              " side")  # fmt: skip


class Truth:
    """Mills as they truly are: what a season makes each day of what was planned for it."""

    def __init__(self, rng: np.random.Generator, planned: Array) -> None:
        self.rng, self.planned = rng, planned
        self.good, self.spell = rng.uniform(0.02, 0.08), rng.uniform(0.05, 0.15)
        self.breaks = rng.uniform(0.0, 0.05)

    def season(self) -> Array:
        """Tonnes by day."""
        days = 7 * len(self.planned)
        good = np.exp(self.good * self.rng.standard_t(8) - 0.5 * self.good**2)
        week = 0.0
        made = np.repeat(self.planned / 7.0, 7) * good
        for n in range(len(self.planned)):
            week = 0.4 * week + self.spell * float(self.rng.standard_normal())
            made[7 * n : 7 * n + 7] *= np.exp(week - 0.6 * self.spell**2)
        out = self.rng.random(days) < self.breaks
        share = np.where(out, self.rng.beta(1.0, 2.0, days), 1.0)
        made *= share / (1.0 - self.breaks * 2.0 / 3.0)
        return made


def by_day(whole: Any, answers: Any, made: Array, sale: int) -> tuple[bool, bool, bool]:
    """A year lived day by day: full, empty, short.

    What is planned for a week is melted in seven parts; its sales go on one day, when there must be
    sugar for them. Room and heel are looked at when the week ends, as a stock-take would.
    """
    stock, packed, over, behind = whole.opening, whole.packed, 0.0, 0.0
    full = empty = short = False
    for w in range(len(whole.melt)):
        told = answers.sold[:, w] + answers.sold_more[:, w] * over
        wanted = float(np.clip(told, 0.0, whole.most[:, w]).sum())
        hire = min(max(answers.hired[w] + answers.hired_more[w] * over, 0.0), whole.hire_most[w])
        melted = 0.0
        want = min(whole.melt[w] + behind, max(whole.melt_most[w], whole.melt[w]))
        loaded = 0.0
        for d in range(7):
            stock += made[7 * w + d]
            if d >= sale and wanted > loaded:
                some = min(wanted - loaded, max(stock - whole.heel[w], 0.0))
                stock, loaded = stock - some, loaded + some
            kept = wanted - loaded if d >= sale else 0.0
            some = min(want * (d + 1) / 7 - melted, max(stock - whole.heel[w] - kept, 0.0))
            stock, melted = stock - some, melted + some
        behind += whole.melt[w] - melted
        empty |= loaded < wanted - 0.5 or melted < want - 0.5
        extra = max(stock - whole.room[w] - hire, 0.0)
        full |= extra > 0.5
        stock -= extra
        packed += whole.gives[w] * melted - whole.due[w]
        short |= packed < -0.5
        packed = max(packed, 0.0)
        over += made[7 * w : 7 * w + 7].sum() - whole.make[w]
    return full, empty, short


def truth(seed: int, count: int) -> None:
    """Chances said against what came, a case at a time, under the rule and under the plan."""
    from ratoon.plans.refinery.futures import drawn as futures
    from ratoon.plans.refinery.futures import lived, unanswered, whole_of
    from ratoon.plans.refinery.model import year_of
    from ratoon.plans.refinery.reading import read_case
    from ratoon.plans.refinery.rule import FUTURES, rule_for
    from refinery import drawn

    said: dict[str, list[float]] = {}
    came: dict[str, list[bool]] = {}
    for n in range(count):
        rng = np.random.default_rng([seed, n])
        told = drawn.case(seed + n, 16, 2, 2)
        planned = [np.sum([m["make"][b] for b in m["make"]], axis=0) for m in told["mills"]]
        mills = [Truth(rng, p) for p in planned]
        for mill, plan, one in zip(told["mills"], planned, mills, strict=True):
            mill["common"], mill["sigma"] = spread_of(plan, [one.season() for _ in range(EARLIER)])
        case = read_case(json.dumps(told), "case")
        year = year_of(case)
        found = year.program.solved()
        if found is None:
            continue
        whole = whole_of(case, year, found)
        answers = rule_for(whole, futures(case, rng, FUTURES))
        make = futures(case, rng, 4000)
        made = sum(one.season() for one in mills)
        sale = int(rng.integers(0, 7))
        for name, way in (("rule", answers), ("plan", unanswered(whole))):
            of = lived(whole, way, make)
            lived_ = by_day(whole, way, made, sale)
            chances = of.full, of.empty, of.short > 0.5
            for what, chance, is_so in zip(CHANCES, chances, lived_, strict=True):
                said.setdefault(f"{name} {what}", []).append(float(chance.mean()))
                came.setdefault(f"{name} {what}", []).append(is_so)
    for name, chances in said.items():
        p = np.array(chances)
        error = np.sqrt((p * (1.0 - p)).sum())
        off = (np.sum(came[name]) - p.sum()) / max(error, 1e-9)
        print(f"{name}: said {100 * p.mean():.1f} %, came {100 * np.mean(came[name]):.1f} % of"
              f" {len(p)}: {off:+.1f} standard errors ({MOST:g})")  # fmt: skip


def spread_of(planned: Array, seasons: list[Array]) -> tuple[float, list[float]]:
    """How far seasons came off their plan: what lasts all season, and what is a week's own."""
    runs = planned > 0.0
    weeks = np.array([s.reshape(-1, 7).sum(axis=1)[runs] / planned[runs] for s in seasons])
    whole = weeks.mean(axis=1)
    own = float((weeks - whole[:, None]).std(ddof=1))
    lasting = max(float(whole.var(ddof=1)) - own**2 / runs.sum(), 0.0) ** 0.5
    return min(lasting, 1.0), [round(own * float(p), 3) for p in planned]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=("speed", "rule", "prices", "truth"))
    parser.add_argument("--cases", type=int, default=0)
    parser.add_argument("--seed", type=int, default=20311302)
    given = parser.parse_args()
    acts = {"speed": (speed, 5), "rule": (rule, 8), "prices": (prices, 3), "truth": (truth, 300)}
    act, usual = acts[given.what]
    act(given.seed, given.cases or usual)


if __name__ == "__main__":
    main()
