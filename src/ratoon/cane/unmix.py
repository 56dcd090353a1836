"""Unmix a near-infrared series: brix, pol and fibre of each consignment, with their uncertainty.

The series at the sampler is the mixing matrix times the consignments' own figures, plus noise.
Least squares with bounds gives the figures; the covariance says which cannot be told apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ratoon.cane.records import Array, NirSeries

QUANTITIES = ("brix", "pol", "fibre")
LEAST_FLOW = 0.2  # of the usual flow
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


def readings_on_juice(series: NirSeries, clock: Array, cane: Any) -> tuple[Array, Any, Array]:
    """Readings that saw flowing juice: figures, shape (k, 3), shares (k, n), mill clock (k,).

    Parameters
    ----------
    clock : mill clock at each reading [s]. cane : sparse, [kg] of each consignment at each.

    Notes
    -----
    While the mill stands the clock stands too, and only the first reading is used. Where less than
    a fifth of the usual juice flows, its make-up is not known well enough.
    """
    from scipy import sparse

    flow = np.asarray(cane.sum(axis=1)).ravel()
    running = np.concatenate([[True], np.diff(clock) > 0.0])
    usual = float(np.median(flow[flow > 0.0])) if np.any(flow > 0.0) else np.inf
    every = np.stack([getattr(series, name) for name in QUANTITIES], axis=1)
    sound = np.all(np.isfinite(every), axis=1)
    used = np.flatnonzero(running & sound & (flow > LEAST_FLOW * usual))
    figures = every[used]
    shares = sparse.csr_array(sparse.diags_array(1.0 / flow[used]) @ cane[used])
    return figures, shares, clock[used]


def unmix(
    figures: Array, shares: Any, clock: Array, low: Array, high: Array, least_noise: float
) -> Unmixed:
    """Constrained least squares over the mixing matrix.

    Parameters
    ----------
    figures, shares, clock : of the readings, see `readings_on_juice`; rows of `shares` sum to one.
    low, high : bounds of brix, pol and fibre [kg/kg], shape (3,).
    least_noise : smallest standard deviation of one reading [kg/kg].

    Notes
    -----
    Method: normal equations; where a figure leaves its bounds, SciPy's bounded least squares on
    their triangular factor, which has the same minimum. Noise from the residuals. Noise that
    lives longer than one reading (cane differs from bin to bin) is met by widening the variance
    by (1 + r)/(1 - r), r the correlation of neighbouring residuals.
    """
    normal = np.asarray((shares.T @ shares).todense())
    right = np.asarray(shares.T @ figures)
    strength = np.diagonal(normal).copy()
    seen = strength > FLAT * max(float(strength.max(initial=0.0)), 1e-30)
    values = np.tile(figures.mean(axis=0), (seen.size, 1))
    inverse = np.zeros_like(normal)
    at_bound = np.zeros_like(values, dtype=bool)
    if seen.any():
        place = np.flatnonzero(seen)
        block_inverse, block = _solve(normal[np.ix_(place, place)], right[place], low, high)
        inverse[np.ix_(place, place)] = block_inverse
        values[place] = block
        at_bound[place] = (block <= low + 1e-12) | (block >= high - 1e-12)
    residual = figures - shares @ values
    freedom = max(figures.shape[0] - int(seen.sum()), 1)
    scatter = residual.T @ residual / freedom
    scatter += np.diag(np.maximum(least_noise**2 - np.diagonal(scatter), 0.0))
    inflation = _inflation(residual, clock)
    covariance = np.diagonal(inverse)[:, None, None] * scatter[None] * inflation
    noise = np.sqrt(np.diagonal(scatter))
    return Unmixed(values, covariance, seen, figures.shape[0], noise, inflation, at_bound)


def _solve(normal: Array, right: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Inverse of the normal equations, and the bounded solution, shape (n, 3).

    Nearly flat directions (two consignments always mixed alike) keep a large, finite uncertainty.
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


def _inflation(residual: Array, clock: Array) -> float:
    """Variance of a mean of residuals over that of independent ones, from their lag-1 correlation.

    Only neighbouring readings count. At least one.
    """
    gap = np.diff(clock)
    beside = gap < 1.5 * np.median(gap) if gap.size else gap > 0.0
    if beside.sum() < 20:
        return 1.0
    found = [0.0]
    for column in range(residual.shape[1]):
        one = residual[:, column]
        spread = float(np.mean(one**2))
        if spread > 0.0:
            found.append(float(np.mean(one[1:][beside] * one[:-1][beside])) / spread)
    r = min(max(found), 0.95)
    return (1.0 + r) / (1.0 - r)
