"""The table of a set of equations: names, limits and compiled functions, not yet asked anything."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput, UnknownName
from ratoon.equations.compiled import Chosen, Evaluator
from ratoon.equations.records import (
    Eq,
    EquationsOf,
    Mode,
    Report,
    ReportsOf,
    Var,
)
from ratoon.equations.symbols import Symbols, scalar, unique

Floats = NDArray[np.float64]
INSIDE = 1e-6  # of a variable's scale


@dataclass(frozen=True, eq=False)
class _Compiled:
    """Residuals of one mode (scaled) and the names of their equations."""

    names: tuple[str, ...]
    residuals: Chosen
    pattern: Any
    used: frozenset[int]


class Table:
    """A set of equations over named variables, compiled on first use.

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
        slacks = np.array([v.slack for v in table], dtype=float)
        self.account_limits: tuple[Floats, Floats] = (self.lows - slacks, self.highs + slacks)
        # What is sought begins a little inside its limits: formulas have no slope at a share of 0.
        sought = np.array([v.kind != "constant" for v in table])
        room = np.where(
            sought, np.minimum(INSIDE * self.scales, 0.25 * (self.highs - self.lows)), 0
        )
        starts = np.array([v.start for v in table], dtype=float)
        self.starts: Floats = np.clip(starts, self.lows + room, self.highs - room)
        self.squares: dict[frozenset[str], Any] = {}
        # The compiled functions write into buffers of their own: one question at a time.
        self.lock = threading.RLock()

    @property
    def addresses(self) -> list[str]:
        """Every name that can be read, given or asked for."""
        return [*self.variables, *self.reports]

    def unit_of(self, name: str) -> str:
        """The inside unit of a variable or report; "" where it has none or nobody knows it."""
        found = self.variables.get(name) or self.reports.get(name)
        return found.unit if found is not None else ""

    @property
    def equations(self) -> tuple[Eq, ...]:
        return tuple(self._equations)

    def compiled(self, mode: Mode) -> _Compiled:
        """Residuals and Jacobian of a mode: its rows of what is compiled once for all modes."""
        if mode not in self._modes:
            chosen = [k for k, e in enumerate(self._equations) if e.only in ("", mode)]
            residuals = Chosen(self._residuals, np.array(chosen, dtype=np.int64))
            pattern = residuals.matrix(np.ones(len(residuals.rows))).tocsr()
            used = frozenset(int(j) for j in np.unique(pattern.indices))
            names = tuple(self._equations[k].name for k in chosen)
            self._modes[mode] = _Compiled(names, residuals, pattern, used)
        return self._modes[mode]

    @cached_property
    def _residuals(self) -> Evaluator:
        """Residuals of all equations, scaled, with their Jacobian."""
        import casadi

        rows = [scalar(e.residual, e.name) / e.scale for e in self._equations]
        outputs = casadi.vertcat(*rows) if rows else casadi.SX(0, 1)
        return Evaluator("residuals", self.symbols.vector(), outputs)

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

    def names_in(self, part: Eq | Report) -> list[str]:
        """The variables that stand in an equation or report."""
        import casadi

        expression = part.residual if isinstance(part, Eq) else part.expression
        found = {s.name() for s in casadi.symvar(scalar(expression, part.name))}
        return [name for name in self.variables if name in found]

    @cached_property
    def holding(self) -> Mapping[str, list[Eq]]:
        """The equations of an account in which each variable stands."""
        found: dict[str, list[Eq]] = {name: [] for name in self.variables}
        with self.lock:
            for equation in self._equations:
                for name in self.names_in(equation) if equation.only != "solve" else ():
                    found[name].append(equation)
        return found

    def known(self, name: str) -> None:
        """Refuse an unknown address."""
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
