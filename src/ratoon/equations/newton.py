"""Newton's method on the scaled square system, kept inside the limits of the variables."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import inf, isfinite, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
TOLERANCE = 1e-10
LAST = 1e-11  # balances to the last digits
MOST_STEPS = 60
SHORT_STEPS = 20  # from an answer near by, where a shorter way is tried next
LEAST_BEND = 0.1  # below it, the update of an old matrix is not to be trusted
SLOW = 0.2  # a step with an old matrix must leave less than this share of the residual


def inside(z: Floats, step: Floats, low: Floats, high: Floats) -> float:
    """Longest part of a step, at most 1, that leaves every variable inside its limits.

    A variable may use at most 95 % of the way to its limit in one step.
    """
    far = z + step / 0.95
    if (far >= low).all() and (far <= high).all():
        return 1.0
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
    most: int = MOST_STEPS,
) -> tuple[Floats, float, int]:
    """Solve r(z) = 0 from `z`, all scaled.

    Parameters
    ----------
    residual_and_matrix : r and dr/dz, a SciPy CSC matrix with its columns in `order`.
    order : columns in an order that keeps the factors sparse; it is found once for a pattern.
    most : steps after which it ends.

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
    while steps < most:
        if size < TOLERANCE:
            # One more step costs little and takes the balances to the last digits.
            if polished or size < LAST:
                break
            polished = True
        try:
            factors = splu(matrix, permc_spec="NATURAL", panel_size=1, relax=1)
        except RuntimeError:
            break
        step = _direction(factors, order, value)
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
            best = z + min(1.0, 16 * part) * step
            trial_value = residual(best)
            trial_size = _size(trial_value)
            if not np.isfinite(trial_size):
                break
        steps += 1
        before, z, value, size = size, best, trial_value, trial_size
        if polished and size >= before:
            break
        if part == 1.0:
            z, value, size = _coast(residual, factors, order, step, z, value, size, low, high)
        if size < LAST:
            break
        value, matrix = residual_and_matrix(z)
    return z, float(np.max(np.abs(value), initial=0.0)), steps


def _direction(factors: Any, order: NDArray[np.int64], value: Floats) -> Floats:
    step = np.empty(len(order))
    step[order] = factors.solve(-value)
    return step


def _coast(
    residual: Callable[[Floats], Floats],
    factors: Any,
    order: NDArray[np.int64],
    step: Floats,
    z: Floats,
    value: Floats,
    size: float,
    low: Floats,
    high: Floats,
) -> tuple[Floats, Floats, float]:
    """Go on with the factors at hand while each step, at a tenth of the cost, gains enough.

    The matrix learns from each step taken (Broyden's update, by Sherman and Morrison), which
    leaves the factors as they are. `step` is the whole Newton step that led to `z`.
    """
    taken = [(step, float(step @ step))]
    while not size < LAST:
        step = _direction(factors, order, value)
        for (before, square), (after, _) in pairwise(taken):
            step += after * float(before @ step) / square
        last, square = taken[-1]
        bend = 1.0 - float(last @ step) / square if square > 0.0 else 0.0
        if not abs(bend) > LEAST_BEND:
            break
        step /= bend
        if inside(z, step, low, high) != 1.0:
            break
        trial = z + step
        trial_value = residual(trial)
        trial_size = _size(trial_value)
        if not trial_size < max(SLOW * size, LAST):
            break
        z, value, size = trial, trial_value, trial_size
        taken.append((step, float(step @ step)))
    return z, value, size


def _size(value: Floats) -> float:
    square = float(value @ value)
    return sqrt(square) if isfinite(square) else inf
