"""The phases of a pan: compiled rates while it boils or not yet, with crystals or without."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ratoon.base.maths import Quantity
from ratoon.equations.motion import Motion
from ratoon.plant.pan.batch import (
    GIVEN,
    GONE,
    HEAT,
    MASS,
    STATES,
    BatchPan,
    boiling_point,
    enthalpies,
    liquor_of,
    rates,
    vapour_enthalpy,
)
from ratoon.plant.pan.growth import Crystallisation
from ratoon.properties import crystal

Floats = NDArray[np.float64]
FIGURES = ("supersaturation", "by_other_form", "crystal", "purity", "brix", "volume", "share",
           "dry_substance", "boiling_point", "content", "at_boiling", "evaporation")  # fmt: skip
"""Told of each state: supersaturation by both forms of solubility, crystal [kg], purity of the
mother liquor, brix, volume [m3], crystal by volume, dry substance of the mother liquor, boiling
point [degC], heat held, and when it boils [J], evaporation [kg/s]."""
NEAR = 1e-6
"""How near to boiling counts as boiling [K]."""
LITTLE = 1e-3
"""How little counts as evaporating nothing [kg/s]: 4 kg an hour."""


@lru_cache(maxsize=32)
def motion(pan: BatchPan, law: Crystallisation, boiling: bool, grown: bool) -> Motion:
    """The rates and `FIGURES` of one phase."""
    by = rates(pan, law, boiling, grown)

    def figures(state: Sequence[Quantity], given: Sequence[Quantity]) -> list[Quantity]:
        at, volume = liquor_of(state), liquor_of(state).volume
        masses = (at.sucrose, at.nonsucrose, at.water, at.crystal)
        boils = boiling_point(at, given[5] * HEAT)
        held, boiled = (
            sum(m * h for m, h in zip(masses, enthalpies(t))) for t in (at.temperature, boils)
        )
        return [
            at.supersaturation(slope=law.slope), at.supersaturation("Charles1960", law.slope),
            at.crystal, at.purity, at.brix,
            volume, at.crystal / (crystal.DENSITY * volume), at.dry_substance, boils, held, boiled,
            by(state, given)[GONE] * MASS,
        ]  # fmt: skip

    return Motion(by, figures, STATES, len(GIVEN))


def drawn(motion: Motion, state: Floats, given: Floats) -> bool:
    """Whether the pan boils; what is hotter than it boils flashes down at once.

    `motion` is that of the pan boiling.
    """

    def told(*names: str) -> list[float]:
        figures = motion.figures(state[None, :], given)[0]
        return [float(figures[FIGURES.index(name)]) for name in names]

    boils, evaporation, whole = told("boiling_point", "evaporation", "content")
    if HEAT * state[3] < boils - NEAR:
        return False
    if HEAT * state[3] > boils + NEAR:
        middle = (HEAT * state[3] + boils) / 2.0
        leaves = float(vapour_enthalpy(given[5] * HEAT, middle)) * MASS
        before = float(state[2])

        def too_hot(gone: float) -> float:
            """Heat left over when so much has flashed off, as water [MASS]."""
            state[2] = before - gone
            (left,) = told("at_boiling")
            return (whole - left) / leaves - gone

        gone, then = 0.0, too_hot(0.0)
        tried = then
        for _ in range(20):
            now = too_hot(tried)
            if abs(now) < 1e-13 or now == then:
                break
            gone, then, tried = tried, now, tried - now * (tried - gone) / (now - then)
        state[GONE] += before - state[2]
        state[3] = told("boiling_point")[0] / HEAT
        (evaporation,) = told("evaporation")
    return evaporation >= -LITTLE
