"""The square system of one question: which columns are found, which rows must hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import copy
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.symbol import plain
from ratoon.equations.bounded import bounded, bounded_solver
from ratoon.equations.newton import MOST_STEPS, newton
from ratoon.equations.sparsity import compressed, sparse_order
from ratoon.equations.structure import check_rank, check_square
from ratoon.equations.table import Table

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def square_system(equations: Table, given: Mapping[str, float]) -> SquareSystem:
    """The square system for a set of given names; kept, since the pattern does not change."""
    key = frozenset(given)
    cache = equations.squares
    if key not in cache:
        cache[key] = SquareSystem(equations, tuple(sorted(key)))
    system: SquareSystem = cache[key]
    return system


class SquareSystem:
    """Unknown columns and rows for a set of given names; values come with each call."""

    def __init__(self, equations: Table, given: tuple[str, ...]) -> None:
        self._kept: dict[str, Any] = {}
        self.equations, self.compiled = equations, equations.compiled("solve")
        names = list(equations.variables)
        self.fixed = {equations.index[g]: g for g in given if g in equations.index}
        self.reports = [
            (equations.report_index[g], g) for g in given if g not in equations.variables
        ]
        self.fixed_columns = np.array(list(self.fixed), dtype=np.int64)
        slack = 1e-12 * equations.scales[self.fixed_columns]
        self.fixed_limits = (
            equations.lows[self.fixed_columns] - slack,
            equations.highs[self.fixed_columns] + slack,
        )
        self.report_rows = np.array([k for k, _ in self.reports], dtype=np.int64)
        self.report_scales = np.array(
            [equations.reports[g].scale for _, g in self.reports], dtype=float
        )
        rows, columns, slopes = self._slopes()
        used = np.bincount(columns, minlength=len(names)) > 0
        unknown: list[int] = []
        idle: list[int] = []
        for j, var in enumerate(equations.variables.values()):
            if j in self.fixed or var.kind != "free":
                continue
            (unknown if used[j] else idle).append(j)
        self.unknown = np.array(unknown, dtype=np.int64)
        self.idle = frozenset(idle)
        row_names = [*self.compiled.names, *(f"{g} as given" for _, g in self.reports)]
        self.row_names = row_names
        place = np.full(len(names), -1, dtype=np.int64)
        place[self.unknown] = np.arange(len(unknown))
        chosen = place[columns] >= 0
        self._entries = rows[chosen], place[columns[chosen]], slopes[chosen]
        shape = (len(unknown), len(row_names))
        self.pattern = compressed(self._entries[1], self._entries[0], shape)[0]
        check_square(self.pattern, row_names, [names[j] for j in unknown])

    def _slopes(self) -> tuple[Ints, Ints, Ints]:
        """Row, column and number of every slope: the equations', then those of given reports."""
        one, two = self.compiled.residuals, self.equations.reported
        count = len(one.rows)
        place = np.full(two.shape[0], -1, dtype=np.int64)
        place[self.report_rows] = one.shape[0] + np.arange(len(self.reports))
        given = np.flatnonzero(place[two.rows] >= 0)
        return (
            np.concatenate([one.rows, place[two.rows[given]]]),
            np.concatenate([one.columns, two.columns[given]]),
            np.concatenate([np.arange(count), count + given]),
        )

    def place(self, z: Floats, given: Mapping[str, float]) -> Floats:
        """`z` with the given variables in place; one outside its limits is refused."""
        z = z.copy()
        values = np.array([given[name] for name in self.fixed.values()], dtype=float)
        low, high = self.fixed_limits
        for k in np.flatnonzero((values < low) | (values > high)):
            self.check_limits(list(self.fixed.values())[k], float(values[k]))
        z[self.fixed_columns] = values
        return z

    def check_limits(self, name: str, value: float) -> None:
        """Refuse a given value outside its variable's limits."""
        var = self.equations.variables[name]
        if not var.low - 1e-12 * var.scale <= value <= var.high + 1e-12 * var.scale:
            raise BadInput(
                "is outside its limits",
                where=name,
                value=value,
                allowed=f"{var.low:g} to {var.high:g} {var.unit}".strip(),
            )

    def kept(self, name: str, make: Callable[[SquareSystem], Any]) -> Any:
        """A compiled solver of this system, made on first use."""
        if name not in self._kept:
            self._kept[name] = make(self)
        return self._kept[name]

    def expressions(self) -> tuple[Any, Any, Any]:
        """Symbols of the scaled unknowns, of the parameters, and the scaled residuals.

        The parameters are the values of all variables (those of unknowns are not looked at),
        then those of given reports.
        """
        import casadi

        equations = self.equations
        symbols = equations.symbols.vector()
        unknown = casadi.SX.sym("u", len(self.unknown))
        base = casadi.SX.sym("base", symbols.numel())
        want = casadi.SX.sym("want", len(self.reports))
        whole = casadi.vertsplit(base)
        for k, j in enumerate(self.unknown):
            whole[j] = unknown[k] * float(equations.scales[j])
        rows = [plain(e.residual / e.scale) for e in equations.equations
                if e.only in ("", "solve")]  # fmt: skip
        for k, (_, name) in enumerate(self.reports):
            report = equations.reports[name]
            rows.append((plain(report.expression) - want[k]) / report.scale)
        residual = casadi.substitute(casadi.vertcat(*rows), symbols, casadi.vertcat(*whole))
        return unknown, casadi.vertcat(base, want), casadi.cse(residual)

    def solve(
        self, z: Floats, given: Mapping[str, float], rescue: bool = True, most: int = MOST_STEPS
    ) -> tuple[Floats, float, int, str]:
        """Newton from `z`; with limits by an interior-point solver when that fails.

        `rescue` False leaves that out: a caller with many trials judges the residual itself. `most`
        is how many steps Newton's method may take.
        """
        base = self.place(z, given)
        scale, low, high = self.scaled_limits
        want = np.array([float(given[g]) for _, g in self.reports])
        whole, unknown = base.copy(), self.unknown

        def residual(u: Floats) -> Floats:
            whole[unknown] = u * scale
            return self.residual(whole, want)

        def both(u: Floats) -> tuple[Floats, Any]:
            whole[unknown] = u * scale
            return self.residual_and_matrix(whole, want)

        start, order = base[unknown] / scale, self.assembly[3]
        with np.errstate(all="ignore"):
            u, size, steps = newton(both, residual, start, low, high, order, most)
            method = "newton"
            if rescue and not size < 1e-9:
                solver = self.kept("bounded", lambda square: bounded_solver(*square.expressions()))
                found = bounded(solver, base, want, start, low, high)
                if found is not None:
                    u2, size2, more = newton(both, residual, found, low, high, order)
                    if np.isfinite(size2) and size2 < size:
                        u, size, steps, method = u2, size2, steps + more, "bounded"
        whole[unknown] = u * scale
        return whole, size, steps, method

    @cached_property
    def scaled_limits(self) -> tuple[Floats, Floats, Floats]:
        """Scales of the unknowns, and their lowest and highest scaled values."""
        scale = self.equations.scales[self.unknown]
        lows, highs = self.equations.lows, self.equations.highs
        return scale, lows[self.unknown] / scale, highs[self.unknown] / scale

    def residual(self, whole: Floats, want: Floats) -> Floats:
        """Scaled residuals, for values of all variables and of the given reports."""
        value = self.compiled.residuals.value(whole)
        if not len(self.reports):
            return value
        told = self.equations.reported.value(whole)[self.report_rows]
        return np.concatenate([value, (told - want) / self.report_scales])

    def residual_and_matrix(self, whole: Floats, want: Floats) -> tuple[Floats, Any]:
        """Scaled residuals and their matrix, unknowns in the order of `assembly`."""
        value, slopes = self.compiled.residuals.value_and_slopes(whole)
        if len(self.reports):
            told, more = self.equations.reported.value_and_slopes(whole)
            value = np.concatenate([value, (told[self.report_rows] - want) / self.report_scales])
            slopes = np.concatenate([slopes, more])
        where, factor, pattern, _ = self.assembly
        # The pattern is checked once: a copy of it carries the marks that say so.
        matrix = copy(pattern)
        matrix.data = slopes[where] * factor
        return value, matrix

    @cached_property
    def assembly(self) -> tuple[Ints, Floats, Any, Ints]:
        """Which slope stands where in the scaled matrix, its factor, and the matrix's pattern.

        Last comes the order of the unknowns that keeps the factors sparse.
        """
        rows, columns, slopes = self._entries
        shape = (len(self.row_names), len(self.unknown))
        order = sparse_order(compressed(rows, columns, shape)[0].T)
        place = np.empty_like(order)
        place[order] = np.arange(len(order))
        columns = place[columns]
        transposed, sorting = compressed(rows, columns, shape)
        row_scales = np.concatenate(
            [np.ones(shape[0] - len(self.reports)), 1.0 / self.report_scales]
        )
        scales = self.equations.scales[self.unknown[order]]
        factor = (row_scales[rows] * scales[columns])[sorting]
        pattern = transposed.T.tocsc()
        pattern.sum_duplicates()
        return slopes[sorting], factor, pattern, order

    @cached_property
    def has_value(self) -> tuple[tuple[str, ...], tuple[str, ...], Ints]:
        """Names of variables and reports that have a value, and the reports' numbers."""
        equations = self.equations
        variables = tuple(n for n, j in equations.index.items() if j not in self.idle)
        reports, numbers = tuple(equations.report_index), np.arange(len(equations.reports))
        if self.idle and reports:
            idle = np.zeros(len(equations.variables))
            idle[list(self.idle)] = 1.0
            numbers = np.flatnonzero(equations.report_pattern @ idle == 0.0)
        return variables, tuple(reports[k] for k in numbers), numbers.astype(np.int64)

    def named(self, z: Floats) -> tuple[dict[str, float], tuple[str, ...]]:
        """Values of variables and reports by name, and the names that have none."""
        _, reports, numbers = self.has_value
        with np.errstate(all="ignore"):
            told = self.equations.reported.value(z)[numbers]
        values = dict(zip(self.equations.variables, z.tolist()))
        for name in self._without_value[0]:
            del values[name]
        values.update(zip(reports, told.tolist()))
        infinite = np.flatnonzero(~np.isfinite(told))
        if not len(infinite):
            return values, self._without_value[1]
        for k in infinite:
            del values[reports[k]]
        return values, tuple(a for a in self.equations.addresses if a not in values)

    @cached_property
    def _without_value(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Variables that no equation of a solve holds; those and the reports that need them."""
        variables, reports, _ = self.has_value
        known = {*variables, *reports}
        lost = tuple(a for a in self.equations.addresses if a not in known)
        return tuple(a for a in lost if a in self.equations.index), lost

    def check_rank(self, z: Floats, given: Mapping[str, float]) -> None:
        """Refuse an answer that the equations leave open where it stands."""
        want = np.array([float(given[g]) for _, g in self.reports])
        matrix = self.residual_and_matrix(z, want)[1]
        names = list(self.equations.variables)
        columns = [names[j] for j in self.unknown[self.assembly[3]]]
        check_rank(matrix, self.row_names, columns)

    def worst(self, z: Floats, given: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
        """The equations that hold least, with their scaled residuals."""
        want = np.array([float(given[g]) for _, g in self.reports])
        with np.errstate(all="ignore"):
            value = np.nan_to_num(self.residual(z, want), nan=1e9, posinf=1e9, neginf=-1e9)
        order = np.argsort(-np.abs(value))[:3]
        return tuple((self.row_names[i], float(value[i])) for i in order if abs(value[i]) > 1e-9)
