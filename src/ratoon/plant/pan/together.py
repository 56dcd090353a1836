"""Many strikes boiled side by side by the batch pan's own rates, in fixed steps.

A fit asks for the same sixty strikes some thousand times, each time a little otherwise. CVODES
follows one strike at a time; here every strike takes as many steps as any other, each of its own
length, and all take a step at once, by the classical rule of Runge and Kutta. Fixed steps err the
same way at each asking, so that small differences of two askings are exact. All strikes boil from
their start to their drop. Moments of the footing or seed are followed by their logarithms: a seed
grows a thousandfold in minutes, and its CV would otherwise be lost in the steps' errors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.maths import Quantity, exp
from ratoon.equations.motion import written
from ratoon.plant.pan.batch import (
    FINES,
    FOOTING,
    GIVEN,
    GONE,
    HEAT,
    MASS,
    SCALES,
    STATES,
    BatchPan,
    boiling_point,
    enthalpies,
    liquor_of,
    rates,
    vapour_enthalpy,
)
from ratoon.plant.pan.growth import Crystallisation

Floats = NDArray[np.float64]
Row = Sequence[Quantity]
CONSTANTS = ("growth", "purity", "slope", "births", "dispersion", "coefficient", "by_level",
             "by_viscosity")  # fmt: skip
"""A grade's own, as `Crystallisation` and `BatchPan` call them."""
OWN = ("volume", "surface")
TOLD = ("supersaturation", "by_other_form", "crystal", "mother", "purity", "brix", "level",
        "temperature", "evaporation")  # fmt: skip
"""Told at the end of each step: supersaturation by both forms of solubility, crystal on massecuite,
purity of the mother liquor and of all, brix, volume [m3], temperature [degC], evaporation [kg/s].
After them come moments 3 to 5 of the crystals of footing or seed and of the fines."""
FEWEST = 1e-12
"""Crystals of a pan that is not seeded yet, as a state counts: none that anybody would miss."""


@dataclass(frozen=True, slots=True)
class Courses:
    """How n strikes are boiled, in as many steps K each.

    Attributes
    ----------
    start : states, shape (STATES, n). given : what is set in each step, shape (K, GIVEN, n).
    lengths : of the steps [s], shape (K, n). seed : crystals put in at the beginning of a step,
        moments as a state counts, shape (6, n), and the step, shape (n,); a step of K is never.
    pans : volume [m3] and heating surface [m2], shape (2, n).
    """

    start: Floats
    given: Floats
    lengths: Floats
    seed: Floats
    seeded: NDArray[np.int64]
    pans: Floats


@lru_cache(maxsize=1)
def _compiled() -> tuple[Any, Any]:
    """One step of a state, and what a state tells."""
    given, law = len(GIVEN), len(CONSTANTS)

    def parts(p: Row) -> tuple[Row, BatchPan, Crystallisation]:
        of = dict(zip((*CONSTANTS, *OWN), p[given:]))
        pan = BatchPan(**{k: of[k] for k in (*OWN, *CONSTANTS[5:])})
        return p[:given], pan, Crystallisation(**{k: of[k] for k in CONSTANTS[:5]})

    def step(y: Row, p: Row) -> list[Quantity]:
        by, pan, grown = parts(p[:-1])
        move, length = rates(pan, grown, True, True), p[-1]
        y = _flashed(y, by)

        def rate(at: Row) -> list[Quantity]:
            found = move(at, by)
            found[FOOTING] = [k / a for k, a in zip(found[FOOTING], at[FOOTING])]
            return found

        first = rate(y)
        second = rate(_moved(y, first, length / 2.0))
        third = rate(_moved(y, second, length / 2.0))
        fourth = rate(_moved(y, third, length))
        mean = [(k + 2.0 * (m + n) + o) / 6.0
                for k, m, n, o in zip(first, second, third, fourth)]  # fmt: skip
        return _moved(y, mean, length)

    def told(y: Row, p: Row) -> list[Quantity]:
        by, pan, grown = parts(p[:-1])
        at = liquor_of(y)
        whole = at.sucrose + at.crystal
        return [
            at.supersaturation(slope=grown.slope), at.supersaturation("Charles1960", grown.slope),
            at.crystal / at.mass, at.purity, whole / (whole + at.nonsucrose), at.brix, at.volume,
            at.temperature, rates(pan, grown, True, True)(y, by)[GONE] * MASS,
            *(y[kind][j] * SCALES[4 + j] for kind in (FOOTING, FINES) for j in (3, 4, 5)),
        ]  # fmt: skip

    size = given + law + len(OWN) + 1
    return written(step, STATES, size), written(told, STATES, size)


def _moved(y: Row, rate: Row, length: Quantity) -> list[Quantity]:
    """A state moved at its rates; crystals of the footing or seed at those of their logarithms."""
    found = [a + length * k for a, k in zip(y, rate)]
    found[FOOTING] = [a * exp(length * k) for a, k in zip(y[FOOTING], rate[FOOTING])]
    return found


def _flashed(y: Row, given: Row) -> list[Quantity]:
    """The state as hot as it boils: what is hotter flashes down, its heat kept."""
    at, vapour = liquor_of(y), given[5] * HEAT
    boils = boiling_point(at, vapour)
    masses = (at.sucrose, at.nonsucrose, at.water, at.crystal)
    before, after = (sum(m * h for m, h in zip(masses, enthalpies(t)))
                     for t in (at.temperature, boils))  # fmt: skip
    gone = (before - after) / (vapour_enthalpy(vapour, boils) - enthalpies(boils)[2]) / MASS
    found = list(y)
    found[2], found[3], found[GONE] = y[2] - gone, boils / HEAT, y[GONE] + gone
    return found


def boiled(courses: Courses, constants: Floats, circulation: Floats) -> Floats:
    """What n strikes tell at their start and at the end of each step.

    Parameters
    ----------
    constants : in the order of `CONSTANTS`, shape (len(CONSTANTS), n). circulation : of each step
        and strike, part of the coefficient, shape (K, n).

    Returns
    -------
    Shape (K + 1, len(TOLD) + 6, n); NaN from where a strike cannot be followed.
    """
    step, told = _compiled()
    state = courses.start.copy()
    state[FOOTING] = np.maximum(state[FOOTING], FEWEST)
    state[FINES] = np.maximum(state[FINES], 0.0)
    own, many = constants.copy(), len(courses.lengths)
    found = []
    with np.errstate(all="ignore"):
        for k in range(many):
            put = courses.seeded == k
            state[FOOTING, put] += courses.seed[:, put]
            own[5] = constants[5] * circulation[k]
            p = np.vstack([courses.given[k], own, courses.pans, courses.lengths[k]])
            if k == 0:
                found.append(np.asarray(told(state, p)))
            state = np.asarray(step(state, p))
            found.append(np.asarray(told(state, p)))
    return np.array(found)
