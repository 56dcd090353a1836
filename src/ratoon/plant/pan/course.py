"""One strike as a fit takes it: how it was charged and fed, what was read of it and how well.

Brix is turned into true dry substance here. What nobody told is taken as is usual, with an
uncertainty that says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ratoon.laboratory.crystal_sizes import SHAPE
from ratoon.plant.pan.batch import GIVEN, HEAT, MASS, NUMBER, SIZE, STATES
from ratoon.plant.pan.together import TOLD, Courses
from ratoon.properties import crystal

Floats = NDArray[np.float64]
LONGEST_STEP = 480.0
"""Longest step that the rates bear [s]: their fastest part settles in about four minutes."""
FIRST_STEP, STEPS_GROW = 1.0 / 40.0, 1.25
"""The first step after a seeding, on the longest, and how much longer each next one is: a crystal's
size doubles in minutes at first."""
SHORT_STEPS = 14
"""By how many that makes more steps."""
KNOTS = 3
OWN = ("crystal", "size", "cv", "volume", "purity", "brix", "feed_purity",
       *(f"{name}_{k}" for name in ("feed", "circulation") for k in range(KNOTS)))  # fmt: skip
"""What is unsure of each strike: crystals of footing or seed and their size (parts), CV, volume
charged (part), purity and brix of the charge, purity of the feed, feed and circulation at start,
middle and end (parts)."""
USUAL = dict(zip(OWN, (0.05, 0.03, 0.02, 0.03, 0.006, 0.006, 0.006, *KNOTS * [0.02],
                       *KNOTS * [0.05])))  # fmt: skip
"""Standard uncertainties of them where nobody states any: common practice, no source."""
APERTURES = "retained"
FIRST_MOMENT = len(TOLD)


@dataclass(frozen=True, slots=True)
class Series:
    """What one instrument read of a strike.

    Attributes
    ----------
    name : one of `TOLD`, or ma, cv, fines, retained. at : [s] from the start. sigma : new each
        time. common : the same all through the strike. apertures : of sieves [m].
    """

    name: str
    at: Floats
    values: Floats
    sigma: Floats
    common: float = 0.0
    apertures: Floats = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True, slots=True)
class Course:
    """One strike.

    Attributes
    ----------
    mass, brix, purity : of what is charged [kg, kg/kg]. crystals : of footing [kg, MA m, CV]; for
        a strike that is seeded they are the seed, put in at `seeded` [s], else 0. unsure :
        standard uncertainty of each of `OWN`. edges : of the steps [s]. given : in each step,
        shape (K, GIVEN). pan : volume [m3], heating surface [m2].
    """

    id: str
    mass: float
    brix: float
    purity: float
    crystals: tuple[float, float, float]
    seeded: float
    unsure: Floats
    edges: Floats
    given: Floats
    pan: tuple[float, float]
    series: tuple[Series, ...] = ()

    @property
    def seconds(self) -> float:
        return float(self.edges[-1])


def edges(seconds: float, seeded: float, steps: int) -> Floats:
    """Edges of so many steps [s], one of them at the seeding, short ones after it."""
    if not seeded:
        return np.linspace(0.0, seconds, steps + 1)
    before = max(round(0.8 * steps * seeded / seconds), 1)
    lengths = np.minimum(FIRST_STEP * STEPS_GROW ** np.arange(steps - before), 1.0)
    later = seeded + (seconds - seeded) * np.cumsum(lengths) / lengths.sum()
    return np.concatenate([np.linspace(0.0, seeded, before + 1), later])


def steps_for(seconds: float, seeded: bool) -> int:
    """Steps that the longest of some strikes takes; seeded ones take shorter ones at first."""
    return max(int(np.ceil(seconds / LONGEST_STEP)) + (SHORT_STEPS if seeded else 0), 12)


def courses(many: Sequence[Course], own: Floats) -> tuple[Courses, Floats]:
    """The strikes with what is unsure of each moved, and the circulation of each step.

    Parameters
    ----------
    own : in parts of its standard uncertainty, shape (strikes, columns, len(OWN)).

    Returns
    -------
    For the strikes' columns side by side, n = strikes x columns.
    """
    count, columns, _ = own.shape
    moved = own * np.array([c.unsure for c in many])[:, None, :]
    of = {name: moved[:, :, k] for k, name in enumerate(OWN)}

    def told(values: Sequence[float]) -> Floats:
        return np.array(values)[:, None]

    mass = told([c.mass for c in many]) * np.exp(of["volume"])
    brix, purity = told([c.brix for c in many]) + of["brix"], told(
        [c.purity for c in many]) + of["purity"]  # fmt: skip
    crystals = told([c.crystals[0] for c in many]) * np.exp(of["crystal"])
    size = told([c.crystals[1] for c in many]) * np.exp(of["size"])
    cv = np.maximum(told([c.crystals[2] for c in many]) + of["cv"], 0.02)
    seeded = told([c.seeded for c in many]) > 0.0
    moments = _moments(crystals, size, cv)
    state = np.zeros((STATES, count, columns))
    footing = np.where(seeded, 0.0, crystals)
    state[0] = (mass * brix * purity - footing) / MASS
    state[1], state[2] = mass * brix * (1.0 - purity) / MASS, mass * (1.0 - brix) / MASS
    state[3] = 65.0 / HEAT  # as hot as it boils, from the first step on
    state[4:10] = np.where(seeded, 1e-9, 1.0) * moments
    given = np.repeat(np.array([c.given for c in many])[:, :, :, None], columns, 3)
    steps = given.shape[1]
    lengths = np.diff(np.array([c.edges for c in many]), axis=1)
    knots = _knots(steps)
    feeds, circulation = (np.exp(np.einsum("kj,scj->ksc", knots, moved[:, :, first:first + KNOTS]))
                          for first in (7, 7 + KNOTS))  # fmt: skip
    given[:, :, 0, :] *= np.swapaxes(feeds, 0, 1)
    given[:, :, 2, :] += of["feed_purity"][:, None, :]
    first = np.array([int(np.argmin(np.abs(c.edges - c.seeded))) if c.seeded else steps
                      for c in many])  # fmt: skip
    wide = count * columns
    return Courses(
        state.reshape(STATES, wide), np.moveaxis(given, 0, 2).reshape(steps, len(GIVEN), wide),
        np.repeat(lengths.T, columns, 1), moments.reshape(6, wide), np.repeat(first, columns),
        np.repeat(np.array([c.pan for c in many]).T, columns, 1),
    ), circulation.reshape(steps, wide)  # fmt: skip


def _knots(steps: int) -> Floats:
    """Weights of start, middle and end in each step, shape (steps, KNOTS)."""
    at = (np.arange(steps) + 0.5) / steps * (KNOTS - 1)
    return np.maximum(1.0 - np.abs(at[:, None] - np.arange(KNOTS)), 0.0)


def _moments(mass: Floats, aperture: Floats, cv: Floats) -> Floats:
    """Six moments of log-normal crystals, as a state counts them."""
    square = np.log((1.0 + np.sqrt(1.0 + 4.0 * cv * cv)) / 2.0)
    median = aperture * np.exp(-3.0 * square)
    each = [np.exp(j * j * square / 2.0) * median**j for j in range(6)]
    number = mass / (crystal.DENSITY * SHAPE * each[3])
    return np.array([number * one / (NUMBER * SIZE**j) for j, one in enumerate(each)])


def predicted(course: Course, series: Series, told: Floats) -> Floats:
    """What a series should have read.

    Parameters
    ----------
    told : of one strike, shape (K + 1, len(TOLD) + 6, columns).

    Returns
    -------
    Shape (readings, columns).
    """
    where = np.interp(series.at, course.edges, np.arange(len(course.edges)))
    low = np.minimum(where.astype(int), len(course.edges) - 2)
    part = (where - low)[:, None]

    def at(k: int) -> Floats:
        found: Floats = told[low, k] * (1.0 - part) + told[low + 1, k] * part
        return found

    if series.name in TOLD:
        return at(TOLD.index(series.name))
    kinds = [[at(FIRST_MOMENT + 3 * kind + j) for j in range(3)] for kind in (0, 1)]
    return _sizes(series, kinds)


def _sizes(series: Series, kinds: Sequence[Sequence[Floats]]) -> Floats:
    """MA, CV, share of fines or what sieves keep, from moments 3 to 5 of two populations."""
    third, fourth, fifth = (kinds[0][j] + kinds[1][j] for j in range(3))
    if series.name == "fines":
        return kinds[1][0] / third
    laws = []
    for m3, m4, m5 in kinds:
        safe = np.maximum(m3, 1e-30)
        square = np.log(np.maximum(m5 * safe / np.maximum(m4, 1e-40) ** 2, 1.0 + 1e-6))
        middle = np.log(np.maximum(m4 / safe, 1e-7)) - square / 2.0
        laws.append((safe / third, middle, np.sqrt(square)))

    def coarser(size: Floats) -> Floats:
        found: Floats = sum(w * ndtr((m - size) / s) for w, m, s in laws)
        return found

    if series.name == APERTURES:
        return coarser(np.log(series.apertures)[:, None])
    low, high = (np.asarray(f(laws[0][1], laws[1][1])) for f in (np.minimum, np.maximum))
    for _ in range(40):
        middle = (low + high) / 2.0
        more = coarser(middle) > 0.5
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    aperture: Floats = np.exp((low + high) / 2.0)
    if series.name == "ma":
        return aperture
    spread: Floats = np.sqrt(np.maximum(fifth / third - (fourth / third) ** 2, 1e-12)) / aperture
    return spread
