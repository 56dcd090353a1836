"""How long a CUSUM chart runs before it sounds, and the limit that makes false alarms rare.

A one-sided chart adds up S = max(0, S + u - k) of standardised figures u and sounds when S is
above h. Its average run length is the mean number of figures until it sounds.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STATES = 120
EXCESS = 1.166  # mean overshoot of a normal step over a straight limit, twice 0.583
MOST_LIMIT = 20.0


def average_run_length(k: float, h: float, shift: float = 0.0, states: int = STATES) -> float:
    """Mean number of figures until a one-sided chart sounds.

    Parameters
    ----------
    k : reference value [standard deviations]. h : decision interval [standard deviations].
    shift : mean of the figures [standard deviations]; 0 while nothing is wrong.
    states : steps into which 0 to `h` is cut.

    Notes
    -----
    The sum is taken as a Markov chain on `states` steps: D. Brook and D. A. Evans, Biometrika 59
    (1972) 539 (from memory; a simulation and `siegmund` check it in the tests).
    """
    width = 2.0 * h / (2 * states - 1)
    centre = width * np.arange(states)
    step = centre[None, :] - centre[:, None] - (shift - k)
    upper = _normal(step + 0.5 * width)
    chain = upper - _normal(step - 0.5 * width)
    chain[:, 0] = upper[:, 0]  # everything below the first step falls back to nought
    runs = np.linalg.solve(np.eye(states) - chain, np.ones(states))
    return float(runs[0])


def siegmund(k: float, h: float, shift: float = 0.0) -> float:
    """Approximation of the same run length; good to some per cent.

    Notes
    -----
    (exp(-2 D b) + 2 D b - 1) / (2 D^2) with D = shift - k, b = h + 1.166: D. Siegmund, Sequential
    Analysis (1985), from memory.
    """
    drift, reach = shift - k, h + EXCESS
    if abs(drift) < 1e-9:
        return reach**2
    return (math.exp(-2.0 * drift * reach) + 2.0 * drift * reach - 1.0) / (2.0 * drift**2)


@lru_cache(maxsize=64)
def decision_interval(k: float, run_length: float) -> float:
    """The limit h at which a one-sided chart without fault runs `run_length` figures on average."""
    low, high = 0.1, MOST_LIMIT
    for _ in range(40):
        middle = 0.5 * (low + high)
        if average_run_length(k, middle) < run_length:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def limit_for(charts: int, k: float, days: float) -> float:
    """The limit at which `charts` two-sided charts sound once in `days` figures, all together.

    Each of their 2 x `charts` sides may then sound once in 2 x `charts` x `days` figures. Charts
    that move together sound together, so that alarms told apart are somewhat fewer.
    """
    return decision_interval(k, 2.0 * max(charts, 1) * days)


def _normal(x: Floats) -> Floats:
    """Standard normal distribution."""
    from scipy.special import ndtr

    return np.asarray(ndtr(x))
