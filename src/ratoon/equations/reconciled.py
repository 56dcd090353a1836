"""The answer of a reconciliation: the state, and what its tests say of the readings."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from ratoon.equations.gross_errors import Tests
from ratoon.equations.limits import chi_square_limit
from ratoon.equations.records import GlobalTest, ReadingResult, Suspect
from ratoon.equations.state import State


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
