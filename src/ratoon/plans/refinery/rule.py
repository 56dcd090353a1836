"""How sales and hire answer what has come: a linear decision rule, found by one linear programme.

A sale is what is planned and so much more for each tonne that the mills have made over plan in all
weeks before (a "linear decision rule"): a line for each buyer and week, the same in all futures.
The lines sought earn most on the mean of the futures drawn; how good they are is told from others.
The melt stays as planned.
"""

from __future__ import annotations

import numpy as np

from ratoon.plans.refinery.futures import Answers, Array, Whole
from ratoon.plans.refinery.program import Ids, Program

FUTURES = 120
"""Futures from which the rule is found (mill's choice)."""


def rule_for(whole: Whole, make: Array) -> Answers:
    """The best lines for the futures drawn.

    Parameters
    ----------
    make : tonnes made by future and week.
    """
    return _Rule(whole, make).best()


class _Rule:
    def __init__(self, whole: Whole, make: Array) -> None:
        self.whole, self.make = whole, make
        self.futures, self.weeks = make.shape
        over = np.cumsum(make - whole.make, axis=1)
        self.over = np.concatenate([np.zeros((self.futures, 1)), over[:, :-1]], axis=1)
        """Made over plan in the weeks before, by future and week."""
        self.size = max(float(np.abs(self.over).max()), 1.0)
        self.program = Program()

    def best(self) -> Answers:
        whole, p = self.whole, self.program
        earns = np.repeat(whole.earns[:, None], self.weeks, axis=1)
        sold = self._lines(earns, whole.most)
        hired = self._lines(np.full((1, self.weeks), -whole.hire_cost), whole.hire_most[None])
        self._stock(sold, hired)
        self._brands(sold[0])
        found = p.solved()
        assert found is not None  # what is spilt, unsold or short makes every line possible
        plans, up, down = (found.of(x) for x in sold)
        hires, hire_up, hire_down = (found.of(x)[0] for x in hired)
        return Answers(plans, (up - down) / self.size, hires, (hire_up - hire_down) / self.size)

    def _lines(self, earns: Array, most: Array) -> tuple[Ids, Ids, Ids]:
        """Plan and answer, the latter as what it adds and takes, by line and week.

        Within its limits in the futures in which most and least was made before: so in all.
        """
        p, mean = self.program, self.over.mean(axis=0) / self.size
        answers = np.where(np.ptp(self.over, axis=0) > 0.0, np.inf, 0.0) * np.ones(earns.shape)
        answers = np.where(most > 0.0, answers, 0.0)
        plan = p.variables(*earns.shape, money=earns, most=most)
        up = p.variables(*earns.shape, money=earns * mean, most=answers)
        down = p.variables(*earns.shape, money=-earns * mean, most=answers)
        for extreme in (self.over.min(axis=0), self.over.max(axis=0)):
            share = np.broadcast_to(extreme / self.size, earns.shape).ravel()
            p.add([(1.0, plan.ravel()), (share, up.ravel()), (-share, down.ravel())],
                  least=0.0, most=most.ravel())  # fmt: skip
        return plan, up, down

    def _stock(self, sold: tuple[Ids, Ids, Ids], hired: tuple[Ids, Ids, Ids]) -> None:
        """Stock, spill and shortage of each future; a row for each future and week."""
        p, whole, shape, share = self.program, self.whole, self.make.shape, 1.0 / self.futures
        worth = np.where(np.arange(self.weeks) == self.weeks - 1, whole.left_value, 0.0)
        lost = whole.short_cost + whole.value
        dear = float(whole.earns.max(initial=0.0)) + lost
        stock = p.variables(*shape, money=share * worth)
        spilt = p.variables(*shape, money=-share * whole.spill_cost)
        unsold = p.variables(*shape, money=-share * dear)
        cut = p.variables(*shape, most=whole.melt)
        packed = p.variables(*shape)
        short = p.variables(*shape, money=-share * lost)
        later = (np.arange(self.weeks) > 0) * np.ones(shape)
        first = 1.0 - later
        moved = self.over / self.size

        def line(which: tuple[Ids, Ids, Ids], sign: float) -> list[tuple[Array, Ids]]:
            """A line in each future, summed over its buyers."""
            factors = (np.ones(shape), moved, -moved)
            return [
                (sign * np.repeat(f.ravel()[:, None], len(ids), axis=1),
                 np.tile(ids.T, (self.futures, 1)))
                for f, ids in zip(factors, which, strict=True)
            ]  # fmt: skip

        def rows(*terms: tuple[Array | float, Ids]) -> list[tuple[Array | float, Ids]]:
            return [(f if isinstance(f, float) else f.ravel(), ids.ravel()) for f, ids in terms]

        def before(ids: Ids) -> Ids:
            return np.concatenate([ids[:, :1], ids[:, :-1]], axis=1)

        level = (self.make - whole.melt + whole.opening * first).ravel()
        p.add([*rows((1.0, stock), (-later, before(stock)), (1.0, spilt), (-1.0, unsold),
                     (-1.0, cut)), *line(sold, 1.0)], least=level, most=level)  # fmt: skip
        p.add([*rows((1.0, stock)), *line(hired, -1.0)], most=np.tile(whole.room, self.futures))
        p.add(rows((1.0, stock)), least=np.tile(whole.heel, self.futures))
        made = (whole.gives * whole.melt - whole.due + whole.packed * first).ravel()
        gives = np.broadcast_to(whole.gives, shape)
        p.add(rows((1.0, packed), (-later, before(packed)), (gives, cut), (-1.0, short)),
              least=made, most=made)  # fmt: skip

    def _brands(self, plan: Ids) -> None:
        """Buyers are planned no more of their brands than is made of these by then."""
        for buyers, made in self.whole.brands:
            terms = [(1.0, plan[list(buyers), : w + 1].reshape(1, -1)) for w in range(self.weeks)]
            for w, term in enumerate(terms):
                self.program.add([term], most=float(made[: w + 1].sum()))
