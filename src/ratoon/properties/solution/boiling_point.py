"""Boiling-point elevation of juice, liquor and mother liquor over the vapour's saturation."""

from __future__ import annotations

from ratoon.base.maths import Quantity, exp, power
from ratoon.base.validity import Range, choose, valid_for
from ratoon.properties.water.saturation import (
    ZERO_CELSIUS,
    saturation_pressure,
    saturation_temperature,
)

GAS_CONSTANT = 8.314462618  # [J/mol.K]
MOLAR_MASS_SUCROSE, MOLAR_MASS_WATER = 342.2965, 18.01528  # [g/mol]

# [StarzakPeacock1998]: constants seen, form from memory and checked against tables
_Q, _A, _B = -17638.0, -1.0038, -0.24653  # [J/mol], [-], [-]
_FIXED_POINT_STEPS = 6


def water_activity(dry_substance: Quantity, temperature: Quantity) -> Quantity:
    """Activity of water over a pure sucrose solution [-].

    Parameters
    ----------
    dry_substance : sucrose [kg/kg], 0 to 0.90.
    temperature : of the solution [degC].

    Notes
    -----
    Method: Margules form ln gamma_w = (Q/RT) x^2 (1 + a x + b x^2), x mole fraction of sucrose.
    Source: [StarzakPeacock1998], constants seen, form checked against boiling-point tables.

    Examples
    --------
    >>> round(water_activity(0.60, 100.0), 4)
    0.9011
    """
    moles = dry_substance / MOLAR_MASS_SUCROSE
    x = moles / (moles + (1.0 - dry_substance) / MOLAR_MASS_WATER)
    kelvin = temperature + ZERO_CELSIUS
    return (1.0 - x) * exp(_Q / (GAS_CONSTANT * kelvin) * x**2 * (1.0 + _A * x + _B * x**2))


@valid_for(
    Range("dry_substance", 0.0, 0.90, "kg/kg"),
    Range("dry_substance", 0.0, 0.75, "kg/kg", "Hoekstra1981"),
    Range("purity", 0.20, 1.0, "kg/kg"),
    Range("saturation_temperature", 30.0, 140.0, "degC"),
)
def boiling_point_elevation(
    dry_substance: Quantity,
    purity: Quantity,
    saturation_temperature: Quantity,
    method: str = "blend",
) -> Quantity:
    """How much hotter than its vapour's saturation temperature a liquor boils.

    Parameters
    ----------
    dry_substance : [kg/kg], 0 to 0.90 (to 0.75 by "Hoekstra1981").
    purity : sucrose on dry substance [kg/kg].
    saturation_temperature : of the vapour above the liquor [degC], 30 to 140.
    method : "blend" (default), the pure-sucrose value times 2.5 - 1.5 purity (own blend);
        "StarzakPeacock1998", pure sucrose by water activity, use to 0.85;
        "Batterham1975", pan liquors above 0.72, over-reads below 0.40;
        "Hoekstra1981", juice and syrup, asks no purity;
        "Rein2007", 2 B/(100 - B), quick (from memory);
        "Geankoplis", 1.78 w + 6.22 w^2, for textbook checks only.

    Returns
    -------
    Boiling-point elevation [K].

    Notes
    -----
    Accuracy: the formulas differ by 0.25 K for juice, 0.5 K at syrup and 1 to 3 K in pans.
    Hydrostatic head and the pressure drop of vapour lines come on top, elsewhere.
    Source: as named by `method`; [Batterham1975] and [Hoekstra1981] from memory, checked against
    tables; "used in Australia" [Saska2002].

    Examples
    --------
    >>> round(boiling_point_elevation(0.65, 1.0, 65.0, method="StarzakPeacock1998"), 2)
    3.12
    >>> round(boiling_point_elevation(0.65, 0.86, 57.0), 1)
    3.6
    """
    function = choose("boiling_point_elevation", method, _METHODS)
    return function(dry_substance, purity, saturation_temperature)


def _pure(dry_substance: Quantity, purity: Quantity, saturated: Quantity) -> Quantity:
    """Solve a_w(T) p_sat(T) = p by T <- T_sat(p / a_w(T)).

    The activity hardly moves with temperature, so each step shrinks the error to a fiftieth: six
    steps leave under 1e-7 K, and the same six lines serve a float and a symbol.
    """
    pressure = saturation_pressure(saturated)
    boiling = saturated
    for _ in range(_FIXED_POINT_STEPS):
        boiling = saturation_temperature(pressure / water_activity(dry_substance, boiling))
    return boiling - saturated


def _blend(dry_substance: Quantity, purity: Quantity, saturated: Quantity) -> Quantity:
    return _pure(dry_substance, purity, saturated) * (2.5 - 1.5 * purity)


def _pan_liquor(dry_substance: Quantity, purity: Quantity, saturated: Quantity) -> Quantity:
    # [Batterham1975]: (0.03 - 0.018 P/100)(t + 84) B/(100 - B)
    return (0.03 - 0.018 * purity) * (saturated + 84.0) * dry_substance / (1.0 - dry_substance)


def _juice_and_syrup(dry_substance: Quantity, purity: Quantity, saturated: Quantity) -> Quantity:
    # [Hoekstra1981]
    brix_pct = 100.0 * dry_substance
    first = (273.0 + saturated) ** 2 * brix_pct**2 / power(374.3 - saturated, 0.38)
    return 6.064e-5 * first * (5.84e-7 * (brix_pct - 40.0) ** 2 + 7.2e-4)


def _quick(dry_substance: Quantity, purity: Quantity, saturated: Quantity) -> Quantity:
    return 2.0 * dry_substance / (1.0 - dry_substance)  # [Rein2007]


def _textbook(dry_substance: Quantity, purity: Quantity, saturated: Quantity) -> Quantity:
    return 1.78 * dry_substance + 6.22 * dry_substance**2  # [Geankoplis] Ex. 8.5-1


_METHODS = {
    "blend": _blend,
    "StarzakPeacock1998": _pure,
    "Batterham1975": _pan_liquor,
    "Hoekstra1981": _juice_and_syrup,
    "Rein2007": _quick,
    "Geankoplis": _textbook,
}


def elevation_ratio(saturation_temperature: Quantity, latent_heat: Quantity) -> Quantity:
    """Elevation at a pressure over the elevation at 1 atm, textbook rule [-].

    Parameters
    ----------
    saturation_temperature : [degC].
    latent_heat : at that temperature [J/kg].

    Notes
    -----
    Source: [Tishchenko], from memory, within 0.1 K of the water-activity form to 65 Brix.

    Examples
    --------
    >>> round(elevation_ratio(55.0, 2369870.0), 3)
    0.736
    """
    kelvin = saturation_temperature + ZERO_CELSIUS
    return 0.0162 * kelvin**2 / (latent_heat / 1000.0)
