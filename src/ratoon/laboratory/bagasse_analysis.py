"""Bagasse by the wet disintegrator; filter mud."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.base.maths import Quantity

_PASSES = 4  # each pass shrinks the change of fibre a hundredfold


@dataclass(frozen=True, slots=True)
class BagasseAnalysis:
    """Pol, Brix and fibre on bagasse [kg/kg]."""

    pol: Quantity
    brix: Quantity
    fibre: Quantity


def pol_of_extract(reading_400mm: Quantity, density: Quantity = 998.0) -> Quantity:
    """Pol of the extract [kg/kg] from a reading in a 400 mm tube [degZ] and density [kg/m3].

    Examples
    --------
    >>> round(100 * pol_of_extract(1.00), 4)
    0.1303
    """
    return 0.5 * reading_400mm * 0.26 / (density / 1000.0) / 100.0


def bagasse_from_extract(
    bagasse: Quantity,
    water: Quantity,
    reading_400mm: Quantity,
    moisture: Quantity,
    last_juice_purity: Quantity,
    brix_free_water: Quantity = 0.25,
    density: Quantity = 998.0,
) -> BagasseAnalysis:
    """Bagasse by wet disintegration.

    Parameters
    ----------
    bagasse, water : masses put into the disintegrator, one unit for both.
    reading_400mm : polarimeter [degZ]. moisture : of bagasse [kg/kg].
    last_juice_purity : purity of the last expressed juice [kg/kg], taken for the residual juice.
    brix_free_water : water held by fibre, kg per kg fibre: 0 or 0.25 by the mill's method.
    density : of the extract [kg/m3].

    Notes
    -----
    Fibre and pol hang on each other: four passes from no fibre. Common practice; the purity
    assumption is known from memory.

    Examples
    --------
    >>> found = bagasse_from_extract(0.1, 1.0, 1.00, 0.50, 0.75)
    >>> round(100 * found.pol, 3), round(100 * found.fibre, 2)
    (1.354, 48.19)
    """
    extract = pol_of_extract(reading_400mm, density)
    fibre: Quantity = 0.5
    for _ in range(_PASSES):
        pol = extract * (water / bagasse + 1.0 - (1.0 + brix_free_water) * fibre)
        brix = pol / last_juice_purity
        fibre = 1.0 - moisture - brix
    return BagasseAnalysis(pol, brix, fibre)


def pol_of_mud(reading: Quantity, mass: Quantity = 0.050, volume: Quantity = 200e-6) -> Quantity:
    """Pol of filter mud [kg/kg] from a reading [degZ], 200 mm tube, mass [kg] made up to [m3].

    Notes
    -----
    Less the volume of insolubles, which is neglected here. From memory.

    Examples
    --------
    >>> round(100 * pol_of_mud(1.0), 2)
    1.04
    """
    return reading * 0.026 * (volume / 100e-6) / mass / 100.0
