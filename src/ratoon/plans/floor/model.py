"""The constraints of a case, in whole numbers.

Starts are counted, not named: pans that boil the same tasks and close at the same times are one
class, of which at most as many strikes run at a time as pans are free; strikes are dealt to pans
afterwards, which never fails, since strikes in time order always find one of them free.

The variables are counts since time 0 (of a class's starts of a task, of inflow held back), so that
what runs, and each level, is a sum of a few of them whatever the hours: the search proves far more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ratoon.base.errors import BadInput
from ratoon.plans.floor.aims import aim_of
from ratoon.plans.floor.case import FloorCase
from ratoon.plans.floor.plan import common
from ratoon.plans.floor.sums import (
    GREATEST_SUM,
    Begun,
    Change,
    Scaled,
    Sum,
    count_of,
    summed,
    whole_of,
)

DRAINED = Fraction(1, 10)
"""The unit of what is drained."""


@dataclass(frozen=True)
class Model:
    """The constraints of a case; `starts` by class, task and step, `held` by store and step."""

    model: Any
    starts: Mapping[tuple[int, str, int], Change]
    held: Mapping[str, list[Change]]
    drained: Mapping[str, list[Change]]
    units: Mapping[str, Fraction]
    aims: Sequence[Scaled]
    classes: Sequence[Sequence[str]]


def built(case: FloorCase) -> Model:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    classes = _alike(case)
    starts = _starts(case, model, classes)
    begun: dict[str, dict[int, list[Change]]] = {task: defaultdict(list) for task in case.tasks}
    for (_, task, step), change in starts.items():
        begun[task][step].append(change)
    _gaps_and_counts(case, model, begun)
    peaks = _loads(case, model, begun)
    held: dict[str, list[Change]] = {}
    drained = {name: _drained(case, model, name) for name, s in case.stores.items() if s.drain}
    units: dict[str, Fraction] = {}
    levels = {}
    for name in case.stores:
        levels[name] = _store(case, model, name, begun, held, drained, units)
    aims = [aim_of(case, model, aim, begun, levels, held, units, peaks) for aim in case.aims]
    return Model(model, starts, held, drained, units, aims, classes)


def _alike(case: FloorCase) -> list[list[str]]:
    """Pans that may boil the same tasks and are closed at the same times."""
    classes: dict[Any, list[str]] = defaultdict(list)
    for name, pan in case.pans.items():
        classes[frozenset(pan.tasks), pan.off].append(name)
    return list(classes.values())


def _grown(model: Any, name: str, before: Any, most: int, by: int) -> tuple[Any, Change]:
    """A count that grows from `before` by at most `by`, to at most `most`; and what it grows by."""
    count = model.new_int_var(0, most, name)
    if before is None:
        return count, ((count, 1),)
    model.add_linear_constraint(count - before, 0, by)
    return count, ((count, 1), (before, -1))


def _starts(
    case: FloorCase, model: Any, classes: Sequence[Sequence[str]]
) -> dict[tuple[int, str, int], Change]:
    """How many strikes of each task start at each step in each class; no more run than pans."""
    starts = {}
    for number, names in enumerate(classes):
        pan = case.pans[names[0]]
        free = [case.free_from(name) for name in names]
        running: dict[int, Sum] = defaultdict(Sum)
        for task in pan.tasks:
            steps, before, reach = case.tasks[task].steps, None, 0
            for at in range(0, case.latest(task) + 1, case.every):
                closed = any(at < end and begin < at + steps for begin, end in pan.off)
                count = sum(1 for step in free if step <= at)
                if closed or not count:
                    continue
                most = 1 if case.tasks[task].gap else count
                reach += most
                before, one = _grown(model, f"{number}.{task}.{at}", before, reach, most)
                starts[number, task, at] = one
                for step in range(at, min(at + steps, case.steps)):
                    running[step].add(one)
        for step, ones in running.items():
            model.add(ones.expression() <= sum(1 for f in free if f <= step))
    return starts


def _gaps_and_counts(case: FloorCase, model: Any, begun: Begun) -> None:
    since = [pan.started for pan in case.pans.values() if pan.started]
    for name, task in case.tasks.items():
        ones = begun[name]
        for step in range(case.steps if task.gap else 0):
            window = [one for t in range(step, step + task.gap) for one in ones.get(t, ())]
            if window:
                model.add(summed(window) <= 1)
        for before in since:
            if before.task == name and task.gap:
                for step in range(task.gap - before.since):
                    for one in ones.get(step, ()):
                        model.add(summed([one]) == 0)
        if name in case.least:
            model.add(count_of(ones) >= case.least[name])
        if name in case.most:
            model.add(count_of(ones) <= case.most[name])


def _loads(case: FloorCase, model: Any, begun: Begun) -> dict[str, Scaled]:
    """What runs together of each load keeps its limit; gives the peak of each."""
    peaks = {}
    names = {load.name for task in case.tasks.values() for load in task.loads}
    for name in sorted(names.union(case.loads)):
        limit = case.loads.get(name)
        rows = [(task, load) for task, of in case.tasks.items() for load in of.loads
                if load.name == name]  # fmt: skip
        unit = common([load.amount for _, load in rows] + ([] if limit is None else [limit]))
        running: dict[int, Sum] = defaultdict(Sum)
        for task, load in rows:
            whole = whole_of(load.amount, unit)
            for at, ones in _all_starts(case, task, begun):
                first = at + load.at
                for step in range(max(first, 0), min(first + load.over, case.steps)):
                    for one in ones:
                        running[step].add(one, whole)
        # a load may outlast its strike, so that more of them overlap than there are pans
        most = sum(
            whole_of(load.amount, unit) * len(case.pans) * (load.over + 1) for _, load in rows
        )
        peak = model.new_int_var(
            0, most if limit is None else min(most, whole_of(limit, unit)), name
        )
        for taken in running.values():
            model.add(taken.expression() <= peak)
        peaks[name] = Scaled(peak, unit)
    return peaks


def _all_starts(case: FloorCase, task: str, begun: Begun) -> Iterable[tuple[int, list[Change]]]:
    """Step and counts of all starts of a task, with those under way at time 0."""
    for pan in case.pans.values():
        if pan.started and pan.started.task == task:
            yield -pan.started.since, [((1, 1),)]
    yield from begun[task].items()


def _drained(case: FloorCase, model: Any, name: str) -> list[Change]:
    """What leaves a store in each step, in the unit of its most."""
    drain = case.stores[name].drain
    assert drain is not None
    most, before, found = whole_of(drain.most, DRAINED), None, []
    for step in range(case.steps):
        label = f"{name}.drained.{step}"
        before, change = _grown(model, label, before, most * (step + 1), most)
        found.append(change)
    return found


def _store(
    case: FloorCase,
    model: Any,
    name: str,
    begun: Begun,
    held: dict[str, list[Change]],
    drained: Mapping[str, list[Change]],
    units: dict[str, Fraction],
) -> list[Any]:
    """The level at the end of each step; the limits hold there and after the moves."""  # fmt: skip
    store = case.stores[name]
    rows = [(task, move) for task, of in case.tasks.items() for move in of.moves
            if move.store == name]  # fmt: skip
    ends = [x for x in (store.open, store.min, store.max) if x is not None]
    drains = []
    for other, changes in drained.items():
        drain = case.stores[other].drain
        assert drain is not None
        part = -Fraction(other == name) + (drain.share if drain.into == name else 0)
        if part:
            drains.append((changes, part * DRAINED, whole_of(drain.most, DRAINED)))
    unit = units[name] = common([m.each for _, m in rows] + ends + list(store.inflow)
                                + [part for _, part, _ in drains])  # fmt: skip
    moves: dict[int, list[tuple[Change, int]]] = defaultdict(list)
    flows: dict[int, list[tuple[Change, int]]] = defaultdict(list)
    reach = abs(whole_of(store.open, unit)) + sum(abs(whole_of(x, unit)) for x in store.inflow)
    for changes, part, most in drains:
        for step, gone in enumerate(changes):
            flows[step].append((gone, whole_of(part, unit)))
            reach += abs(whole_of(part, unit)) * most
    for task, move in rows:
        each = whole_of(move.each, unit)
        for at, ones in _all_starts(case, task, begun):
            into, last = (flows, move.over) if move.over else (moves, 1)
            for step in range(max(at + move.at, 0), min(at + move.at + last, case.steps)):
                into[step] += [(one, each) for one in ones]
                reach += abs(each) * len(case.pans)
    low = -reach if store.min is None else whole_of(store.min, unit)
    high = reach if store.max is None else whole_of(store.max, unit)
    high = max(high, low)
    if max(reach, abs(low), abs(high)) > GREATEST_SUM:
        raise BadInput("amounts are too far apart for whole numbers", where=f"stores.{name}",
                       todo="Write fewer decimals")  # fmt: skip
    held[name] = []
    levels: list[Any] = []
    level, before, total = Sum(whole_of(store.open, unit)), None, 0
    for step in range(case.steps):
        for one, each in moves[step]:
            level.add(one, each)
        if moves[step]:
            model.add_linear_constraint(level.expression(), low, high)
        inflow = whole_of(store.inflow[step], unit)
        level.constant += inflow
        change: Change = ()
        if store.cut and inflow > 0:
            total += inflow
            before, change = _grown(model, f"{name}.held.{step}", before, total, inflow)
            level.add(change, -1)
        held[name].append(change)
        for one, each in flows[step]:
            level.add(one, each)
        levels.append(level.expression())
        model.add_linear_constraint(levels[-1], low, high)
    return levels
