"""A grade's constants from its strikes: what they tell, and where what is usual holds instead.

Gauss and Newton's way on all strikes at once. The grade's constants and what is unsure of each
strike are found together, each with what is known of it beforehand (its prior); slopes by central
differences over fixed steps, each step shortened until it lowers the misfit. Growth is fitted at
the grade's middle purity, since its constant and the power of purity hardly part otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.plant.pan.constants import Constant
from ratoon.plant.pan.course import OWN, Course, Series, courses, predicted
from ratoon.plant.pan.growth import PURITY
from ratoon.plant.pan.together import CONSTANTS, boiled

Floats = NDArray[np.float64]
APART = 0.02
"""Half of a central difference, in standard uncertainties of the priors."""
MOST, ENOUGH = 25, 1e-2
"""Steps at most; what the last one lowers the misfit by, on chi-squared."""
MIDDLE = {"A": 0.78, "B": 0.66, "C": 0.50}
BY_PRACTICE = {"A": 400.0, "B": 500.0, "C": 650.0}
"""Purity of the mother liquor at which growth is fitted; the growth constant by practice (A and C
from assumed sizes and hours, B between them)."""
PRIORS: dict[str, tuple[float, float, bool]] = {
    "growth": (0.0, 0.5, True), "purity": (PURITY, 2.0, False), "slope": (0.088, 0.01, False),
    "births": (1e-5, 1.0, True), "dispersion": (3e-6, 0.8, True),
    "coefficient": (600.0, 0.3, True), "by_level": (0.5, 0.2, False),
    "by_viscosity": (0.15, 0.06, False),
}  # fmt: skip
"""Each constant's usual value, its standard uncertainty, and whether that is of its logarithm.
The growth constant's value is the grade's own. From memory or our own: wide on purpose."""
FARTHEST = 300.0
"""Standard uncertainties beyond which a reading is no farther off: a strike that cannot be followed
with some constants."""
WORSE = 1.2
"""Chi-squared on its readings from which on a fit is worse than chance, and its intervals wider."""
SAMPLE = 20
"""Strikes of which the lean of the likeliest constants is found."""
HELD = 0.5
"""A constant of which more than this part of the prior's variance is left is the prior's."""


@dataclass(frozen=True)
class Fit:
    """A grade's constants, and how each strike was boiled.

    Attributes
    ----------
    at, own : constants and what is unsure of each strike, in parts of the priors' uncertainties.
    covariance : of the constants. misfit : chi-squared with the priors'. readings : how many.
    """

    grade: str
    strikes: tuple[str, ...]
    at: Floats
    covariance: Floats
    own: Floats
    misfit: float
    readings: int
    steps: int
    converged: bool

    def constants(self) -> dict[str, Constant]:
        """The constants as figures."""
        found = {}
        values = constants_of(self.grade, self.at[:, None])[:, 0]
        # growth is said at the middle purity, where it is known best, as if the power were usual
        values[0] /= at_middle(self.grade, values[1])
        for k, name in enumerate(CONSTANTS):
            _, sigma, by_log = PRIORS[name]
            spread = float(self.covariance[k, k] ** 0.5 * sigma * (values[k] if by_log else 1.0))
            told = bool(self.covariance[k, k] < HELD)
            found[name] = Constant(float(values[k]), spread, "found" if told else "assumed",
                                   "strikes" if told else "prior")  # fmt: skip
        return found


def constants_of(grade: str, at: Floats) -> Floats:
    """Constants by `CONSTANTS`, from parts of the priors' uncertainties, shape (constants, n)."""
    found = np.empty_like(at)
    for k, name in enumerate(CONSTANTS):
        value, sigma, by_log = PRIORS[name]
        found[k] = value * np.exp(sigma * at[k]) if by_log else value + sigma * at[k]
    said = BY_PRACTICE[grade] * np.exp(PRIORS["growth"][1] * at[0])
    found[0] = said * at_middle(grade, found[1])
    return found


