"""A mean that stays, week to week, day to day: what many days together say of lasting effects.

Each day tells of a list of effects, by information G and score g (the readings alone: no prior is
in them). An effect is u = mean + week + day; those that do not vary, such as an instrument's
lasting error, have the mean alone. Means have the prior given; the variances of weeks and of days
are found by the expectation-maximisation step of restricted maximum likelihood, with a prior of
`PSEUDO` weeks and days that departed as `USUAL` says: with few days a spread is never taken for
zero because chance made it look so.

Source: the usual algebra of random effects in a Gaussian model; common practice of statistics.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
USUAL = 0.5
"""Departure of a week and day together, on the stated sigma, before any is known; common practice
knows no figure, so half is taken."""
PSEUDO = 3.0
"""Weeks, and days, that this counts for."""
STEPS = 40
STILL = 5e-3  # on the departure first taken: a smaller step moves no sigma that is shown


@dataclass(frozen=True)
class Means:
    """What is known of the effects.

    Attributes
    ----------
    mean, covariance : of the means that stay. week, day : variances of the departures from them.
    """

    mean: Floats
    covariance: Floats
    week: Floats
    day: Floats

    @property
    def variance(self) -> Floats:
        """Variance of each effect on a day that was not seen, about its mean."""
        return np.diag(self.covariance) + self.week + self.day


@dataclass(frozen=True)
class _Level:
    """Information on the parent of some units, once each unit's own departure is allowed for."""

    known: Floats  # information of each unit on what it departs from, (units, q, q)
    score: Floats
    left: Floats  # variance of a departure once its own unit is seen, (units, k, k)
    rows: Floats  # rows of the information at what varies, (units, k, q)
    told: Floats  # scores at what varies


def means(
    information: Floats,
    score: Floats,
    week_of: Sequence[int],
    varies: NDArray[np.bool_],
    prior: tuple[Floats, Floats],
) -> Means:
    """The lasting means of effects, and how they depart by week and by day.

    Parameters
    ----------
    information, score : of each day, shapes (days, q, q) and (days, q).
    week_of : number of each day's week, from zero without gaps.
    varies : effects that may depart from their mean.
    prior : mean and variance of the means that stay, shape (q,) each.
    """
    at = np.flatnonzero(varies)
    weeks = np.array(week_of)
    number = int(weeks.max()) + 1
    first = USUAL**2 * prior[1][at] / 2.0
    week = day = first
    for _ in range(STEPS):
        days = _allow(information, score, at, day)
        mine = [weeks == k for k in range(number)]
        over = _allow(np.array([days.known[m].sum(axis=0) for m in mine]),
                      np.array([days.score[m].sum(axis=0) for m in mine]), at, week)  # fmt: skip
        spread = np.linalg.inv(np.diag(1.0 / prior[1]) + over.known.sum(axis=0))
        mean = spread @ (prior[0] / prior[1] + over.score.sum(axis=0))
        square = _squares(over, mean[None], spread[None])
        moved, parent = _with_departure(over, at, mean, spread)
        squares = _squares(days, moved[weeks], parent[weeks])
        wider = (square.sum(axis=0) + PSEUDO * first) / (number + PSEUDO)
        wide = (squares.sum(axis=0) + PSEUDO * first) / (len(weeks) + PSEUDO)
        step = max(np.abs((wider - week) / first).max(initial=0.0),
                   np.abs((wide - day) / first).max(initial=0.0))  # fmt: skip
        week, day = wider, wide
        if step < STILL:
            break
    out = np.zeros((2, len(varies)))
    out[:, at] = week, day
    return Means(mean, spread, out[0], out[1])


def _allow(known: Floats, score: Floats, at: NDArray[np.int64], variance: Floats) -> _Level:
    """(I + G T)^-1 G and (I + G T)^-1 g for departures of variance T at some effects."""
    rows = known[:, at, :]
    root = np.sqrt(variance)
    inner = np.eye(len(at)) + root[:, None] * rows[:, :, at] * root
    left = root[:, None] * np.linalg.inv(inner) * root
    across = np.swapaxes(rows, 1, 2) @ left
    told = score[:, at]
    return _Level(known - across @ rows, score - (across @ told[..., None])[..., 0],
                  left, rows, told)  # fmt: skip


def _departure(level: _Level, mean: Floats) -> tuple[Floats, Floats]:
    """Expected departures about a parent's mean, and how they depend on it."""
    gain = level.left @ level.rows
    told = (level.left @ level.told[..., None])[..., 0]
    return told - (gain @ mean[..., None])[..., 0], gain


def _squares(level: _Level, mean: Floats, spread: Floats) -> Floats:
    """Expected squares of the departures, their parent known by mean and covariance."""
    off, gain = _departure(level, mean)
    lean = np.einsum("ijk,ijk->ij", gain @ spread, gain)
    return np.asarray(off**2 + np.einsum("ijj->ij", level.left) + lean)


def _with_departure(
    level: _Level, at: NDArray[np.int64], mean: Floats, spread: Floats
) -> tuple[Floats, Floats]:
    """Mean and covariance of each unit: of what it departs from, and its departure."""
    off, gain = _departure(level, mean[None])
    moved = np.repeat(mean[None], len(off), axis=0)
    moved[:, at] += off
    passed = gain @ spread
    inner = passed @ np.swapaxes(gain, 1, 2) + level.left
    both = np.repeat(spread[None], len(off), axis=0)
    both[:, at, :] -= passed
    both[:, :, at] -= np.swapaxes(passed, 1, 2)
    for i in range(len(off)):
        both[i][np.ix_(at, at)] += inner[i]
    return moved, both
