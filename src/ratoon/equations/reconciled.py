"""A reconciliation, and its answer: the state, and what its tests say of the readings."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Any

import numpy as np

from ratoon.base.errors import NotSolved
from ratoon.base.records import Reading
from ratoon.equations.gauss_newton import Solver
from ratoon.equations.gross_errors import Tests
from ratoon.equations.limits import chi_square_limit
from ratoon.equations.records import GlobalTest, ReadingResult, Suspect
from ratoon.equations.state import State
from ratoon.equations.table import Table
from ratoon.equations.weights import set_up


class Reconciled(State):
    """The most likely state and everything known about its uncertainty."""

    @cached_property
    def tests(self) -> Tests:
        return Tests(self)

    @property
    def objective(self) -> float:
        """Sum of squared adjustments over the stated covariance, robust weights left out.

        Usual values of what was not read stand outside it, as outside its degrees of freedom.
        """
        plain = self.problem.whitener @ (self.problem.values - self.adjusted_)
        told = plain[~self.problem.weak]
        return float(told @ told)

    @property
    def dof(self) -> int:
        return int(self.tests.dof)

    @cached_property
    def global_test(self) -> GlobalTest:
        from scipy.special import chdtrc

        dof = self.dof
        if not dof:
            return GlobalTest(self.objective, 0, 1.0, 0.0)
        return GlobalTest(self.objective, dof, float(chdtrc(dof, self.objective)),
                          chi_square_limit(dof))  # fmt: skip

    @cached_property
    def readings(self) -> tuple[ReadingResult, ...]:
        """Every reading, used or not, assumptions among them."""
        used = [r for r, size in zip(self.tests.results(), self.problem.sized) if not size]
        rest = tuple(
            ReadingResult(r, None, None, None, False, None, False) for r in self.problem.unused
        )
        return (*used, *rest)

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """Serial elimination: the path of suspects, the first one first."""
        return self.tests.eliminate()

    def leak(self, address: str) -> Mapping[str, Any]:
        """Statistic of holding a free quantity at zero, and what looks the same."""
        return self.tests.leak(address)


def reconcile(
    equations: Table,
    readings: Iterable[Reading],
    start: Mapping[str, float] | None,
    constants: Mapping[str, float] | None,
    covariance: Any,
    leaks: tuple[str, ...],
    robust: bool,
    sizes: bool,
) -> Reconciled:
    """See `Equations.reconcile`.

    With `sizes` the usual size of what the readings leave open is told beside them; where they
    lead to no answer that of every quantity, from the table's own starts too, for another day's
    can lie farther off.
    """
    begun = time.perf_counter()
    read = list(readings)
    first: NotSolved | None = None
    every = frozenset(equations.variables) if sizes else frozenset()
    begins = [begin for begin in (start, None) if sizes or begin is not start]
    ways = [(start, frozenset()), *((begin, every) for begin in begins)]
    while ways:
        begin, sized = ways.pop(0)
        problem = set_up(equations, read, begin, constants, covariance, sized)
        solver = Solver(problem)
        try:
            open_ = solver.find_null(problem.base)
            if sizes and open_ and not sized:
                ways.insert(0, (start, open_))
                continue
            z, steps = solver.run(problem.base, robust)
            sensitivity = solver.sensitivity(z)
            if not np.isfinite(sensitivity).all():
                # It stands on no readings.
                raise NotSolved("the readings do not determine the account where it ended",
                                todo="Check for readings that were not taken.")  # fmt: skip
        except NotSolved as error:
            first = first or error
        else:
            null = solver.null_space(z)
            return Reconciled(problem, z, sensitivity, null, steps, leaks, begun, solver.weights,
                              sizes and sized == every, solver.pressed)  # fmt: skip
    assert first is not None
    raise first
