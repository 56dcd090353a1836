"""What is to come and go by week and future: the season's forecast, the plan, the last weeks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

import numpy as np

from ratoon.base.sugar import Movement
from ratoon.plans.season.draws import Array
from ratoon.plans.season.futures import BLOCK, CAUSES, Fit, draw, run

PLAN_COMMON, PLAN_WEEK = 0.08, 0.15
"""How far a season, and each week of it, is off its plan where no forecast is: relative standard
uncertainty (mill's choice)."""
LATELY = 8
"""Weeks by which what comes and is drawn is told (mill's choice)."""
FOLLOWS = 0.5
"""How far a week's flow is like that of the week before (mill's choice): so many weeks tell less of
what is to come than as many that have nothing to do with one another."""
Flow = tuple[float, float, float]
FULL_WEEK = 0.05
"""A week that makes less than this of the most is no week of crushing."""


def weeks_to(first: Sequence[int], end: int) -> tuple[int, ...]:
    """Days from now to each week's start, on from those of the forecast to the plan's end.

    Examples
    --------
    >>> weeks_to((0, 3, 10), 30)
    (0, 3, 10, 17, 24, 30)
    """
    starts = [d for d in first if d < end] or [0]
    while starts[-1] + 7 < end:
        starts.append(starts[-1] + 7)
    return (*starts, end)


def forecast_make(fit: Fit, weeks: int, futures: int, seed: int) -> Array:
    """Sugar made in each week of each future [t], shape (weeks, futures); none after the season."""
    made = np.zeros((weeks, futures))
    for n in range(0, futures, BLOCK):
        count = min(BLOCK, futures - n)
        draws = {cause: draw(fit, seed, n // BLOCK, cause, 0, count) for cause in CAUSES}
        told = run(fit, draws, whole=True).weeks
        assert told is not None
        sugar = told[2][:weeks]
        made[: len(sugar), n : n + count] = sugar
    return made


def planned_make(weeks: Sequence[float], futures: int, seed: int) -> Array:
    """The same from a plan's weeks [t]: a common error, and one of each week."""
    rng = np.random.default_rng([seed, 13])
    off = PLAN_COMMON * rng.standard_normal(futures)
    own = PLAN_WEEK * rng.standard_normal((len(weeks), futures))
    return np.asarray(np.array(weeks)[:, None] * np.exp(off + own))


def crushing(make: Array) -> Array:
    """Which weeks of which futures are before the last that crushes, itself among them: 1 or 0.

    A wet week in which the mill stands is of the season: what is sold and brought goes on.
    """
    most = make.max(axis=0, initial=0.0)
    full = make > FULL_WEEK * np.maximum(most, 1e-9)
    return np.asarray(np.maximum.accumulate(full[::-1], axis=0)[::-1], dtype=np.float64)


def lately(
    movements: Sequence[Movement],
    now: datetime,
    of: Callable[[Movement], bool],
    lacking: list[str],
    what: str,
) -> Flow:
    """Mean, scatter and uncertainty of the mean of a flow, by the last whole weeks [t a week]."""
    since = min((m.time for m in movements if of(m)), default=now)
    weeks = min(LATELY, int((now - since).days / 7))
    sums = np.zeros(max(weeks, 1))
    for m in movements:
        back = (now - m.time) / timedelta(days=7)
        if of(m) and 0.0 <= back < len(sums):
            sums[int(back)] += m.tonnes
    if weeks < 2:
        lacking.append(f"movements: fewer than two weeks of what is {what}: taken as"
                       f" {float(sums.mean()):,.0f} t a week, give or take half of it")  # fmt: skip
        return float(sums.mean()), 0.25 * float(sums.mean()), 0.5 * float(sums.mean())
    spread = float(sums.std(ddof=1))
    alike = (1.0 + FOLLOWS) / (1.0 - FOLLOWS)
    return float(sums.mean()), spread, spread * float(np.sqrt(alike / weeks))
