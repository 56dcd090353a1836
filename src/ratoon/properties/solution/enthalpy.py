"""Enthalpy of juice, liquor and molasses above 0 degC, in the steam table's frame."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for
from ratoon.properties.water.liquid import liquid_enthalpy

_WATER = 4186.8  # [J/kg.K], the water term of the specific-heat formula


@valid_for(
    Range("dry_substance", 0.0, 1.0, "kg/kg"),
    Range("purity", 0.0, 1.0, "kg/kg"),
    Range("temperature", 0.0, 140.0, "degC"),
)
def enthalpy(
    dry_substance: Quantity,
    purity: Quantity,
    temperature: Quantity,
    method: str = "steam table",
) -> Quantity:
    """Enthalpy of a sugar solution above 0 degC.

    Parameters
    ----------
    dry_substance : [kg/kg]. purity : [kg/kg]. temperature : [degC].
    method : "steam table" (default): the formula's difference from water, laid on the steam
        table's water, so that an evaporator's balance has no false heat; "Bubnik1995": the
        integral of the specific heat as it stands (water 418.7 against 419.1 kJ/kg at 100 degC).

    Returns
    -------
    Enthalpy [J/kg].

    Notes
    -----
    Both are linear in water, sucrose and non-sucrose, so that mixing juices makes no heat.
    Source: [Bubnik1995], form from memory, integrated; own for the shift to the steam table.

    Examples
    --------
    >>> round(enthalpy(0.15, 0.88, 100.0, method="Bubnik1995") / 1e3, 2)
    385.83
    """
    water = choose("enthalpy", method, _METHODS)(temperature)
    return water + departure_from_water(dry_substance, purity, temperature)


def departure_from_water(
    dry_substance: Quantity, purity: Quantity, temperature: Quantity
) -> Quantity:
    """Enthalpy of a solution less that of as much water at the same temperature [J/kg].

    Examples
    --------
    >>> round(departure_from_water(0.0, 1.0, 80.0), 1)
    0.0
    """
    # [Bubnik1995] as printed: -B t (0.0297 - 4.6e-5 P) + 3.75e-5 B t^2, kJ/kg, % and degC
    brix_pct, purity_pct = 100.0 * dry_substance, 100.0 * purity
    first = -brix_pct * temperature * (0.0297 - 4.6e-5 * purity_pct)
    return 1000.0 * (first + 3.75e-5 * brix_pct * temperature**2)


def _steam_table(temperature: Quantity) -> Quantity:
    return liquid_enthalpy(temperature)


def _constant(temperature: Quantity) -> Quantity:
    return _WATER * temperature


_METHODS = {"steam table": _steam_table, "Bubnik1995": _constant}
