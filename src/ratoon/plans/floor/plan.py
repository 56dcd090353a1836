"""A plan of the pan floor as found: strikes dealt to pans, levels replayed, aims worked out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce
from itertools import pairwise
from math import gcd, lcm

from ratoon.plans.floor.case import Aim, FloorCase
from ratoon.plans.floor.result import FloorChoke, FloorStrike


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """Strikes as (pan, task, first step) with those under way; inflow held back and drained.

    `counts` are the starts by class of pans, task and step, as the search knows them.
    """

    counts: Mapping[tuple[int, str, int], int]
    strikes: Sequence[tuple[str, str, int]]
    held: Mapping[str, Sequence[Fraction]]
    drained: Mapping[str, Sequence[Fraction]]


def common(amounts: Iterable[Fraction]) -> Fraction:
    """The largest unit of which all amounts are whole multiples; 1 where all are zero."""
    listed = [x for x in amounts if x]
    if not listed:
        return Fraction(1)
    below = lcm(*(x.denominator for x in listed))
    return Fraction(reduce(gcd, (int(x * below) for x in listed)), below)


def deal(
    case: FloorCase,
    counts: Mapping[tuple[int, str, int], int],
    held: Mapping[str, Sequence[Fraction]],
    drained: Mapping[str, Sequence[Fraction]],
    classes: Sequence[Sequence[str]],
) -> FloorPlan:
    """Strikes in time order, each to the first pan of its class that is free."""
    free = {name: case.free_from(name) for name in case.pans}
    strikes = [(name, p.started.task, -p.started.since)
               for name, p in case.pans.items() if p.started]  # fmt: skip
    for number, task, at in sorted(counts, key=lambda key: (key[2], key[1], key[0])):
        for _ in range(counts[number, task, at]):
            pan = next(name for name in classes[number] if free[name] <= at)
            free[pan] = at + case.tasks[task].steps
            strikes.append((pan, task, at))
    return FloorPlan(counts, strikes, held, drained)


def lines(case: FloorCase, plan: FloorPlan, name: str) -> list[tuple[Fraction, Fraction]]:
    """A store's level at each step: after the moves, and at the step's end."""
    moves: dict[int, Fraction] = defaultdict(Fraction)
    flows: dict[int, Fraction] = defaultdict(Fraction)
    for _, task, at in plan.strikes:
        for move in case.tasks[task].moves:
            if move.store == name:
                into = flows if move.over else moves
                for step in range(at + move.at, at + move.at + max(move.over, 1)):
                    into[step] += move.each
    store = case.stores[name]
    for other, gone in plan.drained.items():
        drain = case.stores[other].drain
        part = -Fraction(other == name) + (drain.share if drain and drain.into == name else 0)
        for step, amount in enumerate(gone):
            flows[step] += part * amount
    level, found = store.open, []
    for step in range(case.steps):
        after = level + moves[step]
        level = after + store.inflow[step] - plan.held[name][step] + flows[step]
        found.append((after, level))
    return found


def running(case: FloorCase, plan: FloorPlan, name: str) -> list[Fraction]:
    """What is taken of a load in each step."""
    taken = [Fraction(0)] * case.steps
    for _, task, at in plan.strikes:
        for load in case.tasks[task].loads:
            if load.name == name:
                first = at + load.at
                for step in range(max(first, 0), min(first + load.over, case.steps)):
                    taken[step] += load.amount
    return taken


def reached(case: FloorCase, plan: FloorPlan, aim: Aim) -> Fraction:
    """What a plan makes of an aim, in the case's own units."""
    if aim.kind in ("peak", "low", "end"):
        ends = [end for _, end in lines(case, plan, aim.name)]
        return ends[-1] if aim.kind == "end" else (max if aim.kind == "peak" else min)(ends)
    if aim.kind == "slow":
        return sum((sum(held, Fraction(0)) for name, held in plan.held.items()
                    if not case.stores[name].spills), Fraction(0))  # fmt: skip
    if aim.kind == "load":
        return max(running(case, plan, aim.name))
    if aim.kind == "makespan":
        last = max((at + case.tasks[task].steps for _, task, at in plan.strikes), default=0)
        return last * case.step
    if aim.kind == "moved":
        steps = 0
        for name, before in case.before.items():
            starts = [at for (_, task, at), n in plan.counts.items() if task == name
                      for _ in range(n)]  # fmt: skip
            steps += sum(abs(sum(at <= k for at in starts) - sum(at <= k for at in before))
                         for k in range(case.steps))  # fmt: skip
        return steps * case.step
    return Fraction(sum(n for (_, task, _), n in plan.counts.items() if task == aim.name))


def replay(
    case: FloorCase, plan: FloorPlan
) -> tuple[tuple[FloorStrike, ...], dict[str, list[tuple[float, float]]], tuple[FloorChoke, ...]]:
    """Strikes, lines of the stores and limits touched, as the answer tells them."""

    def hours(steps: int) -> float:
        return round(float(steps * case.step), 6)

    strikes = tuple(
        FloorStrike(pan, task, hours(at), hours(at + case.tasks[task].steps))
        for pan, task, at in sorted(plan.strikes, key=lambda s: (s[2], s[0]))
    )
    stores, touched = {}, []
    for name, store in case.stores.items():
        levels = lines(case, plan, name)
        stores[name] = [
            point
            for k, (after, end) in enumerate(levels)
            for point in ((hours(k), float(after)), (hours(k + 1), float(end)))
        ]
        for side, limit in (("min", store.min), ("max", store.max)):
            at = _reaches([store.open, *(x for pair in levels for x in pair)], limit)
            if at is not None:
                touched.append(FloorChoke(f"stores.{name}.{side}", hours(at // 2)))
    for name, limit in case.loads.items():
        full = [k for k, taken in enumerate(running(case, plan, name)) if taken == limit]
        if full:
            touched.append(FloorChoke(f"loads.{name}", hours(full[0])))
    return strikes, stores, tuple(sorted(touched, key=lambda c: (c.at, c.what)))


def _reaches(line: Sequence[Fraction], limit: Fraction | None) -> int | None:
    """Where a line first comes to a limit; resting at it from the start is not coming to it."""
    pairs = enumerate(pairwise(line), 1)
    return next((n for n, (before, now) in pairs if now == limit != before), None)
