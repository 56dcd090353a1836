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
from ratoon.plans.floor.case import Aim, FloorCase
from ratoon.plans.floor.plan import common

GREATEST_SUM = 2**60
"""Sums of whole numbers stay below, as the solver asks."""
DRAINED = Fraction(1, 10)
"""The unit of what is drained."""
Change = tuple[tuple[Any, int], ...]
"""What a count grows by in a step: itself less what it was; variables or numbers with factors."""
Begun = Mapping[str, Mapping[int, list[Change]]]
"""How many strikes of each task start at each step, in each class of pans."""


class Sum:
    """A sum of variables with whole factors that grows step by step; what cancels leaves it."""

    def __init__(self, constant: int = 0) -> None:
        self.constant = constant
        self.terms: dict[int, tuple[Any, int]] = {}

    def add(self, change: Change, times: int = 1) -> None:
        """Add variables times factors; a number is no variable."""
        for one, factor in change:
            if isinstance(one, int):
                self.constant += one * factor * times
                continue
            total = self.terms.pop(one.index, (one, 0))[1] + factor * times
            if total:
                self.terms[one.index] = one, total

    def expression(self) -> Any:
        from ortools.sat.python.cp_model import LinearExpr

        ones, factors = zip(*self.terms.values()) if self.terms else ((), ())
        return LinearExpr.weighted_sum(ones, factors) + self.constant


def summed(changes: Iterable[Change]) -> Any:
    """The sum of changes as an expression."""
    found = Sum()
    for change in changes:
        found.add(change)
    return found.expression()


@dataclass(frozen=True)
class Scaled:
    """A quantity of the model: a linear expression in whole numbers times `unit`."""

    expression: Any
    unit: Fraction


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
    aims = [_aim(case, model, aim, begun, levels, held, units, peaks) for aim in case.aims]
    return Model(model, starts, held, drained, units, aims, classes)


def _count(ones: Mapping[int, list[Change]]) -> Any:
    return summed(one for listed in ones.values() for one in listed)


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
            model.add(_count(ones) >= case.least[name])
        if name in case.most:
            model.add(_count(ones) <= case.most[name])


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
            whole = _whole(load.amount, unit)
            for at, ones in _all_starts(case, task, begun):
                first = at + load.at
                for step in range(max(first, 0), min(first + load.over, case.steps)):
                    for one in ones:
                        running[step].add(one, whole)
        # a load may outlast its strike, so that more of them overlap than there are pans
        most = sum(_whole(load.amount, unit) * len(case.pans) * (load.over + 1) for _, load in rows)
        peak = model.new_int_var(0, most if limit is None else min(most, _whole(limit, unit)), name)
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


def _whole(amount: Fraction, unit: Fraction) -> int:
    found = amount / unit
    assert found.denominator == 1
    if abs(found) > GREATEST_SUM:
        raise BadInput("amounts are too far apart for whole numbers", where="case",
                       value=float(amount), todo="Write fewer decimals")  # fmt: skip
    return int(found)


