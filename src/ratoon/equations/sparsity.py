"""Patterns of sparse matrices: compressed, and the order of columns that keeps factors sparse."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def compressed(minor: Ints, major: Ints, shape: tuple[int, int]) -> tuple[Any, Ints]:
    """Compressed rows of ones, one row for each `major`, and the order of the entries in it.

    `shape` is (minor, major); the transpose of what is given back is compressed by columns.
    """
    from scipy.sparse import csr_matrix

    sorting = np.lexsort((minor, major))
    starts = np.concatenate([[0], np.cumsum(np.bincount(major, minlength=shape[1]))])
    ones = np.ones(len(sorting))
    return csr_matrix((ones, minor[sorting], starts), shape=shape[::-1]), sorting


def sparse_order(pattern: Any) -> Ints:
    """Columns in the order that SuperLU would choose for them each time anew."""
    from scipy.sparse import csc_matrix
    from scipy.sparse.linalg import splu

    # The order follows from the pattern alone; numbers at random are not singular.
    numbers = np.random.default_rng(0).uniform(1.0, 2.0, pattern.nnz)
    probe = csc_matrix((numbers, pattern.indices, pattern.indptr), shape=pattern.shape)
    try:
        return np.argsort(splu(probe, panel_size=1, relax=1).perm_c).astype(np.int64)
    except RuntimeError:
        return np.arange(pattern.shape[1], dtype=np.int64)
