"""The polarimeter: pol from a reading on the sugar scale, normal weight, quartz plates."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, valid_for
from ratoon.properties.solution.specific_gravity import apparent_specific_gravity

NORMAL_WEIGHT = 26.000  # [g weighed in air, in 100 mL], [ICUMSA-DEF]
_APPARENT_WATER = 99.718  # [g] of water weighed in air filling 100 mL at 20 degC, [SchmitzTables]


@valid_for(Range("brix", 0.0, 0.80, "kg/kg"))
def pol_factor(brix: Quantity) -> Quantity:
    """Pol of undiluted juice per degree of the sugar scale [kg/kg per degZ], 200 mm tube, 20 degC.

    Notes
    -----
    Source: [SchmitzTables], known from memory and equal to the arithmetic of the definition.

    Examples
    --------
    >>> round(100 * pol_factor(0.15), 4)
    0.2457
    """
    return NORMAL_WEIGHT / (_APPARENT_WATER * apparent_specific_gravity(brix)) / 100.0


def pol_of_juice(reading: Quantity, brix: Quantity) -> Quantity:
    """Pol of undiluted clarified juice [kg/kg].

    Parameters
    ----------
    reading : on the international sugar scale [degZ], 200 mm tube, read at 20.0 degC.
    brix : of the juice [kg/kg].

    Notes
    -----
    No correction for temperature is made: its coefficients depend on flask and instrument.

    Examples
    --------
    >>> round(100 * pol_of_juice(65.0, 0.18), 2)
    15.78
    """
    return reading * pol_factor(brix)


def pol_by_volume(
    reading: Quantity, specific_gravity: Quantity, normal_weight: float = NORMAL_WEIGHT
) -> Quantity:
    """Pol [kg/kg] of a juice taken by volume and read undiluted, by its specific gravity.

    Notes
    -----
    Source: [Wiley-v3] p. 130 (print seen), normal weight 26.048 in those days: 3.85 %.

    Examples
    --------
    >>> round(100 * pol_by_volume(15.0, 1.015, 26.048), 2)
    3.85
    """
    return reading * normal_weight / (100.0 * specific_gravity) / 100.0


def pol_of_weighed_sample(
    reading: Quantity, grams_in_100_ml: Quantity, tube: Quantity = 0.200
) -> Quantity:
    """Pol [kg/kg] of a weighed sample made up to 100 mL, tube length in [m].

    Examples
    --------
    >>> round(pol_of_weighed_sample(98.9, 26.0), 6)
    0.989
    """
    return reading * (NORMAL_WEIGHT / grams_in_100_ml) * (0.200 / tube) / 100.0


def weight_in_vacuo(
    weight_in_air: Quantity, air: float = 1.2, weights: float = 8000.0, sample: float = 1588.0
) -> Quantity:
    """Mass of a sample weighed in air, densities in [kg/m3]; the unit of the weight is kept.

    Notes
    -----
    Source: [ICUMSA-DEF] (print seen): 26.000 g in air are 26.0160 g.

    Examples
    --------
    >>> round(weight_in_vacuo(26.000), 4)
    26.0158
    """
    return weight_in_air * (1.0 - air / weights) / (1.0 - air / sample)


def specific_rotation(
    rotation: Quantity, concentration: Quantity, tube: Quantity = 0.2
) -> Quantity:
    """Specific rotation [deg.mL/(g.dm)] from an angle [deg], concentration [g/mL] and tube [m]."""
    return rotation / (10.0 * tube * concentration)


def quartz_rotation(rotation_at_zero: Quantity, temperature: Quantity) -> Quantity:
    """Rotation of a quartz plate at a temperature [degC], in the unit of its value at 0 degC.

    Notes
    -----
    Source: [Wiley-v3] p. 46 (print seen): 33.0 deg at 0 degC is 33.098 at 20 degC.

    Examples
    --------
    >>> round(quartz_rotation(33.0, 20.0), 2)
    33.1
    """
    return rotation_at_zero * (1.0 + 0.000146 * temperature)
