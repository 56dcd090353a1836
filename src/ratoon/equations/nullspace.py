"""Directions that neither an equation nor a reading determines, by orthogonal factorisation."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RANK = 1e-8  # relative size of a pivot below which a direction counts as undetermined
FOLLOWS = 1e-3  # least size of a column's slope in its only row, of the largest there
HOLDS = 1e-5  # least size of a null direction (of size one) on the columns that shall hold it


def null_space(a: Any, h: Any) -> tuple[Floats, NDArray[np.int64]]:
    """Null space of the stacked [A; H], and the columns to hold.

    Each direction is of size one on the columns that do not merely follow.
    Columns that a row of H reads alone are determined at once and leave the factorisation. So does
    a column that stands in one row only, with that row: whatever the others do, it follows.
    """
    from scipy.linalg import qr, solve_triangular
    from scipy.sparse import vstack

    n = a.shape[1]
    rows = h.tocsr()
    counts = np.diff(rows.indptr)
    direct = np.unique(rows.indices[rows.indptr[:-1][counts == 1]])
    rest = np.setdiff1d(np.arange(n), direct)
    if not len(rest):
        return np.zeros((n, 0)), np.zeros(0, dtype=np.int64)
    stacked = vstack([a.tocsr(), rows[counts > 1]]).tocsr()
    followers = peeled(stacked, direct)
    leaves = [column for column, _ in followers]
    rest = np.setdiff1d(rest, leaves)
    if not len(rest):
        return np.zeros((n, 0)), np.zeros(0, dtype=np.int64)
    stays = np.setdiff1d(np.arange(stacked.shape[0]), [row for _, row in followers])
    both = stacked[stays][:, rest].toarray()
    size = np.linalg.norm(both, axis=0)
    size[size == 0.0] = 1.0
    both = both / size
    if both.shape[0] < both.shape[1]:
        both = np.vstack([both, np.zeros((both.shape[1] - both.shape[0], both.shape[1]))])
    r, pivots = qr(both, mode="r", pivoting=True, check_finite=False, overwrite_a=True)
    diagonal = np.abs(np.diag(r))
    rank = int(np.sum(diagonal > RANK * max(float(diagonal[0]), 1e-300)))
    k = len(rest) - rank
    basis = np.zeros((n, k))
    if k:
        top = -solve_triangular(r[:rank, :rank], r[:rank, rank:]) if rank else np.zeros((0, k))
        small = np.vstack([top, np.eye(k)])
        basis[rest[pivots], :] = small / size[pivots][:, None]
        basis /= np.linalg.norm(basis, axis=0)  # before what follows, however far that goes
        for column, row in reversed(followers):
            own = slice(stacked.indptr[row], stacked.indptr[row + 1])
            columns, slopes = stacked.indices[own], stacked.data[own]
            others = columns != column
            follows = slopes[others] @ basis[columns[others]]
            basis[column] = -follows / slopes[~others][0]
    return basis, rest[pivots[rank:]].astype(np.int64)


def peeled(matrix: Any, direct: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Columns that one row alone gives, each with its row, in the order in which they leave.

    Parameters
    ----------
    matrix : sparse, by rows. direct : columns that are determined already.
    """
    matrix = matrix.copy()
    matrix.eliminate_zeros()
    # Of each column how many rows it stands in, and the sum of their numbers: of one, that row.
    rows = np.repeat(np.arange(matrix.shape[0]), np.diff(matrix.indptr))
    counted = np.bincount(matrix.indices, minlength=matrix.shape[1])
    counted[direct] = -1
    summed = np.bincount(matrix.indices, weights=rows, minlength=matrix.shape[1])
    count, where = counted.tolist(), summed.astype(np.int64).tolist()
    starts, indices, slopes = (
        part.tolist() for part in (matrix.indptr, matrix.indices, np.abs(matrix.data))
    )
    waiting, found = np.flatnonzero(counted == 1).tolist(), []
    while waiting:
        column = waiting.pop()
        if count[column] != 1:
            continue
        row = where[column]
        own = slice(starts[row], starts[row + 1])
        columns, sizes = indices[own], slopes[own]
        if sizes[columns.index(column)] < FOLLOWS * max(sizes):
            continue  # it hardly stands there: the factorisation shall judge
        found.append((column, row))
        for left in columns:
            if count[left] > 0:
                count[left] -= 1
                where[left] -= row
                if count[left] == 1:
                    waiting.append(left)
    return found


def all_lean(basis: Floats, held: NDArray[np.int64]) -> bool:
    """Whether holding these columns holds the null space, no more and no less.

    So it is when no direction of the null space leaves them all where they are, and none of them
    is still but for rounding in every direction of it.
    """
    if basis.shape[1] != len(held):
        return False
    return bool(np.linalg.svd(basis[held], compute_uv=False)[-1] > HOLDS)
