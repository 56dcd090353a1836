"""The null space of equations and readings, against a dense reference, where columns follow rows.

The reference is `scipy.linalg.null_space` (singular values), a general-purpose library.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import null_space as reference
from scipy.sparse import csr_matrix

from ratoon.equations.nullspace import all_lean, null_space, peeled


def system(seed: int, core: int, chain: int, short: int, read: int) -> tuple:
    """A core of equations with too few rows, a chain that hangs on it, and readings."""
    dice = np.random.default_rng(seed)
    n = core + chain
    a = np.zeros((core - short + chain, n))
    top = dice.normal(size=(core - short, core)) * (dice.random((core - short, core)) < 0.5)
    a[: core - short, :core] = top
    for k in range(chain):
        row, column = core - short + k, core + k
        a[row, column] = dice.choice([-1.0, 1.0]) * dice.uniform(0.2, 2.0)
        before = dice.choice(column, size=min(3, column), replace=False)
        a[row, before] = dice.normal(size=len(before))
    h = np.zeros((read, n))
    for r in range(read):
        own = dice.choice(n, size=1 if r % 2 else 2, replace=False)
        h[r, own] = dice.uniform(0.5, 2.0, size=len(own))
    return csr_matrix(a), csr_matrix(h)


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10_000), core=st.integers(4, 14), chain=st.integers(0, 14),
    short=st.integers(0, 3), read=st.integers(0, 5),
)  # fmt: skip
def test_it_is_the_null_space_and_its_columns_hold_it(seed, core, chain, short, read):
    a, h = system(seed, core, chain, short, read)
    both = np.vstack([a.toarray(), h.toarray()])
    singular = np.linalg.svd(both, compute_uv=False)
    if np.any((singular > 1e-10) & (singular < 1e-3)):
        return  # neither clearly zero nor clearly not: no right answer
    basis, held = null_space(a, h)
    expected = reference(both, rcond=1e-9)
    assert basis.shape == expected.shape
    assert np.abs(both @ basis).max(initial=0.0) < 1e-7
    if basis.shape[1]:
        assert np.linalg.matrix_rank(np.hstack([basis, expected]), tol=1e-6) == basis.shape[1]
    assert not len(held) or all_lean(basis, held)
    free = np.setdiff1d(np.arange(both.shape[1]), held)
    assert np.linalg.matrix_rank(both[:, free], tol=1e-9) == len(free)


def test_a_chain_leaves_from_its_end_and_what_hardly_stands_in_its_row_stays():
    a = csr_matrix(np.array([[1.0, 1.0, 0.0, 0.0], [0.0, 2.0, 1.0, 0.0], [0.0, 0.0, 1.0, 1e-9]]))
    assert peeled(a, np.zeros(0, dtype=np.int64)) == [(0, 0), (1, 1), (2, 2)]
    assert peeled(a, np.array([0])) == []  # with the end held, nothing can begin to leave


@pytest.mark.parametrize("read", [0, 1])
def test_what_a_reading_determines_at_the_end_of_a_chain_determines_its_beginning(read):
    """x1 = x0, x2 = x1: nothing is known until the last is read."""
    a = csr_matrix(np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]]))
    h = csr_matrix(np.array([[0.0, 0.0, 1.0]])[:read].reshape(read, 3))
    basis, held = null_space(a, h)
    assert basis.shape[1] == len(held) == 1 - read
