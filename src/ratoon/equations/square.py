"""The square system of one question: which columns are found, which rows must hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.equations.newton import newton
from ratoon.equations.structure import check_square

if TYPE_CHECKING:
    from ratoon.equations.system import Equations

Floats = NDArray[np.float64]


def square_system(equations: Equations, given: Mapping[str, float]) -> SquareSystem:
    """The square system for a set of given names; kept, since the pattern does not change."""
    key = tuple(sorted(given))
    cache = equations._squares
    if key not in cache:
        cache[key] = SquareSystem(equations, key)
    system: SquareSystem = cache[key]
    return system


class SquareSystem:
    """Unknown columns and rows for a set of given names; values come with each call."""

    def __init__(self, equations: Equations, given: tuple[str, ...]) -> None:
        from scipy.sparse import vstack

        self.equations, self.compiled = equations, equations.compiled("solve")
        names = list(equations.variables)
        self.fixed = {equations._index[g]: g for g in given if g in equations._index}
        self.reports = [
            (equations._report_index[g], g) for g in given if g not in equations.variables
        ]
        pattern = self.compiled.pattern
        if self.reports:
            rows = equations.report_pattern[[k for k, _ in self.reports], :]
            pattern = vstack([pattern, rows]).tocsr()
        used = set(int(j) for j in np.unique(pattern.indices))
        unknown, idle = [], []
        for j, var in enumerate(equations.variables.values()):
            if j in self.fixed or var.kind != "free":
                continue
            (unknown if j in used else idle).append(j)
        self.unknown = np.array(unknown, dtype=int)
        self.idle = frozenset(idle)
        row_names = [*self.compiled.names, *(f"{g} as given" for _, g in self.reports)]
        self.row_names = row_names
        check_square(pattern[:, self.unknown].tocsr(), row_names, [names[j] for j in self.unknown])
        self.report_rows = np.array([k for k, _ in self.reports], dtype=int)
        self.report_scales = np.array(
            [equations.reports[g].scale for _, g in self.reports], dtype=float
        )

    def place(self, z: Floats, given: Mapping[str, float]) -> Floats:
        z = z.copy()
        for j, name in self.fixed.items():
            var = self.equations.variables[name]
            value = float(given[name])
            if not var.low - 1e-12 * var.scale <= value <= var.high + 1e-12 * var.scale:
                raise BadInput(
                    "is outside its limits",
                    where=name,
                    value=value,
                    allowed=f"{var.low:g} to {var.high:g} {var.unit}".strip(),
                )
            z[j] = value
        return z

    def solve(self, z: Floats, given: Mapping[str, float]) -> tuple[Floats, float, int, str]:
        """Newton from `z`; with limits by an interior-point solver when that fails."""
        base = self.place(z, given)
        scale = self.equations.scales[self.unknown]
        low = self.equations.lows[self.unknown] / scale
        high = self.equations.highs[self.unknown] / scale
        want = np.array([float(given[g]) for _, g in self.reports])

        def full(u: Floats) -> Floats:
            whole = base.copy()
            whole[self.unknown] = u * scale
            return whole

        def residual(u: Floats) -> Floats:
            return self._residual(full(u), want)

        def both(u: Floats) -> tuple[Floats, Any]:
            return self._both(full(u), want, scale)

        start = base[self.unknown] / scale
        with np.errstate(all="ignore"):
            u, size, steps = newton(both, residual, start, low, high)
            method = "newton"
            if not size < 1e-9:
                from ratoon.equations.bounded import bounded

                found = bounded(self, base, want, start, low, high)
                if found is not None:
                    u2, size2, more = newton(both, residual, found, low, high)
                    if np.isfinite(size2) and size2 < size:
                        u, size, steps, method = u2, size2, steps + more, "bounded"
        return full(u), size, steps, method

    def _residual(self, whole: Floats, want: Floats) -> Floats:
        value = self.compiled.residuals.value(whole)
        if not len(self.reports):
            return value
        told = self.equations.reported.value(whole)[self.report_rows]
        return np.concatenate([value, (told - want) / self.report_scales])

    def _both(self, whole: Floats, want: Floats, scale: Floats) -> tuple[Floats, Any]:
        from scipy.sparse import csc_matrix, diags, vstack

        value, slopes = self.compiled.residuals.value_and_slopes(whole)
        matrix = self.compiled.residuals.matrix(slopes)[:, self.unknown]
        if len(self.reports):
            told, more = self.equations.reported.value_and_slopes(whole)
            rows = self.equations.reported.matrix(more).tocsr()[self.report_rows, :]
            rows = diags(1.0 / self.report_scales) @ rows.tocsc()[:, self.unknown]
            value = np.concatenate([value, (told[self.report_rows] - want) / self.report_scales])
            matrix = vstack([matrix, rows], format="csc")
        return value, csc_matrix(matrix @ diags(scale))

    def worst(self, z: Floats, given: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
        """The equations that hold least, with their scaled residuals."""
        want = np.array([float(given[g]) for _, g in self.reports])
        with np.errstate(all="ignore"):
            value = np.nan_to_num(self._residual(z, want), nan=1e9, posinf=1e9, neginf=-1e9)
        order = np.argsort(-np.abs(value))[:3]
        return tuple((self.row_names[i], float(value[i])) for i in order if abs(value[i]) > 1e-9)
