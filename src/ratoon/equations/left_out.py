"""What figures would be with some readings left out, without solving again.

Leaving a reading out is the same as giving it a free error. With d = S^-1 a and W of the tests
(see `gross_errors`), the errors b of a set J of readings are W_JJ^-1 d_J with covariance W_JJ^-1; a
figure with gradient g to the readings moves by -g_J b, and its variance grows by g_J W_JJ^-1 g_J'.
Exact for linear equations; near the answer the plant is close to that.

Source: the usual algebra of least squares with a rank-one change (Sherman-Morrison).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from ratoon.equations.reconciled import Reconciled

Floats = NDArray[np.float64]
LEAST_INFORMATION = 1e-6  # as for a reading that others check at all


@dataclass(frozen=True)
class LeftOut:
    """Changes of figures, in their order, when readings are left out [inside units].

    Attributes
    ----------
    shift : change of each figure's value, shape (figures,).
    sigma : its standard uncertainty without the readings, shape (figures,).
    """

    shift: Floats
    sigma: Floats


def left_out(answer: Reconciled, out: Iterable[str], figures: Sequence[str]) -> LeftOut:
    """Figures with the readings at some addresses left out.

    Parameters
    ----------
    out : addresses of readings in use; one that no other checks stays in, since nothing could
        stand in its place.
    figures : addresses of determined figures.
    """
    tests = answer.tests
    wanted = set(out)
    members = [j for j, r in enumerate(answer.problem.readings) if r.address in wanted]
    members = _checked(tests.w, tests.variance, members)
    rows = [answer.row_of(a) for a in figures]
    white = np.array([np.zeros(len(tests.d)) if r is None else answer.sensitivities[r]
                      for r in rows]).reshape(len(rows), -1)  # fmt: skip
    sigma = np.array([answer.sigma(a) or 0.0 for a in figures])
    if not members:
        return LeftOut(np.zeros(len(rows)), sigma)
    gradient = white @ answer.factor_inverse[:, members]
    spread = np.linalg.inv(tests.w[np.ix_(members, members)])
    grown = np.einsum("ij,jk,ik->i", gradient, spread, gradient)
    return LeftOut(-gradient @ (spread @ tests.d[members]), np.sqrt(sigma**2 + grown))


def _checked(w: Floats, variance: Floats, members: Sequence[int]) -> list[int]:
    """Members that the others still check once those before them are left out."""
    kept: list[int] = []
    for j in members:
        left = w[j, j]
        if kept:
            across = w[np.ix_([j], kept)]
            left -= float((across @ np.linalg.solve(w[np.ix_(kept, kept)], across.T))[0, 0])
        if left * variance[j] > LEAST_INFORMATION:
            kept.append(j)
    return kept
