"""How long a CUSUM chart runs before it sounds, and the limits that make false alarms rare.

A one-sided chart adds up S = max(0, S + u - k) of standardised figures u and sounds when S is
above h. Beside it the rise of the cumulative sum over the last L figures, divided by root L, may
not be above a limit of its own. The average run length is the mean number of figures until a chart
sounds.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STATES = 120
EXCESS = 1.166  # mean overshoot of a normal step over a straight limit, twice 0.583
MOST_LIMIT = 20.0
LEAST_RISE = 1.5  # below it `span_run_length` is no approximation any more
SUM_SHARE, SPAN_SHARE = 0.25, 0.75
"""Shares of the false alarms that go to the sum and to its rise over the last figures."""
TOGETHER = 0.92
"""Alarms of both rules over the sum of what their limits were worked out for: often they sound for
one reason. By simulation 0.82 to 0.85 for run lengths of 600 to 6000, and some to spare
(`tests/kept/test_run_length.py`)."""


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
    (1972) 539 (from memory; a simulation and an approximation check it in the tests).
    """
    width = 2.0 * h / (2 * states - 1)
    number = np.arange(states)
    apart = number[None, :] - number[:, None]  # from one step to another, -states + 1 the least
    step = width * np.arange(1.0 - states, states) - (shift - k)
    upper = _normal(step + 0.5 * width)[apart + states - 1]
    chain = upper - _normal(step - 0.5 * width)[apart + states - 1]
    chain[:, 0] = upper[:, 0]  # everything below the first step falls back to zero
    runs = np.linalg.solve(np.eye(states) - chain, np.ones(states))
    return float(runs[0])


@lru_cache(maxsize=64)
def decision_interval(k: float, run_length: float) -> float:
    """The limit h at which a one-sided chart without fault runs `run_length` figures on average."""
    return _limit(lambda h: average_run_length(k, h), run_length, 0.1)


def span_run_length(span: int, limit: float) -> float:
    """Mean number of figures until the rise over `span` of them, over its own sigma, is too large.

    Notes
    -----
    1 / (c phi(c) nu(c root(2/L)) / L), c the limit, L the span, phi the normal density: the rate
    at which a stationary sum of L independent figures first exceeds a high level, with nu the
    overshoot of discrete steps; D. Siegmund, Sequential Analysis (1985), from memory. A simulation
    in the tests gives run lengths 6 to 9 % shorter at limits of 2.6 to 3.4.
    """
    density = math.exp(-0.5 * limit**2) / math.sqrt(2.0 * math.pi)
    return span / (limit * density * _overshoot(limit * math.sqrt(2.0 / span)))


def _overshoot(x: float) -> float:
    """nu(x) in its usual closed form; exp(-0.583 x) for small x."""
    half = 0.5 * x
    below = float(_normal(np.array(half)))
    density = math.exp(-0.5 * half**2) / math.sqrt(2.0 * math.pi)
    return (below - 0.5) / half / (half * below + density)


@lru_cache(maxsize=64)
def span_limit(span: int, run_length: float) -> float:
    """The limit at which the rise over `span` figures is exceeded once in `run_length` figures."""
    return _limit(lambda limit: span_run_length(span, limit), run_length, LEAST_RISE)


def _limit(length: Callable[[float], float], wanted: float, low: float) -> float:
    """Where a run length that grows with the limit is as wanted; `low` where it is more there."""
    high = MOST_LIMIT
    for _ in range(40):
        middle = 0.5 * (low + high)
        if length(middle) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def limits_for(charts: int, k: float, span: int, days: float) -> tuple[float, float]:
    """Limits of the sum and of the rise, at which `charts` charts sound once in `days` figures.

    Each of their 2 x `charts` sides may then sound once in 2 x `charts` x `days` figures, by either
    rule. Charts that move together sound together, so that alarms told apart are somewhat fewer.
    """
    run = 2.0 * max(charts, 1) * days * TOGETHER
    return decision_interval(k, run / SUM_SHARE), span_limit(span, run / SPAN_SHARE)


def _normal(x: Floats) -> Floats:
    """Standard normal distribution."""
    from scipy.special import ndtr

    return np.asarray(ndtr(x))