def _drained(case: FloorCase, model: Any, name: str) -> list[Change]:
    """What leaves a store in each step, in the unit of its most."""
    drain = case.stores[name].drain
    assert drain is not None
    most, before, found = _whole(drain.most, DRAINED), None, []
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
            drains.append((changes, part * DRAINED, _whole(drain.most, DRAINED)))
    unit = units[name] = common([m.each for _, m in rows] + ends + list(store.inflow)
                                + [part for _, part, _ in drains])  # fmt: skip
    moves: dict[int, list[tuple[Change, int]]] = defaultdict(list)
    flows: dict[int, list[tuple[Change, int]]] = defaultdict(list)
    reach = abs(_whole(store.open, unit)) + sum(abs(_whole(x, unit)) for x in store.inflow)
    for changes, part, most in drains:
        for step, gone in enumerate(changes):
            flows[step].append((gone, _whole(part, unit)))
            reach += abs(_whole(part, unit)) * most
    for task, move in rows:
        each = _whole(move.each, unit)
        for at, ones in _all_starts(case, task, begun):
            into, last = (flows, move.over) if move.over else (moves, 1)
            for step in range(max(at + move.at, 0), min(at + move.at + last, case.steps)):
                into[step] += [(one, each) for one in ones]
                reach += abs(each) * len(case.pans)
    low = -reach if store.min is None else _whole(store.min, unit)
    high = reach if store.max is None else _whole(store.max, unit)
    high = max(high, low)
    if max(reach, abs(low), abs(high)) > GREATEST_SUM:
        raise BadInput("amounts are too far apart for whole numbers", where=f"stores.{name}",
                       todo="Write fewer decimals")  # fmt: skip
    held[name] = []
    levels: list[Any] = []
    level, before, total = Sum(_whole(store.open, unit)), None, 0
    for step in range(case.steps):
        for one, each in moves[step]:
            level.add(one, each)
        if moves[step]:
            model.add_linear_constraint(level.expression(), low, high)
        inflow = _whole(store.inflow[step], unit)
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


def _aim(
    case: FloorCase,
    model: Any,
    aim: Aim,
    begun: Begun,
    levels: Mapping[str, list[Any]],
    held: Mapping[str, list[Change]],
    units: Mapping[str, Fraction],
    peaks: Mapping[str, Scaled],
) -> Scaled:
    """An aim as an expression that is never better than what the plan reaches."""  # fmt: skip
    if aim.kind in ("count", "most"):
        return Scaled(_count(begun[aim.name]), Fraction(1))
    if aim.kind == "load":
        return peaks[aim.name]
    if aim.kind == "end":
        return Scaled(levels[aim.name][-1], units[aim.name])
    if aim.kind in ("peak", "low"):
        end = model.new_int_var(-GREATEST_SUM, GREATEST_SUM, aim.words)
        for level in levels[aim.name]:
            model.add(end >= level if aim.kind == "peak" else end <= level)
        return Scaled(end, units[aim.name])
    if aim.kind == "slow":
        unit = common(list(units.values()))
        total = Sum()
        for name, changes in held.items():
            for change in changes if not case.stores[name].spills else ():
                total.add(change, _whole(units[name], unit))
        return Scaled(total.expression(), unit)
    if aim.kind == "moved":
        return Scaled(_moved(case, model, begun), case.step)
    return Scaled(_makespan(case, model, begun), case.step)


def _moved(case: FloorCase, model: Any, begun: Begun) -> Any:
    """Steps by which strikes move from the plan before: at each, how many more or fewer began."""
    total = []
    for name, before in case.before.items():
        count = Sum()
        for step in range(case.steps):
            for one in begun[name].get(step, ()):
                count.add(one)
            count.constant -= before.count(step)
            off = model.new_int_var(0, case.steps * len(case.pans), f"moved.{name}.{step}")
            model.add(off >= count.expression())
            model.add(off >= -count.expression())
            total.append(off)
    return sum(total)


def _makespan(case: FloorCase, model: Any, begun: Begun) -> Any:
    """The steps up to the last end of any strike: a row of yes or no, "something ends later"."""
    ends: dict[int, list[Change]] = defaultdict(list)
    for name, task in case.tasks.items():
        for at, ones in begun[name].items():
            ends[at + task.steps] += ones
    least = max((case.tasks[p.started.task].steps - p.started.since
                 for p in case.pans.values() if p.started), default=0)  # fmt: skip
    later = [model.new_bool_var(f"after.{k}") for k in range(max([least, *ends]))]
    for step, (now, then) in enumerate(zip(later, [*later[1:], 0])):
        model.add(now >= then)
        if step < least:
            model.add(now == 1)
        for one in ends[step + 1]:
            model.add(summed([one]) <= len(case.pans) * now)
    return sum(later)
