"""Aims of a plan as expressions of its variables."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from ratoon.plans.floor.case import Aim, FloorCase
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


def aim_of(
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
        return Scaled(count_of(begun[aim.name]), Fraction(1))
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
                total.add(change, whole_of(units[name], unit))
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
