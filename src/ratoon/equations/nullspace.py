"""Directions that neither an equation nor a reading determines, by orthogonal factorisation."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RANK = 1e-8  # relative size of a pivot below which a direction counts as undetermined
HOLDS = 1e-5  # least size of a null direction (of size one) on the columns that shall hold it


def null_space(a: Any, h: Any) -> tuple[Floats, NDArray[np.int64]]:
    """Null space of the stacked [A; H] (columns of unit size), and the columns to hold.

    Columns that a row of H reads alone are determined at once and leave the factorisation.
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
    both = vstack([a.tocsr(), rows[counts > 1]]).tocsc()[:, rest].toarray()
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
        basis /= np.linalg.norm(basis, axis=0)
    return basis, rest[pivots[rank:]].astype(np.int64)


def all_lean(basis: Floats, held: NDArray[np.int64]) -> bool:
    """Whether holding these columns holds the null space, no more and no less.

    So it is when no direction of the null space leaves them all where they are, and none of them
    is still but for rounding in every direction of it.
    """
    if basis.shape[1] != len(held):
        return False
    return bool(np.linalg.svd(basis[held], compute_uv=False)[-1] > HOLDS)
