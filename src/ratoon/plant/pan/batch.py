"""What changes in a batch pan while nothing is switched: masses, crystals, temperature, totals.

A state is a row of numbers of the order of 1 (`SCALES`), so that one tolerance serves all: sucrose,
non-sucrose and water dissolved; temperature; six moments of the crystals of footing or seed, six of
the fines born since; what was fed (sucrose, non-sucrose, water) and evaporated since the start.
While the pan boils it is as hot as its liquor boils; how much evaporates then follows from the
heat without a search, and the rates stay mild. Until it boils, heat warms it and nothing leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from ratoon.base.maths import Quantity, maximum, power
from ratoon.laboratory.crystal_sizes import SHAPE
from ratoon.plant.pan.growth import Crystallisation, birth_rate, growth_rate, moment_rates
from ratoon.properties import crystal, massecuite, solution
from ratoon.properties.water import latent_heat, saturation_temperature

MASS = 1.0e4
"""Kilograms that count as 1 in a state."""
HEAT = 100.0
"""Degrees that count as 1."""
SIZE = 4.0e-4
"""Metres that count as 1, in moments of the number that makes MASS of crystal of that size."""
NUMBER = MASS / (crystal.DENSITY * SHAPE * SIZE**3)
SCALES = (*3 * [MASS], HEAT, *2 * [NUMBER * SIZE**j for j in range(6)], *4 * [MASS])
STATES = len(SCALES)
FOOTING, FINES, GONE = slice(4, 10), slice(10, 16), 19
GIVEN = ("feed", "brix", "purity", "temperature", "steam", "vapour")
"""What is switched: feed [10 t/s], its composition [kg/kg], temperature [100 degC], saturation
temperatures of steam and vapour [100 degC]."""
BOILING_POINT = "Batterham1975"
VAPOUR_HEAT = 1_950.0  # [J/kg.K], of steam at pan vacuum, common practice


@dataclass(frozen=True, slots=True)
class BatchPan:
    """A pan and how it transfers heat.

    Attributes
    ----------
    volume : working volume [m3]. surface : heating surface [m2]. coefficient : overall coefficient
        with the calandria just covered by thin liquor [W/m2.K], the mill's own.
    by_level, by_viscosity : powers by which it falls with level and viscosity; our own form, to be
        fitted. covered : level at which the calandria is covered, on the working volume.
    """

    volume: Quantity
    surface: Quantity
    coefficient: Quantity = 600.0
    by_level: Quantity = 0.5
    by_viscosity: Quantity = 0.15
    covered: float = 0.35


@dataclass(frozen=True, slots=True)
class Liquor:
    """A pan's contents as figures, from a state; all hold for floats, arrays and symbols."""

    sucrose: Quantity
    nonsucrose: Quantity
    water: Quantity
    temperature: Quantity
    crystal: Quantity

    @property
    def purity(self) -> Quantity:
        """Of the mother liquor [kg/kg]."""
        return self.sucrose / (self.sucrose + self.nonsucrose)

    @property
    def dry_substance(self) -> Quantity:
        """Of the mother liquor [kg/kg]."""
        solids = self.sucrose + self.nonsucrose
        return solids / (solids + self.water)

    @property
    def mass(self) -> Quantity:
        """Of the massecuite [kg]."""
        return self.sucrose + self.nonsucrose + self.water + self.crystal

    @property
    def brix(self) -> Quantity:
        """Dry substance of the massecuite [kg/kg]."""
        return (self.mass - self.water) / self.mass

    @property
    def volume(self) -> Quantity:
        """Of the massecuite [m3]."""
        # the formula for any purity, which holds to 0.95
        liquor = solution.density(self.dry_substance, self.temperature, method="Baloh")
        return self.mass / massecuite.density(self.crystal / self.mass, liquor)

    def supersaturation(self, method: str = "Vavrinecz1962", slope: Quantity = 0.088) -> Quantity:
        """Of the mother liquor [-], by either form of solubility."""
        whole = self.sucrose + self.nonsucrose + self.water
        return solution.supersaturation(
            self.sucrose / whole, self.water / whole, self.temperature, slope, method
        )


def liquor_of(state: Any) -> Liquor:
    """The contents of a state."""
    third = (state[FOOTING][3] + state[FINES][3]) * SCALES[7]
    return Liquor(state[0] * MASS, state[1] * MASS, state[2] * MASS, state[3] * HEAT,
                  crystal.DENSITY * SHAPE * third)  # fmt: skip


def boiling_point(liquor: Liquor, vapour: Quantity) -> Quantity:
    """Temperature at which a liquor boils under vapour of a saturation temperature [degC]."""
    of_sucrose, of_rest = elevations(vapour)
    lifted = of_sucrose * liquor.sucrose + of_rest * liquor.nonsucrose
    return vapour + lifted / liquor.water


def elevations(vapour: Quantity) -> tuple[Quantity, Quantity]:
    """Boiling-point elevation by as much sucrose, and non-sucrose, as water [K].

    The published form is a straight line in both over water, so two figures say it all.
    """
    elevation = solution.boiling_point_elevation
    pure = elevation(0.5, 1.0, vapour, method=BOILING_POINT)
    half = elevation(0.5, 0.5, vapour, method=BOILING_POINT)
    return pure, 2.0 * half - pure


