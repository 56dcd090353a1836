"""When which strike starts in which pan: aims solved one after the other, those before held.

What a search may do is measured in the solver's own work, not by the clock alone, so that a busy
machine answers as well, only later. Searches race side by side, and which plan wins is chance; what
is proved is not, and of plans that are proved best a single search finds always the same.

OR-Tools is loaded when a plan is asked for, not before.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil, floor
from typing import Any

from ratoon.plans.floor.case import FloorCase, limits, without
from ratoon.plans.floor.model import DRAINED, Model, built
from ratoon.plans.floor.plan import FloorPlan, deal, reached, replay
from ratoon.plans.floor.result import FloorAim, FloorResult, Status
from ratoon.plans.floor.sums import Change

WORKERS = 8
"""Searches side by side whatever the processors: fewer prove little."""
EFFORT = 1.0 / 15.0
"""What the searches do in a second on two free processors, in the solver's own measure: about."""
ALONE = 5.0
"""What the last, single search may do, in that measure."""


def plan_floor(
    case: FloorCase, limit: float = 60.0, workers: int = WORKERS, *, why: bool = True,
    work: float | None = None,
) -> FloorResult:  # fmt: skip
    """The best plan found within `limit` seconds, or that there is none, and `why`.

    `work` is what the searches may do, in seconds of a machine that is free; as many as `limit`
    where it is not said.
    """
    began = time.monotonic()
    made = built(case)
    search = _Search(case, made, EFFORT * (work or limit), began + limit, workers)
    told = [search.aim(number) for number in range(len(case.aims))]
    if not case.aims:
        search.any_plan()
    found = search.plan
    status = _of_all([aim.status for aim in told] or [search.status])
    if found is not None and status == "optimal":
        found = search.the_same_each_time()
    if found is None:
        named = _refusal(case, search) if why and status == "infeasible" else ()
        return FloorResult(status, None, None, tuple(told), (), {}, (), named, _since(began))
    first = told[0] if told else FloorAim("", None, None, status)
    return FloorResult(
        status, first.value, first.bound, tuple(told), *replay(case, found), (), _since(began)
    )


def _since(began: float) -> float:
    return round(time.monotonic() - began, 3)


def _of_all(statuses: Sequence[Status]) -> Status:
    worst: Sequence[Status] = ("infeasible", "unknown", "feasible")
    return next((one for one in worst if one in statuses), "optimal")


class _Search:
    """A model solved aim after aim, the plan so far kept."""

    def __init__(self, case: FloorCase, made: Model, work: float, end: float, workers: int) -> None:
        self.case, self.made, self.work, self.end, self.workers = case, made, work, end, workers
        self.plan: FloorPlan | None = None
        self.status: Status = "unknown"

    @property
    def left(self) -> float:
        """Seconds that are left."""
        return max(self.end - time.monotonic(), 0.0)

    def any_plan(self) -> Status:
        """Ask for a plan, whatever it is worth."""
        self.status, _ = self._solve(self.made.model, self.left)
        return self.status

    def aim(self, number: int) -> FloorAim:
        """Solve for one aim, then hold it; work and time are shared among the aims."""
        aim, goal = self.case.aims[number], self.made.aims[number]
        if number and self.plan is None:
            return FloorAim(aim.words, None, None, self.status)
        share = self.left / (len(self.case.aims) - number)
        bound, status = None, "unknown"
        model = self.made.model.clone()
        if aim.kind == "slow":  # whether nothing need be held back is answered sooner than how much
            nothing = model.clone()
            nothing.add(goal.expression == 0)
            status, _ = self._solve(nothing, share / 2.0)
        if status not in ("optimal", "feasible"):
            (model.maximize if aim.raised else model.minimize)(goal.expression)
            status, bound = self._solve(model, share)
        else:
            status = "optimal"
        if self.plan is None:
            self.status = "infeasible" if status == "infeasible" else "unknown"
            return FloorAim(aim.words, None, None, self.status)
        value = reached(self.case, self.plan, aim)
        whole = value / goal.unit
        kept = goal.expression >= ceil(whole) if aim.raised else goal.expression <= floor(whole)
        self.made.model.add(kept)
        if bound is not None:
            near = floor(bound + 1e-6) if aim.raised else ceil(bound - 1e-6)
            bound = float(near * goal.unit)
        if status == "optimal" or bound == float(value):  # a plan may be better than was asked for
            return FloorAim(aim.words, float(value), float(value), "optimal")
        return FloorAim(aim.words, float(value), bound, "feasible")

    def _before(self) -> Mapping[tuple[int, str, int], int]:
        """A plan made before, its strikes in the pans that are not closed."""
        return {key: self.case.before[key[1]].count(key[2]) for key in self.made.starts
                if key[1] in self.case.before
                and not self.case.pans[self.made.classes[key[0]][0]].off}  # fmt: skip

    def the_same_each_time(self) -> FloorPlan:
        """Of plans equal in all aims the one that a single search finds, on any machine."""
        best = self.plan
        assert best is not None
        self.plan, self.workers = None, 1
        self._solve(self.made.model, self.left, ALONE)
        return self.plan or best

    def _solve(
        self, model: Any, seconds: float, work: float | None = None
    ) -> tuple[Status, float | None]:
        """Status and bound, in whole numbers; a plan found is kept."""
        from ortools.sat.python import cp_model

        counts = self._before() if self.plan is None else self.plan.counts
        model.clear_hints()
        total: dict[tuple[int, str], int] = defaultdict(int)
        for key, change in self.made.starts.items() if counts else ():
            total[key[:2]] += counts.get(key, 0)
            model.add_hint(change[0][0], total[key[:2]])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = self.workers
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = max(seconds, 0.01)
        share = self.work / max(len(self.case.aims), 1)
        solver.parameters.max_deterministic_time = share if work is None else work
        code = solver.solve(model)
        if code == cp_model.INFEASIBLE:
            return "infeasible", None
        bound = solver.best_objective_bound if model.has_objective() else None
        if code not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return "unknown", bound
        found = {k: n for k, change in self.made.starts.items()
                  if (n := sum(solver.value(one) * by for one, by in change))}  # fmt: skip

        def amounts(listed: Sequence[Change], unit: Fraction) -> list[Fraction]:
            return [sum(solver.value(one) * by for one, by in change) * unit for change in listed]

        held = {name: amounts(listed, self.made.units[name])
                for name, listed in self.made.held.items()}  # fmt: skip
        drained = {name: amounts(listed, DRAINED) for name, listed in self.made.drained.items()}
        self.plan = deal(self.case, found, held, drained, self.made.classes)
        return ("optimal" if code == cp_model.OPTIMAL else "feasible"), bound


def _refusal(case: FloorCase, search: _Search) -> tuple[str, ...]:
    """Limits none of which can be left out of the refusal, found by leaving out one by one.

    A limit without which there is a plan stays; one that is not needed goes for good.
    """
    kept = limits(case)
    dropped: set[str] = set()
    for name in limits(case):
        tried = without(case, dropped | {name})
        status = _Search(tried, built(tried), search.work, search.end, search.workers).any_plan()
        if status == "unknown":
            return ()
        if status == "infeasible":
            dropped.add(name)
            kept.remove(name)
    return tuple(kept)
