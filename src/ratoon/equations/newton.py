"""Newton's method on the scaled square system, kept inside the limits of the variables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
TOLERANCE = 1e-10
MOST_STEPS = 60


def inside(z: Floats, step: Floats, low: Floats, high: Floats) -> float:
    """Longest part of a step, at most 1, that leaves every variable inside its limits.

    A variable may use at most 95 % of the way to its limit in one step.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        down = np.where(step < 0, (low - z) / step, np.inf)
        up = np.where(step > 0, (high - z) / step, np.inf)
    room = float(min(down.min(initial=np.inf), up.min(initial=np.inf)))
    return 1.0 if room > 1.0 / 0.95 else max(0.95 * room, 0.0)


def newton(
    residual_and_matrix: Callable[[Floats], tuple[Floats, Any]],
    residual: Callable[[Floats], Floats],
    z: Floats,
    low: Floats,
    high: Floats,
    order: NDArray[np.int64],
) -> tuple[Floats, float, int]:
    """Solve r(z) = 0 from `z`, all scaled.

    Parameters
    ----------
    residual_and_matrix : r and dr/dz, a SciPy CSC matrix with its columns in `order`.
    order : columns in an order that keeps the factors sparse; it is found once for a pattern.

    Returns
    -------
    (z, largest residual, steps). The caller judges the residual; no exception is raised for one
    that stays large.
    """
    from scipy.sparse.linalg import splu

    z = np.clip(z, low, high)
    steps = 0
    value, matrix = residual_and_matrix(z)
    size = _size(value)
    polished = False
    while steps < MOST_STEPS:
        if size < TOLERANCE:
            # One more step costs little and takes the balances to the last digits.
            if polished or size < 1e-13:
                break
            polished = True
        try:
            step = np.empty_like(z)
            step[order] = splu(matrix, permc_spec="NATURAL").solve(-value)
        except RuntimeError:
            break
        if not np.all(np.isfinite(step)):
            break
        part = inside(z, step, low, high)
        if part == 0.0:
            # A variable stands at its limit and wants to pass: let the others move on.
            step = np.where((z <= low) & (step < 0) | (z >= high) & (step > 0), 0.0, step)
            part = inside(z, step, low, high)
        best = None
        for _ in range(10):
            trial = z + part * step
            trial_value = residual(trial)
            trial_size = _size(trial_value)
            if np.isfinite(trial_size) and (trial_size < size or trial_size < TOLERANCE):
                best = trial
                break
            part *= 0.5
        if best is None:
            if polished:
                break
            trial = z + min(1.0, 16 * part) * step
            if not np.isfinite(_size(residual(trial))):
                break
            best = trial
        z = best
        value, matrix = residual_and_matrix(z)
        new_size = _size(value)
        steps += 1
        if polished and new_size >= size:
            break
        size = new_size
    return z, float(np.max(np.abs(value), initial=0.0)), steps


def _size(value: Floats) -> float:
    return float(np.linalg.norm(value)) if np.all(np.isfinite(value)) else np.inf
