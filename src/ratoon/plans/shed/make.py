"""What is to come and go by week and future: the season's forecast, the plan, the last weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from ratoon.base.sugar import Lot, Movement
from ratoon.plans.season.draws import Array, Rng
from ratoon.plans.season.futures import BLOCK, CAUSES, Fit, draw, run

PLAN_COMMON, PLAN_WEEK = 0.08, 0.15
"""How far a season, and each week of it, is off its plan where no forecast is: relative standard
uncertainty (mill's choice)."""
LATELY = 26
"""Weeks of a season by which what comes and is drawn is told (mill's choice)."""
ENOUGH = 4
"""Weeks from which it is told how a flow hangs together."""
ALIKE = ((0.0, 0.0), (0.4, 0.0), (0.6, 0.0), (0.8, 0.0), (0.9, 0.0),
         (0.6, 0.5), (0.8, 0.5), (0.9, 0.5))  # fmt: skip
"""How far a week may be like the one before, and the share of its scatter that is its own."""
MOST_OFF, LEAST_SCATTER, LEAST_LEFT = 2.5, 0.01, 0.05
"""Standard deviations that a first week is off its level; the least scatter over it; and the least
of it that what lasts of a low week leaves."""
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


def crushing(make: Array, starts: Sequence[int]) -> Array:
    """Share of each week of each future before the last sugar of the season.

    A wet week in which the mill stands is of the season: what is sold and brought goes on. The last
    week counts as far as it makes sugar at the pace of all.
    """
    a_day = make / np.diff(np.array(starts))[:, None]
    most = a_day.max(axis=0, initial=0.0)
    full = a_day > FULL_WEEK * np.maximum(most, 1e-9)
    inside = np.maximum.accumulate(full[::-1], axis=0)[::-1].astype(np.float64)
    weeks = inside.sum(axis=0)
    pace = (a_day * inside).sum(axis=0) / np.maximum(weeks, 1.0)
    last = np.maximum(weeks.astype(np.int64) - 1, 0)
    futures = np.arange(make.shape[1])
    part = np.clip(a_day[last, futures] / np.maximum(pace, 1e-9), 0.0, 1.0)
    inside[last, futures] *= part
    return np.asarray(inside)


@dataclass(frozen=True)
class Flow:
    """What comes or goes in a week [t].

    Parameters
    ----------
    mean, spread, error : over weeks, scatter of weeks about it, and its standard uncertainty.
    weeks : each of the last ones, the oldest first; none where they are too few to tell how the
        flow hangs together. made : this mill's own sugar in each of them; zero where the flow has
        nothing to do with it.
    """

    mean: float
    spread: float = 0.0
    error: float = 0.0
    weeks: tuple[float, ...] = ()
    made: tuple[float, ...] = ()

    def drawn(self, rng: Rng, steady: Array, make: Array) -> Array:
        """The flow in each week of each future [t].

        Parameters
        ----------
        steady : length of each week [weeks], none where nothing flows. make : this mill's
            own sugar [t]; both of shape (weeks, futures).

        Method
        ------
        Weeks scatter about a level, or, where `made` is told, about a share of what this mill makes
        (mills of one district stand in the same rain), and what they scatter by is each week's own
        or lasts a while. Which of these, and how much, is drawn in each future by how well it tells
        the last weeks (level and scatter by Bayes' rule with flat priors; what lasts longer is less
        likely beforehand), so a level that wanders is told as less known than one about which weeks
        scatter alone.
        """
        futures = steady.shape[1]
        if not self.weeks:
            level = _level(rng, np.full(futures, self.mean), np.full(futures, self.error))
            ratio = np.full(futures, min(self.spread / self.mean, 1.0) if self.mean else 0.0)
            return np.asarray(steady * level * _scatter(rng, 0.0, 1.0, 0.0, ratio, steady.shape))
        y, made = np.array(self.weeks), np.array(self.made)
        fits = [_fitted(y, np.ones_like(y), *alike) for alike in ALIKE]
        if made.mean() > 0.0:
            fits += [_fitted(y, made / made.mean(), *alike) for alike in ALIKE]
        told = np.array(fits)
        weight = np.exp(told[:, 0] - told[:, 0].max())
        which = rng.choice(len(fits), futures, p=weight / weight.sum())
        _, rho, own, best, known, square, here, usual, unsure = told[which].T
        sigma = np.sqrt(square / rng.chisquare(len(y) - 1, futures))
        level = _level(rng, best, sigma / np.sqrt(known))
        start = np.clip((here - level * usual) / sigma, -MOST_OFF, MOST_OFF)
        start = start + np.sqrt(unsure) * rng.standard_normal(futures)
        ratio = np.minimum(sigma / np.maximum(level, 1e-9), 1.0)
        per_week = np.where(which < len(ALIKE), steady, make / max(made.mean(), 1e-9))
        return np.asarray(per_week * level * _scatter(rng, rho, own, start, ratio, steady.shape))


def _fitted(y: Array, x: Array, rho: float, own: float) -> tuple[float, ...]:
    """How well weeks are told by a multiple of `x`, with errors that are in part their own and
    else each so far like the one before.

    Returns
    -------
    Logarithm of how likely that is, `rho`, `own`, the multiple, its precision, sum of squares; and
    of what lasts of the last error: as `y` has it, as `x` has it, and its variance. Squares of
    errors grow with `x`, so the multiple is that of the sums where each week is on its own.
    """
    n = len(y)
    root = np.sqrt(np.maximum(x, LEAST_LEFT))  # a big week is off by more than a small one
    y, x = y / root, x / root
    back = np.arange(n)[::-1]
    near = (1.0 - own) * rho ** np.abs(np.subtract.outer(back, back)) + own * np.eye(n)
    inverse, lasts = np.linalg.inv(near), (1.0 - own) * rho**back
    known = float(x @ inverse @ x)
    best = float(x @ inverse @ y) / known
    off = y - best * x
    square = max(float(off @ inverse @ off), n * (LEAST_SCATTER * float(y.mean())) ** 2, 1e-9)
    told = np.log1p(-rho) - 0.5 * float(np.linalg.slogdet(near)[1]) - 0.5 * np.log(known)
    told -= 0.5 * (n - 1) * np.log(square) + float(np.log(root).sum())
    unsure = max(1.0 - own - float(lasts @ inverse @ lasts), 0.0)
    return (float(told), rho, own, best, known, square, float(lasts @ inverse @ y),
            float(lasts @ inverse @ x), unsure)  # fmt: skip


def _level(rng: Rng, best: Array, error: Array) -> Array:
    """A flow's level in each future, by its best figure and standard error: of what comes in few
    lumps as of a count (Jeffreys' prior), so less likely far below it than far above."""
    share = np.clip(error / np.maximum(best, 1e-9), 1e-6, 1.0) ** 2
    return np.asarray(best * share * rng.gamma(1.0 / share + 0.5))


def _scatter(
    rng: Rng, rho: Array | float, own: Array | float, start: Array | float, ratio: Array,
    shape: tuple[int, int],
) -> Array:  # fmt: skip
    """Weeks over their level: never below zero, each in part like the last; `start`: how far the
    week before was off, in standard deviations."""
    made, lasting, spread = rng.standard_normal(shape), np.zeros(shape[1]), np.zeros(shape[1])
    for row in made:
        lasting = rho * lasting + np.sqrt((1.0 - own) * (1.0 - np.square(rho))) * row
        spread = np.square(rho) * spread + (1.0 - own) * (1.0 - np.square(rho))
        start = rho * start
        z = lasting + np.sqrt(own) * rng.standard_normal(shape[1])
        level = np.maximum(1.0 + ratio * start, LEAST_LEFT)
        row[:] = level * np.exp(np.sqrt(np.log1p(ratio**2)) * z
                                - 0.5 * np.log1p(ratio**2) * (spread + own))  # fmt: skip
    return made


def lately(
    movements: Sequence[Movement],
    lots: Sequence[Lot],
    since: datetime,
    now: datetime,
    lacking: list[str],
    what: str,
) -> Flow:
    """A flow by its whole weeks before now, from a moment on: what it was before does not count."""
    first = max(since, min((m.time for m in movements), default=now))
    weeks = min(LATELY, int((now - first).days / 7))
    sums, made = np.zeros(max(weeks, 1)), np.zeros(max(weeks, 1))
    rows = [(m.time, m.tonnes, sums) for m in movements]
    rows += [(lot.end, lot.tonnes, made) for lot in lots]
    for time, tonnes, into in rows:
        back = (now - time) / timedelta(days=7)
        if 0.0 <= back < len(sums):
            into[-1 - int(back)] += tonnes
    mean = float(sums.mean())
    if weeks < 2:
        lacking.append(f"movements: fewer than two weeks of what is {what}: taken as"
                       f" {mean:,.0f} t a week, give or take half of it")  # fmt: skip
        return Flow(mean, 0.25 * mean, 0.5 * mean)
    spread = float(sums.std(ddof=1))
    if weeks < ENOUGH or mean == 0.0:
        return Flow(mean, spread, spread)
    return Flow(mean, spread, spread, tuple(sums.tolist()), tuple(made.tolist()))
