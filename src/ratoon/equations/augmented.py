"""The augmented matrix of an account, assembled from slopes by index: its pattern never changes.

    [ I   H   0  ]      H  slopes of the whitened readings (readings x columns)
    [ H' -d2  A' ]      A  slopes of the equations (equations x columns)
    [ 0   A   0  ]      d2 damping, on the diagonal

Where each number of H and A goes is found once for a set of columns, and so is the order of the
columns that keeps the factors sparse.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.equations.compiled import Chosen
from ratoon.equations.sparsity import compressed
from ratoon.equations.weights import Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
SAME = 1e-8  # relative difference of all numbers with which factors serve again
ROUNDING = 1e-12  # size of a number, among those of about one, that may be nothing else


@dataclass(frozen=True, slots=True)
class Factors:
    """Factors of one matrix.

    Attributes
    ----------
    numbers : what stands in the matrix. place : where each of its columns went. keep : the
    account's columns in it, which come after the readings.
    """

    of: Any
    numbers: Floats
    place: Ints
    keep: Ints
    readings: int

    def solve(self, right: Floats) -> tuple[Floats, Floats]:
        """Steps of the columns kept, and the multipliers of the equations."""
        x = self.of.solve(right)
        first = self.readings + len(self.keep)
        return x[self.place[self.readings : first]], x[self.place[first:]]


@dataclass(slots=True)
class Layout:
    """The pattern of the matrix over some columns: which number of `codes` stands where."""

    matrix: Any
    codes: Ints
    place: Ints
    last: Factors | None = None

    def reorder(self, place: Ints) -> None:
        """Put the columns in an order that keeps factors sparse: where each of them goes."""
        self.matrix.data = self.codes.astype(float)
        self.matrix = self.matrix[:, np.argsort(place)]
        self.matrix.sort_indices()
        self.codes, self.place = self.matrix.data.astype(np.int64), place.astype(np.int64)


class Augmented:
    """Slopes of one problem's equations and readings, and the matrix made of them."""

    def __init__(self, problem: Problem, residuals: Chosen) -> None:
        self.problem, self.residuals = problem, residuals
        self.reported = problem.equations.reported
        self._equation_slopes()
        self._reading_slopes()
        self._layouts: dict[tuple[bytes, bool], Layout] = {}

    def _equation_slopes(self) -> None:
        from scipy.sparse import csc_matrix

        p = self.problem
        # A matrix of codes goes through the choice of columns in place of the numbers.
        codes = self.residuals.matrix(np.arange(1.0, len(self.residuals.rows) + 1.0))
        chosen = csc_matrix(codes[:, p.free])
        self.a_from = chosen.data.astype(np.int64) - 1
        self.a_factor = np.repeat(p.scale, np.diff(chosen.indptr))
        self.a_pattern = chosen
        self.a_columns = np.repeat(np.arange(len(p.free)), np.diff(chosen.indptr))

    def _reading_slopes(self) -> None:
        from scipy.sparse import csr_matrix

        p, count = self.problem, len(self.reported.rows)
        codes = self.reported.matrix(np.arange(1.0, count + 1.0)).tocsr()
        place = np.full(len(p.equations.variables), -1, dtype=np.int64)
        place[p.free] = np.arange(len(p.free))
        # A variable that is read has the slope one, kept behind the reports' slopes.
        read = np.flatnonzero(~p.is_report)
        rows, columns, taken = [read], [place[p.index[read]]], [np.full(len(read), count)]
        for i in np.flatnonzero(p.is_report):
            part = slice(codes.indptr[p.index[i]], codes.indptr[p.index[i] + 1])
            columns.append(place[codes.indices[part]])
            rows.append(np.full(len(columns[-1]), i))
            taken.append(codes.data[part].astype(np.int64) - 1)
        row, column, code = map(_joined, (rows, columns, taken))
        found = column >= 0
        row, column = row[found], column[found]
        self.h_from, self.h_factor = code[found], p.scale[column]
        # Whitening mixes the rows of one instrument: each of its terms is one entry of `mix`.
        mixing = p.sparse_whitener[:, row].tocoo()
        term, entry = mixing.row.astype(np.int64), mixing.col.astype(np.int64)
        key = term * len(p.free) + column[entry]
        places, number = np.unique(key, return_inverse=True)
        shape = (len(places), len(row))
        self.mix = csr_matrix((mixing.data, (number, entry)), shape=shape)
        self.h_rows, self.h_columns = places // len(p.free), places % len(p.free)

    def evaluate(self, z: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Equations, their slopes, what would be read, and the whitened slopes of that."""
        p = self.problem
        g, slopes = self.residuals.value_and_slopes(z)
        told = np.array(z[np.where(p.is_report, 0, p.index)])
        more = np.zeros(len(self.reported.rows))
        if p.is_report.any():
            values, more = self.reported.value_and_slopes(z)
            told[p.is_report] = values[p.index[p.is_report]]
        h = self.mix @ (np.append(more, 1.0)[self.h_from] * self.h_factor)
        return g, slopes[self.a_from] * self.a_factor, told, h

    def matrices(self, a: Floats, h: Floats) -> tuple[Any, Any]:
        """A and H as SciPy matrices."""
        from scipy.sparse import csc_matrix, csr_matrix

        shape = (len(self.problem.readings), len(self.problem.free))
        pattern = self.a_pattern
        return (
            csc_matrix((a, pattern.indices, pattern.indptr), shape=pattern.shape),
            csr_matrix((h, (self.h_rows, self.h_columns)), shape=shape),
        )

    def turned(self, a: Floats, h: Floats, white: Floats, multipliers: Floats) -> Floats:
        """H' times what the readings are off, and A' times the multipliers of the equations."""
        count = len(self.problem.free)
        of_readings = np.bincount(self.h_columns, h * white[self.h_rows], count)
        prices = multipliers[self.a_pattern.indices]
        return np.asarray(of_readings + np.bincount(self.a_columns, a * prices, count))

    def factors(self, a: Floats, h: Floats, keep: Ints, damping: float) -> Factors:
        """Factors of the matrix over the columns to keep.

        Raises
        ------
        RuntimeError : the matrix is singular.
        """
        from scipy.sparse.linalg import splu

        key = (keep.tobytes(), damping > 0.0)
        layout = self._layouts.get(key) or self._layout(keep, damping > 0.0)
        numbers = np.concatenate([[1.0, -(damping**2)], h, a])
        last = layout.last
        if last is not None and np.allclose(numbers, last.numbers, rtol=SAME, atol=ROUNDING):
            return last
        matrix, place = layout.matrix, layout.place
        matrix.data = numbers[layout.codes]
        spec = "COLAMD" if last is None else "NATURAL"
        factors = splu(matrix, permc_spec=spec, panel_size=1, relax=1)
        layout.last = Factors(factors, numbers, place, keep, len(self.problem.readings))
        if last is None:
            # SuperLU's order follows from the pattern alone: later factors need not find it anew.
            layout.reorder(factors.perm_c)
            self._layouts[key] = layout
        return layout.last

    def _layout(self, keep: Ints, damped: bool) -> Layout:
        """What number stands where over the columns to keep, in their own order."""
        from scipy.sparse.csgraph import structural_rank

        readings, count = len(self.problem.readings), len(keep)
        column = np.full(len(self.problem.free), -1, dtype=np.int64)
        column[keep] = readings + np.arange(count)
        row = np.concatenate([self.h_rows, readings + count + self.a_pattern.indices])
        at = column[np.concatenate([self.h_columns, self.a_columns])]
        stays = np.flatnonzero(at >= 0)
        row, at = row[stays], at[stays]
        own = np.arange(readings + count if damped else readings)
        size = readings + count + self.a_pattern.shape[0]
        codes = np.concatenate([own >= readings, stays + 2, stays + 2])
        pattern, sorting = compressed(np.concatenate([own, row, at]),
                                      np.concatenate([own, at, row]), (size, size))  # fmt: skip
        matrix = pattern.T
        if structural_rank(matrix) < size:
            # SuperLU does not refuse every such pattern: some end the whole process.
            raise RuntimeError("a column or a row has no partner")
        return Layout(matrix, codes[sorting], np.arange(size))


def _joined(parts: list[Ints]) -> Ints:
    return np.concatenate(parts).astype(np.int64) if parts else np.zeros(0, dtype=np.int64)
