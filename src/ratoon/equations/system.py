"""`Equations`: a set of equations, compiled once and asked many times."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.records import Reading
from ratoon.equations.first_look import first_look as first_look_
from ratoon.equations.newton import MOST_STEPS, SHORT_STEPS
from ratoon.equations.reconciled import Reconciled
from ratoon.equations.reconciled import reconcile as reconcile_
from ratoon.equations.records import NoAnswer, Solution, Suspect
from ratoon.equations.scenarios import solve_many
from ratoon.equations.square import SquareSystem, square_system
from ratoon.equations.table import Table

Floats = NDArray[np.float64]
ACCEPTED = 1e-9


class Equations(Table):
    """A set of equations over named variables; see `Table` for what it is made of."""

    def solve(
        self,
        given: Mapping[str, float],
        start: Mapping[str, float] | None = None,
        *,
        rescue: bool = True,
    ) -> Solution:
        """What would happen: everything else, from what is given.

        Parameters
        ----------
        given : values of variables or reports [inside units]. Constants and assumed variables
            that are not given keep their table's value.
        start : where to begin; by default the table's starts.
        rescue : whether a slower solver that keeps every limit tries where Newton's steps end; a
            caller that goes by small steps leaves it out, and has fewer of Newton's.

        Raises
        ------
        UnknownName, NotSpecified, NoAnswer : see `ratoon.base.errors`.
        """
        begun = time.perf_counter()
        for name, value in given.items():
            self.known(name)
            if not (isinstance(value, (int, float, np.number)) and math.isfinite(value)):
                raise BadInput("is not a number", where=name, value=value)
        with self.lock:
            square = square_system(self, given)
            most = MOST_STEPS if rescue else SHORT_STEPS
            z, residual, steps, method = square.solve(self.begin(start), given, rescue, most)
            if not residual < ACCEPTED:
                raise self._no_answer(square, z, given)
            if method == "bounded" or not steps:
                square.check_rank(z, given)
            values, left_out = square.named(z)
        return Solution(values, dict(given), steps, residual, time.perf_counter() - begun,
                        method, left_out)  # fmt: skip

    def _no_answer(self, square: SquareSystem, z: Floats, given: Mapping[str, float]) -> NoAnswer:
        worst = square.worst(z, given)
        limits = []
        for j in square.unknown:
            var = list(self.variables.values())[j]
            for side, limit in (("low", var.low), ("high", var.high)):
                near = abs(z[j] - limit) <= 1e-6 * max(var.scale, abs(limit))
                if np.isfinite(limit) and near:
                    limits.append((var.name, side, limit, var.unit))
        return NoAnswer(
            "no answer within the limits",
            residuals=worst,
            at_limit=tuple(limits[:4]),
            todo="Change what is given, or widen the limit named.",
        )

    def solve_many(
        self,
        given: Mapping[str, Any],
        start: Mapping[str, float] | None = None,
        *,
        leave: bool = False,
    ) -> dict[str, Floats]:
        """Many scenarios at once; see `ratoon.equations.scenarios`."""
        with self.lock:
            return solve_many(self, given, start, leave)

    def reconcile(
        self,
        readings: Iterable[Reading],
        start: Mapping[str, float] | None = None,
        constants: Mapping[str, float] | None = None,
        *,
        covariance: Any = None,
        leaks: Iterable[str] = (),
        robust: bool = False,
        sizes: bool = False,
    ) -> Reconciled:
        """What did happen: the most likely state, each figure with its standard uncertainty.

        Parameters
        ----------
        readings : figures read [inside units]; one without a sigma is kept and not used.
        start : where to begin. constants : values of constants other than the table's.
        covariance : whole covariance of the used readings, instead of sigma and common; the
            assumed variables that were not read come last, in the table's order.
        leaks : free quantities that suspects are also compared with, such as a loss.
        robust : let readings that the others contradict pull less (Huber's weights at 1.345
            standard uncertainties); such a reading counts with a wider sigma.
        sizes : where too little was read, or no answer is found, take each quantity that has
            limits to be about its start, give or take its scale. A figure of which that makes more
            than a tenth of the variance is not determined.

        Raises
        ------
        UnknownName, BadInput, NotSolved : see `ratoon.base.errors`.
        """
        for name in (leaks := tuple(leaks)):
            self.known(name)
        with self.lock:
            return reconcile_(self, readings, start, constants, covariance, leaks, robust, sizes)

    def first_look(
        self,
        readings: Iterable[Reading],
        start: Mapping[str, float],
        constants: Mapping[str, float] | None = None,
    ) -> tuple[Suspect, ...]:
        """Readings that the others speak against before any account is found.

        Parameters
        ----------
        start : a state at which the equations hold; everything is taken to first order from there.

        Notes
        -----
        Uncertainties count five times, for a day lies off the start and the equations bend: what
        is named is off by far.
        """
        with self.lock:
            return first_look_(self, readings, start, constants)


def reconcile(equations: Equations, readings: Iterable[Reading], **options: Any) -> Reconciled:
    """Reconcile readings with any set of equations, with no mill at all.

    Parameters
    ----------
    equations : the set. readings : figures read, each with its sigma.
    options : as `Equations.reconcile`.

    Notes
    -----
    Method: weighted least squares under the equations; see `ratoon.equations.gauss_newton`.
    Source: exchanger with bypass [NarasimhanJordache2000], all six flows read, sigma 1.

    Examples
    --------
    >>> flows = [Var(str(i), "kg/s", 0.0, 1e3, 50.0, 50.0) for i in range(1, 7)]
    >>> def nodes(v):
    ...     yield Eq("split", v["1"] - v["2"] - v["3"])
    ...     yield Eq("exchanger", v["2"] - v["4"])
    ...     yield Eq("bypass", v["3"] - v["5"])
    ...     yield Eq("mixer", v["4"] + v["5"] - v["6"])
    >>> read = [101.91, 64.45, 34.65, 64.20, 36.44, 98.88]
    >>> answer = reconcile(
    ...     Equations(flows, nodes), [Reading(str(i), y, 1.0) for i, y in enumerate(read, 1)]
    ... )
    >>> [round(answer.value(str(i)), 2) for i in range(1, 7)]
    [100.22, 64.5, 35.72, 64.5, 35.72, 100.22]
    """
    return equations.reconcile(readings, **options)
