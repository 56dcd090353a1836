"""Heat-transfer coefficients smoothed over the days since a surface was cleaned.

One day's coefficient is a small difference of temperatures divided by a doubtful flow: it swings
from day to day by more than scale grows. Scale adds to 1/U^2 in a straight line, so that line is
fitted to the days since the last clean, and it is the trend to look at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import numpy as np

LEAST_DAYS = 3  # of figures since a clean, before a line means anything
SHARED = 0.6  # of a day's variance, the same day after day: gauges and meters as mills state them
MOST_SHARED = 0.99  # some of every day's doubt is its own


@dataclass(frozen=True, slots=True)
class DayFigure:
    """A day's coefficient and its standard uncertainty, in one unit throughout.

    `shared` is the part of its variance that is the same day after day.
    """

    day: date
    value: float
    sigma: float
    shared: float = SHARED


@dataclass(frozen=True, slots=True)
class SinceClean:
    """The line of one run between cleans: its days, and coefficient when clean and last."""

    cleaned: date
    days: tuple[DayFigure, ...]
    clean: float
    slope: float  # rise of 1/U^2 in a day

    @property
    def last(self) -> DayFigure:
        return self.days[-1]


def since_clean(figures: Sequence[DayFigure], cleaned: Sequence[date]) -> list[SinceClean]:
    """Smoothed coefficients, run by run between cleans.

    Parameters
    ----------
    figures : in order of days; days without a figure are left out. cleaned : days of cleaning;
        a clean holds from its own day on. Figures before the first are not smoothed.

    Returns
    -------
    One line for each run with at least three figures.

    Notes
    -----
    Method: 1/U^2 = b + a t by weighted least squares, a not below zero (scale does not go away by
    itself); the doubt grows where the days scatter more than they state. Of the doubt of a day the
    shared part, 60 % where nothing else is said, does not average out. Source of the line:
    [CoulsonRichardson] eq. 14.11 (print seen).
    """
    known = sorted(cleaned)
    runs = []
    for start, end in pairwise([*known, date.max]):
        run = [f for f in figures if start <= f.day < end and f.value > 0.0 and f.sigma > 0.0]
        if len(run) >= LEAST_DAYS:
            runs.append(_fitted(start, run))
    return runs


def _fitted(start: date, run: Sequence[DayFigure]) -> SinceClean:
    t = np.array([(f.day - start).days for f in run], dtype=float)
    u = np.array([f.value for f in run])
    sigma = np.array([f.sigma for f in run])
    shared = np.array([min(f.shared, MOST_SHARED) for f in run])
    y, doubt = u**-2.0, 2.0 * sigma * np.sqrt(1.0 - shared) / u**3
    design = np.column_stack([np.ones_like(t), t])
    (b, a), spread = _line(design, y, doubt)
    if a < 0.0 or b <= 0.0:
        a = 0.0
        (b,), inner = _line(design[:, :1], y, doubt)
        spread = np.zeros((2, 2))
        spread[0, 0] = inner[0, 0]
    line = b + a * t
    smooth = line**-0.5
    own = np.sqrt(np.einsum("ij,jk,ik->i", design, spread, design)) * smooth**3 / 2.0
    whole = np.sqrt(own**2 + np.mean(np.sqrt(shared) * sigma / u) ** 2 * smooth**2)
    days = tuple(DayFigure(f.day, float(s), float(w), f.shared)
                 for f, s, w in zip(run, smooth, whole))  # fmt: skip
    return SinceClean(start, days, float(b) ** -0.5, float(a))


def _line(
    design: np.ndarray, y: np.ndarray, doubt: np.ndarray
) -> tuple[tuple[float, ...], np.ndarray]:
    """Weighted least squares: coefficients and their covariance, wider where days scatter more."""
    weighed = design / doubt[:, None]
    spread = np.linalg.inv(weighed.T @ weighed)
    found = spread @ weighed.T @ (y / doubt)
    free = len(y) - design.shape[1]
    left = (y - design @ found) / doubt
    scatter = float(left @ left) / free if free else 1.0
    return tuple(float(x) for x in found), spread * max(scatter, 1.0)
