"""Heat-transfer coefficients over the days crushed since a surface was cleaned.

One day's coefficient is a small difference of temperatures divided by an uncertain flow: it swings
from day to day by more than scale grows. So one law of scale is fitted to all days of the season at
once: one slope for the surface, and a level of its own after each clean. Days cannot tell well
whether 1/U^2, 1/U or ln U goes in a straight line, so all three are kept, each with its weight.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SHARED = 0.6  # of a day's variance, the same day after day: gauges and meters as mills state them
MOST_SHARED = 0.99  # some of every day's uncertainty is its own
ROUNDS = 3  # of weighing the days anew at what was fitted


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
class Law:
    """A function of the coefficient that scale moves in a straight line, upward."""

    name: str
    of: Callable[[Any], Any]
    back: Callable[[Any], Any]
    steepness: Callable[[Any], Any]  # its change for a relative change of U, without the sign


LAWS = (
    Law("1/U2", lambda u: u**-2.0, lambda y: y**-0.5, lambda u: 2.0 * u**-2.0),
    Law("1/U", lambda u: 1.0 / u, lambda y: 1.0 / y, lambda u: 1.0 / u),
    Law("ln U", lambda u: -np.log(u), lambda y: np.exp(-y), np.ones_like),
)
"""The first by [CoulsonRichardson] eq. 14.11 (print seen); the others are common practice."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """One law fitted: slope and then the level after each clean, with their covariance.

    `weight` is its chance beside the other laws, by chi-square.
    """

    law: Law
    found: Floats
    spread: Floats
    chi2: float
    weight: float

    @property
    def slope(self) -> float:
        """Rise of the law's function in a day of crushing."""
        return float(self.found[0])

    def coefficient(self, age: Any, run: int = -1) -> Any:
        """Coefficient after some days crushed since the clean that began a run."""
        return self.law.back(self.found[1:][run] + self.slope * age)

    def sigma(self, age: Any, run: int = -1) -> Any:
        """Its standard uncertainty, without what all days share."""
        k = range(1, len(self.found))[run]
        s = self.spread
        variance = s[k, k] + 2.0 * age * s[0, k] + age**2 * s[0, 0]
        u = self.coefficient(age, run)
        return np.sqrt(np.maximum(variance, 0.0)) * u / self.law.steepness(u)


@dataclass(frozen=True, slots=True)
class Run:
    """The days from one clean to the next, smoothed; `cleaned` None from the season's start."""

    cleaned: date | None
    days: tuple[DayFigure, ...]
    ages: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class SinceClean:
    """A surface over a season. `shared` is the relative uncertainty that no number of days narrows.

    `crushed` counts days of crushing since the last clean, to the end of the last day.
    """

    figures: tuple[DayFigure, ...]
    runs: tuple[Run, ...]
    laws: tuple[Fitted, ...]
    shared: float
    crushed: float

    def at(self, age: float, run: int = -1) -> tuple[float, float]:
        """Coefficient and its standard uncertainty, over the laws by their weights."""
        return _mixed(self.laws, age, run, self.shared)

    def clean(self) -> tuple[float, float]:
        """Coefficient that cleans left, over those on record, and how far one is from the next."""
        done = [k for k, run in enumerate(self.runs) if run.cleaned is not None]
        values = np.array([self.at(0.0, k)[0] for k in done])
        own = np.array([math.hypot(*(f.sigma(0.0, k) * f.weight for f in self.laws)) for k in done])
        weights = own**-2.0 / np.sum(own**-2.0)
        mean = float(weights @ values)
        apart = float(weights @ (values - mean) ** 2) * len(done) / max(len(done) - 1, 1)
        return mean, math.sqrt(apart + float(np.sum(own**-2.0)) ** -1.0)


def since_clean(
    figures: Sequence[DayFigure], cleaned: Sequence[date], crushed: Mapping[date, float]
) -> SinceClean | None:
    """The laws of scale of one surface, over all the cleans of a season.

    Parameters
    ----------
    figures : in order of days, at one brix; days without a figure are left out. cleaned : days of
        cleaning; a clean holds from its own day on. crushed : days of crushing in each mill day
        that was accounted [0 to 1]; a day that was not counts as their mean.

    Returns
    -------
    None without a clean on record, or with too few figures to tell a slope.

    Notes
    -----
    Method: f(U) = b_k + a t by weighted least squares, f as in `LAWS`, t the days crushed since
    the clean to the middle of the day, one a for all runs, one b for each; a not below zero, for
    scale does not go away by itself. Uncertainty grows where the days scatter more than they
    state. Of a day's uncertainty the shared part, 60 % where nothing else is said, does not
    average out. Laws weigh as exp(-chi2/2).
    """
    known = sorted(set(cleaned))
    kept = [f for f in figures if f.value > 0.0 and f.sigma > 0.0]
    if not known or not kept:
        return None
    clock = _Clock(known, crushed, kept[0].day)
    starts = [clock.run_of(f.day) for f in kept]
    runs = list(dict.fromkeys(starts))
    if len(kept) < len(runs) + 2 or known[-1] > kept[-1].day:
        return None
    place = np.array([runs.index(s) for s in starts])
    ages = np.array([clock.age(f.day) for f in kept])
    u, sigma = np.array([f.value for f in kept]), np.array([f.sigma for f in kept])
    shares = np.array([min(f.shared, MOST_SHARED) for f in kept])
    own = sigma / u * np.sqrt(1.0 - shares)
    laws = _weighed([_fitted(law, u, own, ages, place) for law in LAWS], len(kept))
    shared = float(np.mean(np.sqrt(shares) * sigma / u))
    return SinceClean(tuple(kept), _runs(kept, ages, place, runs, laws, shared), laws, shared,
                      clock.age(kept[-1].day, to_end=True))  # fmt: skip


