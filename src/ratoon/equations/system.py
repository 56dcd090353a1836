"""`Equations`: a set of equations, compiled once and asked many times."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Reading
from ratoon.equations.compiled import Evaluator
from ratoon.equations.records import (
    Eq,
    EquationsOf,
    Mode,
    NoAnswer,
    Report,
    ReportsOf,
    Solution,
    Var,
)
from ratoon.equations.symbols import Symbols, scalar, unique

if TYPE_CHECKING:
    from ratoon.equations.reconciled import Reconciled

Floats = NDArray[np.float64]
ACCEPTED = 1e-9


@dataclass(frozen=True, eq=False)
class _Compiled:
    """Residuals of one mode (scaled) and the names of their equations."""

    names: tuple[str, ...]
    residuals: Evaluator
    pattern: Any
    used: frozenset[int]


class Equations:
    """A set of equations over named variables.

    Parameters
    ----------
    variables : the table.
    equations : function of the symbols by name that yields `Eq`.
    reports : function of the symbols by name that yields `Report`; may be left out.

    Raises
    ------
    BadInput, UnknownName : a name that stands twice or is not known.
    """

    def __init__(
        self,
        variables: Iterable[Var],
        equations: EquationsOf,
        reports: ReportsOf | None = None,
    ) -> None:
        table = list(variables)
        unique([v.name for v in table], "variable")
        self.variables: dict[str, Var] = {v.name: v for v in table}
        self.symbols = Symbols(self.variables)
        self._equations = list(equations(self.symbols))
        unique([e.name for e in self._equations], "equation")
        listed = list(reports(self.symbols)) if reports is not None else []
        unique([*self.variables, *(r.name for r in listed)], "address")
        self.reports: dict[str, Report] = {r.name: r for r in listed}
        self._names = frozenset(self.variables) | frozenset(self.reports)
        self.index = {name: i for i, name in enumerate(self.variables)}
        self.report_index = {name: i for i, name in enumerate(self.reports)}
        self._modes: dict[str, _Compiled] = {}
        self.scales: Floats = np.array([v.scale for v in table], dtype=float)
        self.lows: Floats = np.array([v.low for v in table], dtype=float)
        self.highs: Floats = np.array([v.high for v in table], dtype=float)
        self.starts: Floats = np.array([v.start for v in table], dtype=float)
        self.squares: dict[frozenset[str], Any] = {}
        # The compiled functions write into buffers of their own: one question at a time.
        self.lock = threading.RLock()

    @property
    def addresses(self) -> list[str]:
        """Every name that can be read, given or asked for."""
        return [*self.variables, *self.reports]

    @property
    def equations(self) -> tuple[Eq, ...]:
        return tuple(self._equations)

    def compiled(self, mode: Mode) -> _Compiled:
        """Residuals and Jacobian of a mode, compiled on first use."""
        if mode not in self._modes:
            import casadi

            chosen = [e for e in self._equations if e.only in ("", mode)]
            rows = [scalar(e.residual, e.name) / e.scale for e in chosen]
            outputs = casadi.vertcat(*rows) if rows else casadi.SX(0, 1)
            residuals = Evaluator(f"residuals_{mode}", self.symbols.vector(), outputs)
            pattern = residuals.matrix(np.ones(len(residuals.rows))).tocsr()
            used = frozenset(int(j) for j in np.unique(pattern.indices))
            names = tuple(e.name for e in chosen)
            self._modes[mode] = _Compiled(names, residuals, pattern, used)
        return self._modes[mode]

    @cached_property
    def reported(self) -> Evaluator:
        """All reports with their Jacobian."""
        import casadi

        rows = [scalar(r.expression, r.name) for r in self.reports.values()]
        outputs = casadi.vertcat(*rows) if rows else casadi.SX(0, 1)
        return Evaluator("reports", self.symbols.vector(), outputs)

    @cached_property
    def report_pattern(self) -> Any:
        return self.reported.matrix(np.ones(len(self.reported.rows))).tocsr()

    def known(self, name: str) -> None:
        """Refuse an address that nobody knows."""
        if name not in self.variables and name not in self.reports:
            raise UnknownName("address", name, self.addresses)

    def begin(self, start: Mapping[str, float] | None) -> Floats:
        """Start values of all variables."""
        z = self.starts.copy()
        if start:
            for name in start.keys() - self._names:
                self.known(name)
            z = np.array([start.get(n, s) for n, s in zip(self.variables, z.tolist())], dtype=float)
            for k in np.flatnonzero(~np.isfinite(z)):
                name = list(self.variables)[k]
                raise BadInput("start is not a number", where=name, value=start[name])
        return np.clip(z, self.lows, self.highs)

    def solve(
        self, given: Mapping[str, float], start: Mapping[str, float] | None = None
    ) -> Solution:
        """What would happen: everything else, from what is given.

        Parameters
        ----------
        given : values of variables or reports [inside units]. Constants and assumed variables
            that are not given keep their table's value.
        start : where to begin; by default the table's starts.

        Raises
        ------
        UnknownName, NotSpecified, NoAnswer : see `ratoon.base.errors`.
        """
        from ratoon.equations.square import square_system

        begun = time.perf_counter()
        for name, value in given.items():
            self.known(name)
            if not (isinstance(value, (int, float, np.number)) and math.isfinite(value)):
                raise BadInput("is not a number", where=name, value=value)
        with self.lock:
            square = square_system(self, given)
            z, residual, steps, method = square.solve(self.begin(start), given)
            if not residual < ACCEPTED:
                raise self._no_answer(square, z, given)
            if method == "bounded" or not steps:
                square.check_rank(z, given)
            values, left_out = square.named(z)
        return Solution(values, dict(given), steps, residual, time.perf_counter() - begun,
                        method, left_out)  # fmt: skip

    def _no_answer(self, square: Any, z: Floats, given: Mapping[str, float]) -> NoAnswer:
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

    def residuals_at(self, values: Mapping[str, float]) -> dict[str, float]:
        """Residuals of a solve's equations by name, in their own units, at an answer's values."""
        compiled = self.compiled("solve")
        z = self.starts.copy()
        for name, value in values.items():
            if name in self.variables:
                z[self.index[name]] = value
        scales = {e.name: e.scale for e in self.equations}
        found = compiled.residuals.value(z)
        return {n: float(r) * scales[n] for n, r in zip(compiled.names, found, strict=True)}

    def solve_many(
        self, given: Mapping[str, Any], start: Mapping[str, float] | None = None
    ) -> dict[str, Floats]:
        """Many scenarios at once; see `ratoon.equations.scenarios`."""
        from ratoon.equations.scenarios import solve_many

        with self.lock:
            return solve_many(self, given, start)

    def reconcile(
        self,
        readings: Iterable[Reading],
        start: Mapping[str, float] | None = None,
        constants: Mapping[str, float] | None = None,
        *,
        covariance: Any = None,
        leaks: Iterable[str] = (),
        robust: bool = False,
    ) -> Reconciled:
        """What did happen: the most likely state, each figure with its standard uncertainty.

        Parameters
        ----------
        readings : figures read [inside units]; one without a sigma is kept and not used.
        start : where to begin. constants : values of constants other than the table's.
        covariance : whole covariance of the used readings, instead of sigma and common; the
            assumed variables that nobody has read come last, in the table's order.
        leaks : free quantities that suspects are also compared with, such as a loss.
        robust : let readings that the others contradict pull less (Huber's weights at 1.345
            standard uncertainties); such a reading counts with a wider sigma.

        Raises
        ------
        UnknownName, BadInput, NotSolved : see `ratoon.base.errors`.
        """
        from ratoon.equations.gauss_newton import reconcile as reconcile_

        for name in (leaks := tuple(leaks)):
            self.known(name)
        with self.lock:
            return reconcile_(self, readings, start, constants, covariance, leaks, robust)


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
