"""Unmix a near-infrared series: brix, pol and fibre of each consignment, with their doubt.

The series at the sampler is the mixing matrix times the consignments' own figures, plus noise.
Least squares with bounds gives the figures; the covariance says which cannot be told apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ratoon.cane.mixing import Mixing
from ratoon.cane.records import Array, NirSeries

QUANTITIES = ("brix", "pol", "fibre")
FLAT = 1e-9  # of the largest diagonal: below it a consignment has no juice of its own to see


@dataclass(frozen=True, slots=True)
class Unmixed:
    """Figures of n consignments.

    Parameters
    ----------
    values : shape (n, 3), brix, pol [kg/kg juice], fibre [kg/kg cane]; of a consignment that was
        not seen, the mean of all, with `seen` False. covariance : shape (n, 3, 3), of one
        consignment's three figures, from the noise of the series alone.
    seen : shape (n,). readings : readings used. noise : shape (3,), standard deviation of one
        reading. inflation : how much longer-lived than one reading the noise is, in variance.
    """

    values: Array
    covariance: Array
    seen: np.ndarray
    readings: int
    noise: Array
    inflation: float
    at_bound: np.ndarray


def cell_means(series: NirSeries, clock: Array, mixed: Mixing) -> tuple[Array, Array]:
    """Mean of the readings in each cell, shape (k, 3), and how many, shape (k,).

    `clock` : mill clock at each reading [s]. Cells in which no juice flows count none; readings
    taken while the mill stood fall on one moment of the clock, and only the first is used.
    """
    running = np.concatenate([[True], np.diff(clock) > 0.0])
    cell = np.searchsorted(mixed.edges, clock, side="right") - 1
    inside = running & (cell >= 0) & (cell < mixed.edges.size - 1)
    cell = cell[inside]
    count = np.bincount(cell, minlength=mixed.edges.size - 1).astype(np.float64)
    means = np.zeros((count.size, 3))
    for column, name in enumerate(QUANTITIES):
        total = np.bincount(cell, weights=getattr(series, name)[inside], minlength=count.size)
        means[:, column] = np.divide(total, count, out=total, where=count > 0)
    count[mixed.flow <= 0.0] = 0.0
    return means, count


def unmix(
    mixed: Mixing,
    means: Array,
    count: Array,
    low: Array,
    high: Array,
    least_noise: float,
) -> Unmixed:
    """Constrained least squares over the mixing matrix.

    Parameters
    ----------
    mixed : by consignment, n columns. means, count : of the series by cell, see `cell_means`.
    low, high : bounds of brix, pol and fibre [kg/kg], shape (3,).
    least_noise : smallest standard deviation of one reading [kg/kg].

    Notes
    -----
    Method: weighted normal equations; where a figure leaves its bounds, SciPy's bounded least
    squares on their triangular factor, which has the same minimum. Noise from the residuals. Noise
    that lives longer than one reading (cane differs from bin to bin) is met by widening the
    variance by (1 + r)/(1 - r), r the correlation of neighbouring residuals.
    """
    used = np.flatnonzero(count > 0.0)
    shares = mixed.shares[used]
    weight = count[used]
    weighted = shares.multiply(weight[:, None]).tocsr()
    normal = np.asarray((shares.T @ weighted).todense())
    right = np.asarray(weighted.T @ means[used])
    strength = np.diagonal(normal).copy()
    seen = strength > FLAT * max(float(strength.max(initial=0.0)), 1e-30)
    values = np.tile(np.average(means[used], axis=0, weights=weight), (seen.size, 1))
    inverse = np.zeros_like(normal)
    at_bound = np.zeros_like(values, dtype=bool)
    if seen.any():
        place = np.flatnonzero(seen)
        block = normal[np.ix_(place, place)]
        block_inverse, block_values = _solve(block, right[place], low, high)
        inverse[np.ix_(place, place)] = block_inverse
        values[place] = block_values
        at_bound[place] = (block_values <= low + 1e-12) | (block_values >= high - 1e-12)
    residual = (means[used] - shares @ values) * np.sqrt(weight)[:, None]
    freedom = max(used.size - int(seen.sum()), 1)
    scatter = residual.T @ residual / freedom
    scatter += np.diag(np.maximum(least_noise**2 - np.diagonal(scatter), 0.0))
    inflation = _inflation(residual, used)
    covariance = np.diagonal(inverse)[:, None, None] * scatter[None] * inflation
    noise = np.sqrt(np.diagonal(scatter))
    return Unmixed(values, covariance, seen, int(count[used].sum()), noise, inflation, at_bound)


def _solve(normal: Array, right: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Inverse of the normal equations, and the bounded solution, shape (n, 3).

    Nearly flat directions (two consignments always mixed alike) keep a large, finite doubt.
    """
    from scipy.linalg import cho_factor, cho_solve
    from scipy.optimize import lsq_linear

    floor = 1e-10 * float(np.diagonal(normal).max())
    factor = cho_factor(normal + floor * np.eye(normal.shape[0]))
    inverse = cho_solve(factor, np.eye(normal.shape[0]))
    values = cho_solve(factor, right)
    upper = np.triu(factor[0])
    for column in range(values.shape[1]):
        one = values[:, column]
        if np.any(one < low[column]) or np.any(one > high[column]):
            target = np.linalg.solve(upper.T, right[:, column])
            bounds = (low[column], high[column])
            values[:, column] = lsq_linear(upper, target, bounds, method="bvls", tol=1e-12).x
    return inverse, values


def _inflation(residual: Array, used: np.ndarray) -> float:
    """Variance of a mean of residuals over that of independent ones, from their lag-1 correlation.

    Only neighbouring cells count. At least one.
    """
    beside = np.diff(used) == 1
    if beside.sum() < 20:
        return 1.0
    found = []
    for column in range(residual.shape[1]):
        one = residual[:, column]
        spread = float(np.mean(one**2))
        if spread > 0.0:
            found.append(float(np.mean(one[1:][beside] * one[:-1][beside])) / spread)
    r = min(max([0.0, *found]), 0.95)
    return (1.0 + r) / (1.0 - r)
