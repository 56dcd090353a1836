"""The best of all states that the equations allow: an aim at its most, and prices of limits."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Any

import numpy as np

from ratoon.equations.interior import InteriorPoint
from ratoon.equations.prices import Best
from ratoon.equations.problem import Limits, Problem, none_found


class Search(Problem):
    """The search for the best state of a set of equations.

    Notes
    -----
    Method: interior point on all unknowns at once, with exact second derivatives (IPOPT). The
    price of a limit is its multiplier. Parameters and errors as of `Problem`.
    """

    @cached_property
    def _solver(self) -> InteriorPoint:
        return InteriorPoint(self.problem)

    def best(
        self,
        given: Mapping[str, float],
        limits: Limits,
        start: Mapping[str, float] | Best | None = None,
        numbers: Mapping[str, float] | None = None,
    ) -> Best:
        """The best state with what is given, inside the limits [inside units].

        Parameters
        ----------
        given : values of variables that are not sought. limits : lowest and highest by address;
            what has none here keeps the limits of its table. start : where to begin; another
            answer of this search takes fewer steps than its values.

        Raises
        ------
        UnknownName, BadInput : a limit on what the search was not made for, or one upside down.
        NoneFound : the search ended without an answer.
        """
        begun = time.perf_counter()
        with self.equations.lock:
            return self._search(given, limits, start, numbers or {}, begun)

    def _search(
        self, given: Mapping[str, float], limits: Limits,
        start: Mapping[str, float] | Best | None, numbers: Mapping[str, float], begun: float,
    ) -> Best:  # fmt: skip
        import casadi

        near = start.multipliers if isinstance(start, Best) else None
        values = start.values if isinstance(start, Best) else start
        q = self.question(given, limits, values, numbers)
        found, stats = self._solver(near, x0=q.begin, p=q.parameters, lbx=q.low, ubx=q.high,
                                    lbg=q.rows_low, ubg=q.rows_high)  # fmt: skip
        u, g, *prices = (
            np.array(casadi.DM(found[k]).full()).ravel() for k in ("x", "g", "lam_x", "lam_g")
        )
        if not stats["success"]:
            none_found(str(stats["return_status"]).replace("_", " ").lower())
        return self.told(limits, q, u, g, (prices[0], prices[1]), int(stats["iter_count"]), begun)

    @cached_property
    def _by_parameters(self) -> Any:
        """Slopes of the aim by all variables that are given, at an answer and its multipliers."""
        import casadi

        rows = casadi.SX.sym("rows", self.problem["g"].numel())
        held = self.problem["f"] + casadi.dot(rows, self.problem["g"])
        x, p = self.problem["x"], self.problem["p"]
        return casadi.Function("by_parameters", [x, p, rows], [-casadi.gradient(held, p)])

    def worth_of(
        self, best: Best, names: Iterable[str], numbers: Mapping[str, float] | None = None
    ) -> dict[str, float]:
        """What the aim gains for one more inside unit of what is given, all else set again."""
        count, index = len(self.equations.variables), self.equations.index
        z = np.array([best.values[n] for n in self.equations.variables])
        parameters = np.concatenate([z, self.extra(numbers)])
        assert best.multipliers is not None
        slopes = np.array(self._by_parameters(z[self._unknown] / self._scale, parameters,
                                              best.multipliers[1])).ravel()[:count]  # fmt: skip
        return {n: float(slopes[index[n]]) for n in names}