def at_middle(grade: str, power: Any) -> Any:
    """By how much the growth constant is more than is said of it at the grade's middle purity."""
    return np.exp((power - PURITY) * (1.0 - MIDDLE[grade]))


def white(series: Series, off: Floats) -> Floats:
    """Deviations of a series as independent ones of unit spread, shape (readings, columns)."""
    scaled: Floats = off / series.sigma[:, None]
    if not series.common:
        return scaled
    direction = series.common / series.sigma
    size = float(direction @ direction)
    common = np.outer(direction, direction @ scaled) * (1.0 - (1.0 + size) ** -0.5) / size
    return np.asarray(scaled - common)


def deviations(
    grade: str, many: Sequence[Course], at: Floats, own: Floats
) -> list[Floats]:  # fmt: skip
    """Of each strike, its readings less what they should be, shape (readings, columns).

    Parameters
    ----------
    at : shape (columns, constants). own : shape (strikes, columns, len(OWN)).
    """
    count, columns = len(many), own.shape[1]
    asked, circulation = courses(many, own)
    constants = np.tile(constants_of(grade, at.T), (1, count))
    told = boiled(asked, constants, circulation)
    told = told.reshape(*told.shape[:2], count, columns)
    with np.errstate(all="ignore"):  # a strike that cannot be followed with these constants
        found = [np.vstack([white(s, s.values[:, None] - predicted(c, s, told[:, :, k]))
                            for s in c.series]) for k, c in enumerate(many)]  # fmt: skip
    return [np.nan_to_num(np.clip(d, -FARTHEST, FARTHEST), nan=FARTHEST) for d in found]


def fit(grade: str, many: Sequence[Course], fixed: Floats | None = None) -> Fit:
    """The constants of a grade from its strikes.

    Parameters
    ----------
    fixed : constants that are not fitted, as `Fit.at`: then only each strike's own is found.
    """
    at = np.zeros(len(CONSTANTS)) if fixed is None else fixed
    own = np.zeros((len(many), len(OWN)))
    covariance, damping, misfit, done, steps = np.eye(len(at)), 1e-3, np.inf, False, 0
    while steps < MOST and not done:
        steps += 1
        normal = _normal(grade, many, at, own, fixed is None)
        misfit = normal.misfit
        for _ in range(12):
            move, each = normal.step(damping)
            tried = _misfit(grade, many, at + move, own + each)
            if tried <= misfit + 1e-9 * misfit:
                break
            damping = max(10.0 * damping, 1e-2)
        else:
            done = True  # no step lowers it: the lowest that numbers tell
            break
        at, own, damping = at + move, own + each, damping / 10.0
        if misfit - tried < ENOUGH * (1.0 + 0.001 * len(many)):
            misfit, done = tried, True
    if many:
        normal = _normal(grade, many, at, own, fixed is None)
        covariance = normal.covariance()
        if fixed is None:
            at = at - covariance @ _pulled(grade, many, at, own, normal, covariance)
    readings = sum(len(s.values) for c in many for s in c.series)
    if readings and misfit > WORSE * readings:
        # strikes that the equations do not follow as well as they are read tell the less
        own_part = np.eye(len(at))
        told = np.linalg.inv(covariance) - own_part
        wider = np.linalg.inv(own_part + told * (readings / misfit))
        covariance = np.asarray(wider, dtype=np.float64)
    names = tuple(c.id for c in many)
    return Fit(grade, names, at, covariance, own, float(misfit), readings, steps, done)


