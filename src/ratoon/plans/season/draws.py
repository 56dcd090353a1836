"""Levels that differ from season to season, drawn with what few seasons leave open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rng = np.random.Generator
WEIGHT = 3.0
"""Seasons that a usual spread counts for beside the mill's own (common practice: a weak prior)."""


@dataclass(frozen=True)
class Level:
    """A figure with a level of its own in each season.

    Parameters
    ----------
    earlier : its level in each earlier season. usual, spread : what holds where there is none:
        its level, and its standard deviation from season to season.
    wide : standard deviation of `usual` itself, where no season is on record.
    seen, seen_sigma : this season's level so far and its standard error; None before any day.
    """

    earlier: tuple[float, ...]
    usual: float
    spread: float
    wide: float
    seen: float | None = None
    seen_sigma: float = 0.0

    def drawn(self, rng: Rng, count: int) -> Array:
        """This season's level in each of `count` futures.

        Notes
        -----
        Levels are normal about a mean that is not known, with a variance that is not known either:
        it is drawn about (`WEIGHT` spread^2 + sum of squares) / (`WEIGHT` + seasons - 1), so that
        few seasons give long tails. What is seen this season enters by Bayes' rule.
        """
        mean, variance = self._before(rng, count)
        if self.seen is None:
            return mean + np.sqrt(variance) * rng.standard_normal(count)
        error = max(self.seen_sigma, 1e-9) ** 2
        weight = variance / (variance + error)
        return (mean + weight * (self.seen - mean)
                + np.sqrt(weight * error) * rng.standard_normal(count))  # fmt: skip

    def _before(self, rng: Rng, count: int) -> tuple[float, Array]:
        mean, known = self.centre()
        variance = spread_drawn(self.earlier, self.spread, rng, count)
        return mean, variance * (1 + 1 / known) if known else variance + self.wide**2

    def variance(self, rng: Rng, count: int) -> Array:
        """Variance of this season's level before it is seen, in each future."""
        return self._before(rng, count)[1]

    def centre(self) -> tuple[float, int]:
        """The mean of the earlier seasons, else the usual level, and how many seasons there are."""
        known = len(self.earlier)
        return (float(np.mean(self.earlier)) if known else self.usual), known

    def told(self) -> tuple[float, float]:
        """This season's level and its standard uncertainty, for people."""
        drawn = self.drawn(np.random.default_rng(0), 2000)
        return float(np.mean(drawn)), float(np.std(drawn))


def less_error(values: Sequence[float], variance: float) -> tuple[float, ...]:
    """Levels of seasons drawn together as far as the error of each spreads them.

    Each is known with an error of this variance, which is no difference between seasons.
    """
    if len(values) < 2:
        return tuple(values)
    mean, seen = float(np.mean(values)), float(np.var(values, ddof=1))
    held = np.sqrt(max(1.0 - variance / max(seen, 1e-12), 0.0))
    return tuple(float(mean + held * (v - mean)) for v in values)


def spread_drawn(values: Sequence[float], usual: float, rng: Rng, count: int) -> Array:
    """Variances from season to season in each future, given the levels of earlier seasons."""
    known = len(values)
    squares = float(np.sum((np.asarray(values) - np.mean(values)) ** 2)) if known else 0.0
    return variances(WEIGHT * usual**2 + squares, known, rng, count)


def variances(
    squares: float | Array, seasons: int, rng: Rng, shape: int | tuple[int, int]
) -> Array:
    """Variances from season to season, drawn about their pooled estimate as their mean.

    Parameters
    ----------
    squares : sum of squares of the usual spread, `WEIGHT` times, and of `seasons` levels.

    Notes
    -----
    Squares over chi-square alone have the mean freedom / (freedom - 2) times the estimate, 1.4
    times after five seasons: due where nothing is known but those squares, but a usual spread is.
    """
    freedom = WEIGHT + max(seasons - 1, 0)
    drawn: Array = squares * (1.0 - 2.0 / freedom) / rng.chisquare(freedom, shape)
    return drawn


def wandering(
    rng: Rng, rho: float, sigma: float, start: Array | float, shape: tuple[int, int]
) -> Array:
    """A first-order autoregression in each future, shape (steps, futures), from a known value."""
    made = rng.standard_normal(shape)
    made *= sigma * np.sqrt(max(1.0 - rho**2, 0.0))
    before: Array | float = start
    for row in made:
        row += rho * before
        before = row
    return made