def enthalpies(temperature: Quantity) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    """Enthalpy of dissolved sucrose, non-sucrose, water and crystal [J/kg].

    The published enthalpy of a solution is linear in the three, so each has its own.
    """
    water = solution.enthalpy(0.0, 1.0, temperature, method="Bubnik1995")
    sucrose = water + solution.departure_from_water(1.0, 1.0, temperature)
    rest = water + solution.departure_from_water(1.0, 0.0, temperature)
    return sucrose, rest, water, crystal.enthalpy(temperature)


def rates(
    pan: BatchPan, law: Crystallisation, boiling: bool, grown: bool
) -> Callable[[Sequence[Quantity], Sequence[Quantity]], list[Quantity]]:
    """The rates of all states [1/s] of a pan that boils or not yet, with crystals or without."""

    def found(state: Sequence[Quantity], given: Sequence[Quantity]) -> list[Quantity]:
        at = liquor_of(state)
        feed, brix, purity = given[0] * MASS, given[1], given[2]
        fed = (feed * brix * purity, feed * brix * (1.0 - purity), feed * (1.0 - brix))
        moments = _crystals(state, at, law) if grown else [0.0 * state[0]] * 12
        made = crystal.DENSITY * SHAPE * (moments[3] + moments[9]) * SCALES[7]
        # by kind, before anything evaporates: dissolved sucrose, rest, water, crystal
        gains = (fed[0] - made, fed[1], fed[2], made)
        heat = transferred(pan, at, given[4] * HEAT)
        brought = sum(m * h for m, h in zip(fed, enthalpies(given[3] * HEAT)))
        content = enthalpies(at.temperature)
        # each enthalpy is a quadratic, whose slope this difference gives exactly
        slopes = [up - down for up, down in zip(enthalpies(at.temperature + 0.5),
                                                enthalpies(at.temperature - 0.5))]  # fmt: skip
        masses = (at.sucrose, at.nonsucrose, at.water, at.crystal)
        capacity = sum(m * c for m, c in zip(masses, slopes))
        asked = sum(m * h for m, h in zip(gains, content))
        evaporated: Quantity = 0.0 * heat
        if boiling:
            vapour = given[5] * HEAT
            of_sucrose, of_rest = elevations(vapour)
            lifted = (of_sucrose * at.sucrose + of_rest * at.nonsucrose) / at.water
            by_gains = (of_sucrose * gains[0] + of_rest * gains[1] - lifted * gains[2]) / at.water
            leaves = vapour_enthalpy(vapour, at.temperature)
            # warming is by_gains + lifted/water x evaporated; the heat balance is linear in both
            taken = leaves - content[2] + capacity * lifted / at.water
            evaporated = (heat + brought - asked - capacity * by_gains) / taken
            warming = by_gains + lifted / at.water * evaporated
        else:
            warming = (heat + brought - asked) / capacity
        return [
            gains[0] / MASS, gains[1] / MASS, (gains[2] - evaporated) / MASS, warming / HEAT,
            *moments, *(one / MASS for one in fed), evaporated / MASS,
        ]  # fmt: skip

    return found


def vapour_enthalpy(vapour: Quantity, temperature: Quantity) -> Quantity:
    """Enthalpy of what leaves, superheated by the boiling-point elevation [J/kg]."""
    water = solution.enthalpy(0.0, 1.0, vapour, method="Bubnik1995")
    return water + latent_heat(vapour) + VAPOUR_HEAT * (temperature - vapour)


def transferred(pan: BatchPan, at: Liquor, steam: Quantity) -> Quantity:
    """Heat through the calandria [W]; none flows back when the steam is off.

    The coefficient falls with level above the covered calandria and with the massecuite's
    viscosity, that of the mother liquor raised by crystals as a suspension's is
    [Brinkman 1952, from memory].
    """
    level = maximum(at.volume / (pan.volume * pan.covered), 1.0)
    crystals = at.crystal / (crystal.DENSITY * at.volume)
    liquor = solution.viscosity(at.dry_substance, at.purity, at.temperature)
    thick = liquor * power(1.0 - crystals, -2.5) / 0.1  # of a thin liquor, 0.1 Pa.s
    falls = power(level, -pan.by_level) * power(maximum(thick, 1.0), -pan.by_viscosity)
    return pan.coefficient * pan.surface * falls * maximum(steam - at.temperature, 0.0)


def _crystals(state: Sequence[Quantity], at: Liquor, law: Crystallisation) -> list[Quantity]:
    """Rates of the moments of footing and fines, as a state counts them."""
    volume = at.volume
    share = at.crystal / (crystal.DENSITY * volume)
    over = at.supersaturation(slope=law.slope) - 1.0
    growth = growth_rate(over, at.temperature, at.purity, share, law.growth, law.activation,
                         law.purity)  # fmt: skip
    footing, fines = state[FOOTING], state[FINES]
    pace, spread = growth / SIZE, law.dispersion / SIZE
    grown = moment_rates(footing, pace, footing[1] / footing[0], law.proportional, spread)
    # what was born a moment ago has no size to grow in proportion to; it dissolves with the rest
    young = moment_rates(fines, pace, footing[1] / footing[0], 0.0, spread)
    if law.births:
        born = birth_rate(maximum(growth, 0.0), share, volume)
        young[0] = young[0] + law.births * born / NUMBER
    return [*grown, *young]


def vapour_of(pressure: float) -> float:
    """Saturation temperature of a pressure [Pa], as given to `rates` [100 degC]."""
    return float(saturation_temperature(pressure)) / HEAT