def _pulled(
    grade: str, many: Sequence[Course], at: Floats, own: Floats, normal: _Normal, spread: Floats
) -> Floats:
    """By how much the likeliest of all unknowns together leans away from the likeliest constants.

    Each strike's own unknowns are found with the constants. Where they are told the better, the
    fewer of their values fit as well; summed over strikes that moves the constants by several of
    their standard uncertainties. It is half the slope of ln det of what tells the strikes' own
    [Laplace's way of integrating them out], by one-sided differences over some of the strikes.
    """
    some = list(range(0, len(many), max(len(many) // SAMPLE, 1)))
    chosen, mine = [many[k] for k in some], own[some]
    follows = np.array([-np.linalg.solve(normal.of_each[k], normal.joint[k].T) for k in some])
    here = sum(float(np.linalg.slogdet(normal.of_each[k])[1]) for k in some)
    found = np.zeros(len(at))
    for j in range(len(at)):
        part = 0.3 * float(spread[j, j] ** 0.5)
        moved = at + part * (np.arange(len(at)) == j)
        there = _normal(grade, chosen, moved, mine + part * follows[:, :, j], False).of_each
        found[j] = (sum(float(np.linalg.slogdet(e)[1]) for e in there) - here) / part
    return found * len(many) / (2.0 * len(some))


def _misfit(grade: str, many: Sequence[Course], at: Floats, own: Floats) -> float:
    found = deviations(grade, many, at[None], own[:, None])
    return sum(float((d**2).sum()) for d in found) + float(at @ at) + float((own**2).sum())


@dataclass(frozen=True, slots=True)
class _Normal:
    """Normal equations: constants, each strike's own, and what joins them."""

    misfit: float
    of_all: Floats
    of_each: list[Floats]
    joint: list[Floats]
    pull: Floats
    pulls: list[Floats]
    free: bool

    def step(self, damping: float) -> tuple[Floats, Floats]:
        """Moves of the constants and of each strike's own."""
        raised = [e + damping * np.diag(np.diag(e)) for e in self.of_each]
        move: Floats = np.zeros(len(self.pull))
        if self.free:
            whole: Floats = self.of_all + damping * np.diag(np.diag(self.of_all))
            right: Floats = self.pull.copy()
            for e, j, p in zip(raised, self.joint, self.pulls):
                solved = np.linalg.solve(e, np.column_stack([j.T, p]))
                whole -= np.asarray(j @ solved[:, :-1])
                right -= np.asarray(j @ solved[:, -1])
            move = np.asarray(np.linalg.solve(whole, right), dtype=np.float64)
        each = [np.linalg.solve(e, p - np.asarray(j.T @ move))
                for e, j, p in zip(raised, self.joint, self.pulls)]  # fmt: skip
        return move, np.array(each)

    def covariance(self) -> Floats:
        """Of the constants, whatever each strike's own may be."""
        left = self.of_all - sum(j @ np.linalg.solve(e, j.T)
                                 for e, j in zip(self.of_each, self.joint))  # fmt: skip
        return np.asarray(np.linalg.inv(left), dtype=np.float64)


def _normal(
    grade: str, many: Sequence[Course], at: Floats, own: Floats, free: bool
) -> _Normal:  # fmt: skip
    n, m = len(at), len(OWN)
    moves = np.vstack([np.zeros(n + m), APART * np.eye(n + m), -APART * np.eye(n + m)])
    if not free:
        moves = moves[[0, *range(1 + n, 1 + n + m), *range(1 + 2 * n + m, 1 + 2 * n + 2 * m)]]
    found = deviations(grade, many, at + moves[:, :n], own[:, None] + moves[None, :, n:])
    half = (len(moves) - 1) // 2
    of_all, pull = np.eye(n), -at.copy()
    each, joint, pulls, misfit = [], [], [], float(at @ at) + float((own**2).sum())
    for d, mine in zip(found, own):
        misfit += float((d[:, 0] ** 2).sum())
        slopes = (d[:, 1 : half + 1] - d[:, half + 1 :]) / (2.0 * APART)
        if not free:
            slopes = np.column_stack([np.zeros((len(d), n)), slopes])
        a, b = slopes[:, :n], slopes[:, n:]
        of_all += a.T @ a
        pull -= a.T @ d[:, 0]
        each.append(np.eye(m) + b.T @ b)
        joint.append(a.T @ b)
        pulls.append(-mine - b.T @ d[:, 0])
    return _Normal(misfit, of_all, each, joint, pull, pulls, free)
