"""What each limit is worth: the year solved again with the limit moved, on the side that is told.

What a solver says of a limit on the way is not used: where the plan has a kink it holds on one side
only, and nobody can see on which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.plans.refinery.case import Case
from ratoon.plans.refinery.model import Year, year_of
from ratoon.plans.refinery.program import Solved
from ratoon.plans.refinery.result import PricedLimit

SAME = 0.002
"""How far two prices may differ and still be called one; bars allow 0.005."""
STEPS = (1.0, 0.1, 0.01, 0.001, 1e-4, 1e-5)
"""Moves of a limit against its size, ever smaller until the price no longer hangs on the move."""
NEAR = STEPS[2:]
BETWEEN = 3.0
"""How much farther than the move of a price it is tried whether that still holds."""
WORTH = 5e-7
"""Least gain that is told apart from none, against all the money: a solver is that far off."""


def priced(case: Case, year: Year, found: Solved) -> tuple[PricedLimit, ...]:
    """Limits that the plan touches and that cost something, dearest first.

    Dearest is by what the limit could give where the price holds, so that tonnes and t/h compare.
    """
    made = []
    for name, limit in case.limits.items():
        rows = year.limits.get(name)
        touched = np.zeros(0, bool) if rows is None else found.touched(rows)
        if not touched.any():
            continue
        weeks = [int(w) for w in np.flatnonzero(touched)] if limit.each else [None]
        for week in weeks:
            one = _Moved(case, found.money, name, week).priced()
            if one is not None:
                made.append(one)
    return tuple(sorted(made, key=_gives, reverse=True))


def _gives(one: PricedLimit) -> float:
    assert one.price is not None and one.holds_to is not None
    return one.price * abs(one.holds_to - one.limit)


def contradicting(case: Case) -> tuple[PricedLimit, ...]:
    """Limits of a case without a plan of which none can be left out: without any there is one."""
    for name in list(case.limits):
        fewer = case.without(name)
        if year_of(fewer).program.solved() is None:
            case = fewer
    return tuple(
        PricedLimit(name, None, limit.side, float(limit.values.max()), limit.unit)
        for name, limit in case.limits.items()
    )


@dataclass
class _Moved:
    case: Case
    money: float
    name: str
    week: int | None

    def __post_init__(self) -> None:
        limit = self.case.limits[self.name]
        self.value = float(limit.values[self.week or 0])
        self.room = 1.0 if limit.side == "most" else -1.0
        made = sum(float(v.mean()) for m in self.case.mills.values() for v in m.make.values())
        of = 100.0 - self.value if limit.unit == "%" else self.value
        self.size = of or made / 10.0 or 1.0

    def gain(self, room: float) -> float | None:
        """Money gained by so much more room; None where no plan is left."""
        moved = self.case.moved(self.name, self.room * room, self.week)
        found = year_of(moved).program.solved()
        return None if found is None else found.money - self.money

    def slope(
        self, sign: float, steps: Sequence[float], before: tuple[float, float] | None = None
    ) -> tuple[float, float] | None:
        """Money by a unit at the limit itself, and how far that holds; None: no plan is left.

        More room never gains more by the unit than less did, so where two moves gain alike by the
        unit, so does all between them and the limit. `before` is a move whose slope is known.
        """
        possible = False
        for step in steps:
            move = sign * step * self.size
            gain = self.gain(move)
            if gain is None:
                continue
            possible = True
            if abs(gain) <= WORTH * abs(self.money):
                return before or (0.0, move)
            slope = gain / move
            if before is not None and abs(slope - before[0]) <= SAME * abs(slope):
                return slope, before[1]
            before = slope, move
        return before if possible else None

    def priced(self) -> PricedLimit | None:
        """The limit with its prices; None where more room is worth nothing."""
        told = self.slope(1.0, STEPS)
        if told is None or told[0] <= 0.0:
            return None
        price, seen = told
        farther = min(BETWEEN * seen, self.size)
        gain = self.gain(farther) if farther > seen else None
        if gain is not None and abs(gain / farther - price) <= SAME * price:
            seen = farther
        other = self.slope(-1.0, NEAR, (price, 0.0))
        limit = self.case.limits[self.name]
        return PricedLimit(
            self.name, None if self.week is None else self.case.week(self.week), limit.side,
            self.value, limit.unit, price, None if other is None else other[0],
            self.value + self.room * seen,
        )  # fmt: skip
