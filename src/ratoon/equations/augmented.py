"""The augmented matrix of an account, assembled from slopes by index: its pattern never changes.

    [ I   H   0  ]      H  slopes of the whitened readings (readings x columns)
    [ H' -d2  A' ]      A  slopes of the equations (equations x columns)
    [ 0   A   0  ]      d2 damping, on the diagonal

Where each number of H and A goes is found once for a set of columns, and so is the order of the
columns that keeps the factors sparse.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.equations.compiled import Chosen
from ratoon.equations.weights import Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Augmented:
    """Slopes of one problem's equations and readings, and the matrix made of them."""

    def __init__(self, problem: Problem, residuals: Chosen) -> None:
        self.problem, self.residuals = problem, residuals
        self.reported = problem.equations.reported
        self._equation_slopes()
        self._reading_slopes()
        self._layouts: dict[tuple[bytes, bool], tuple[Any, Ints]] = {}

    def _equation_slopes(self) -> None:
        from scipy.sparse import csc_matrix

        p = self.problem
        # A matrix of codes goes through the choice of columns in place of the numbers.
        codes = self.residuals.matrix(np.arange(1.0, len(self.residuals.rows) + 1.0))
        chosen = csc_matrix(codes[:, p.free])
        self.a_from = chosen.data.astype(np.int64) - 1
        self.a_factor = np.repeat(p.scale, np.diff(chosen.indptr))
        self.a_pattern = chosen

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
        mixing = csr_matrix(p.whitener)[:, row].tocoo()
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

    def factors(self, a: Floats, h: Floats, keep: Ints, damping: float) -> tuple[Any, Ints]:
        """Factors of the matrix over the columns to keep, and the order of their solutions.

        Raises
        ------
        RuntimeError : the matrix is singular.
        """
        from scipy.sparse import csc_matrix
        from scipy.sparse.linalg import splu

        key = (keep.tobytes(), damping > 0.0)
        ordered = key in self._layouts
        codes, order = self._layouts[key] if ordered else self._layout(keep, damping > 0.0)
        numbers = np.concatenate([[1.0, -(damping**2)], h, a])[codes.data]
        matrix = csc_matrix((numbers, codes.indices, codes.indptr), shape=codes.shape)
        if ordered:
            return splu(matrix, permc_spec="NATURAL", panel_size=1, relax=1), order
        factors = splu(matrix, panel_size=1, relax=1)
        # SuperLU's order follows from the pattern alone: later factors need not find it anew.
        chosen = np.argsort(factors.perm_c).astype(np.int64)
        codes = codes[:, chosen]
        codes.sort_indices()
        self._layouts[key] = codes, chosen
        return factors, order

    def _layout(self, keep: Ints, damped: bool) -> tuple[Any, Ints]:
        """What number stands where over the columns to keep, and the columns as they are."""
        from scipy.sparse import bmat, csc_matrix, identity
        from scipy.sparse.csgraph import structural_rank

        count = len(self.h_rows)
        a, h = self.matrices(
            np.arange(count + 3.0, count + 3.0 + len(self.a_from)), np.arange(3.0, count + 3.0)
        )
        a, h = a[:, keep], h.tocsc()[:, keep]
        middle = 2.0 * identity(len(keep)) if damped else None
        blocks = [[identity(h.shape[0]), h, None], [h.T, middle, a.T], [None, a, None]]
        matrix = csc_matrix(bmat(blocks, format="csc"))
        matrix.sort_indices()
        if structural_rank(matrix) < matrix.shape[0]:
            # SuperLU does not refuse every such pattern: some end the whole process.
            raise RuntimeError("a column or a row has no partner")
        matrix.data = matrix.data.astype(np.int64) - 1
        return matrix, np.arange(matrix.shape[1], dtype=np.int64)


def _joined(parts: list[Ints]) -> Ints:
    return np.concatenate(parts).astype(np.int64) if parts else np.zeros(0, dtype=np.int64)
