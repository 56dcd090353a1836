"""Powers by which an assumed figure falls as another grows, from the days on which that one moved.

An account of one day cannot tell them: whatever mixing it finds, it finds at that day's rate. Days
of different rates can, if they differ enough beside what else moves the figure from day to day.
The figure of each day is what its readings say once the assumption is taken out, so that the mill
file's value does not flatten the slope. Each power is fitted beside a mean and a spread of days,
with what is stated of it as one more witness; the law is taken as straight near the mean.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from ratoon.account.period import PeriodAccount

Floats = NDArray[np.float64]
ROUNDS = 60
UNMOVED = 100.0  # standard uncertainty of a slope on what did not move


@dataclass(frozen=True, slots=True)
class Power:
    """A power by the days alone, `value` give or take `sigma`, and with what was stated of it."""

    address: str
    value: float
    sigma: float
    stated: tuple[float, float]

    @property
    def both(self) -> tuple[float, float]:
        """With what was stated as one more witness: value and standard uncertainty."""
        old, new = self.stated[1] ** -2, self.sigma**-2
        return (old * self.stated[0] + new * self.value) / (old + new), (old + new) ** -0.5


def powers(
    accounts: Sequence[PeriodAccount], names: list[str], information: Floats, score: Floats,
    stated: Callable[[str], tuple[float, float]],
) -> list[Power]:  # fmt: skip
    """What the days say of every power that a station declares.

    Parameters
    ----------
    names : of effects. information, score : of each day on them, in sigmas of the mill file.
    stated : value and sigma of a power before anything was learnt.
    """
    mill = accounts[0].mill
    table = mill.plant.equations.variables
    falls = [f for station in mill.plant.works.stations for f in station.falls()]
    found = []
    for figure, mine in groupby(falls, key=lambda f: f.figure):
        rows = list(mine)
        if figure not in names:
            continue
        k, var = names.index(figure), table[figure]
        told = [_alone(i, s, k) for i, s in zip(information, score)]
        size = float(var.sigma or 1.0) / var.start
        y = np.array([-size * error for error, _ in told])
        spread = np.array([size**2 * variance for _, variance in told])
        x = np.array([[np.log(a.answer.at(f.grows)) if a.answer else 0.0 for f in rows]
                      for a in accounts])  # fmt: skip
        fit = slopes(-(x - x.mean(axis=0)), y, spread)
        found += [Power(f.power, float(v), float(s), stated(f.power))
                  for f, v, s in zip(rows, *fit)]  # fmt: skip
    return found


def _alone(information: Floats, score: Floats, k: int) -> tuple[float, float]:
    """One day's word on one effect, all others being as uncertain as they are stated."""
    rest = np.arange(len(score)) != k
    others = information[np.ix_(rest, rest)] + np.eye(rest.sum())
    takes = np.linalg.solve(others, information[rest, k])
    heard = max(float(information[k, k] - information[rest, k] @ takes), 1e-9)
    return float(score[k] - score[rest] @ takes) / heard, 1.0 / heard


def slopes(x: Floats, y: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Slopes of `y` on each column of `x` beside a mean, and their standard uncertainties.

    Parameters
    ----------
    variance : of each `y`; days scatter more by a variance that is found, so that what is left is
    as large as it should be (Mandel and Paule).
    """
    a = np.column_stack([np.ones(len(y)), x])
    loose = np.diag([0.0, *[UNMOVED**-2] * x.shape[1]])
    low, high = 0.0, float(np.var(y)) + 1e-12
    more = 0.0
    for _ in range(ROUNDS):
        w = 1.0 / (variance + more)
        covariance = np.linalg.inv(a.T @ (w[:, None] * a) + loose)
        fit = covariance @ (a.T @ (w * y))
        left = float(w @ (y - a @ fit) ** 2)
        if more == 0.0 and left <= len(y) - a.shape[1]:
            break
        low, high = (more, high) if left > len(y) - a.shape[1] else (low, more)
        more = 0.5 * (low + high)
    return fit[1:], np.sqrt(np.diag(covariance)[1:])