class _Clock:
    """Days crushed since the clean before a day."""

    def __init__(self, cleaned: list[date], crushed: Mapping[date, float], first: date) -> None:
        self.cleaned, self.crushed = cleaned, crushed
        self.first = min([first, *crushed])
        self.usual = sum(crushed.values()) / len(crushed) if crushed else 1.0

    def run_of(self, day: date) -> date | None:
        """The clean that a day stands after; None before the first."""
        k = bisect_right(self.cleaned, day)
        return self.cleaned[k - 1] if k else None

    def _of(self, day: date) -> float:
        return self.crushed.get(day, self.usual)

    def age(self, day: date, to_end: bool = False) -> float:
        """To the middle of the day's crushing, or to its end."""
        start = self.run_of(day) or self.first
        before = sum(self._of(start + timedelta(k)) for k in range((day - start).days))
        return before + self._of(day) * (1.0 if to_end else 0.5)


def _fitted(law: Law, u: Floats, own: Floats, ages: Floats, place: Any) -> Fitted:
    """One law by weighted least squares; `own` is each day's relative uncertainty by itself."""
    levels = np.eye(int(place.max()) + 1)[place]
    design, y, at = np.column_stack([ages, levels]), law.of(u), u
    for _ in range(ROUNDS):
        weighed = design / (own * law.steepness(at))[:, None]
        spread = np.linalg.pinv(weighed.T @ weighed)
        found = spread @ weighed.T @ (y / (own * law.steepness(at)))
        if found[0] < 0.0:  # its uncertainty stays that of the slope that was looked for
            flat = np.linalg.inv(weighed[:, 1:].T @ weighed[:, 1:])
            found[0], found[1:] = 0.0, flat @ weighed[:, 1:].T @ (y / (own * law.steepness(at)))
        at = np.clip(law.back(np.maximum(design @ found, _least(law, u))), None, 2.0 * u.max())
    left = (y - design @ found) / (own * law.steepness(at))
    return Fitted(law, found, spread, float(left @ left), 1.0)


def _least(law: Law, u: Floats) -> float:
    """The law's function where a coefficient is beyond all that was found."""
    return float(law.of(2.0 * u.max()))


def _weighed(laws: Sequence[Fitted], count: int) -> tuple[Fitted, ...]:
    """Laws with their weights, and as uncertain as the days scatter."""
    least = min(f.chi2 for f in laws)
    scatter = max(least / max(count - len(laws[0].found), 1), 1.0)
    weights = [math.exp(-0.5 * (f.chi2 - least) / scatter) for f in laws]
    return tuple(
        Fitted(f.law, f.found, f.spread * scatter, f.chi2, w / sum(weights))
        for f, w in zip(laws, weights)
    )


def _mixed(laws: Sequence[Fitted], age: float, run: int, shared: float) -> tuple[float, float]:
    values = np.array([float(f.coefficient(age, run)) for f in laws])
    own = np.array([float(f.sigma(age, run)) for f in laws])
    weights = np.array([f.weight for f in laws])
    mean = float(weights @ values)
    variance = float(weights @ (own**2 + (values - mean) ** 2))
    return mean, math.sqrt(variance + (shared * mean) ** 2)


def _runs(
    kept: Sequence[DayFigure], ages: Floats, place: Any, starts: Sequence[Any],
    laws: Sequence[Fitted], shared: float,
) -> tuple[Run, ...]:  # fmt: skip
    runs = []
    for k, start in enumerate(starts):
        mine = [i for i in range(len(kept)) if place[i] == k]
        days = [DayFigure(kept[i].day, *_mixed(laws, float(ages[i]), k, shared), kept[i].shared)
                for i in mine]  # fmt: skip
        runs.append(Run(start, tuple(days), tuple(float(ages[i]) for i in mine)))
    return tuple(runs)
