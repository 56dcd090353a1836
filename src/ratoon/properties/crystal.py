"""Sucrose crystal: density, specific heat, heat of crystallisation, enthalpy."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for

MOLAR_MASS = 0.3422965  # [kg/mol], [NIST], seen
DENSITY = 1587.0  # [kg/m3] at 20 degC, seen; prints span 1586.2 to 1589.2


@valid_for(Range("temperature", 0.0, 100.0, "degC"))
def specific_heat(temperature: Quantity, method: str = "Bubnik1995") -> Quantity:
    """Specific heat of crystal sucrose [J/kg.K] at a temperature [degC, 0 to 100].

    Parameters
    ----------
    temperature : [degC].
    method : "Bubnik1995" (default, from memory, agrees with the other) or "Mohos2010" (seen).

    Examples
    --------
    >>> round(specific_heat(25.0), 1)
    1243.9
    """
    return choose("specific_heat", method, _SPECIFIC_HEAT)(temperature)


def _quadratic(t: Quantity) -> Quantity:
    return 1000.0 * (1.1269 + 4.524e-3 * t + 6.24e-6 * t**2)


def _linear(t: Quantity) -> Quantity:
    return 4186.8 * (0.2712 + 0.00103 * t)


_SPECIFIC_HEAT = {"Bubnik1995": _quadratic, "Mohos2010": _linear}


@valid_for(Range("temperature", 20.0, 80.0, "degC"))
def heat_of_crystallisation(temperature: Quantity) -> Quantity:
    """Heat freed when sucrose crystallises from its saturated solution [J/kg].

    Parameters
    ----------
    temperature : [degC], 30 to 70 (20 to 80 within 2 kJ/kg).

    Notes
    -----
    Own line through values computed from solubility and water activity; literature values known
    from memory, 31 kJ/kg at 30 degC and 55 at 57 degC, agree.

    Examples
    --------
    >>> round(heat_of_crystallisation(60.0))
    57700
    """
    return 1000.0 * (8.5 + 0.82 * temperature)


def enthalpy(temperature: Quantity) -> Quantity:
    """Enthalpy of crystal sucrose, in the frame of the juice enthalpy [J/kg].

    Parameters
    ----------
    temperature : [degC], 20 to 80.

    Notes
    -----
    Method: enthalpy of dissolved sucrose at t less the heat of crystallisation at t. Adding the
    heat of crystallisation at t to an integral of the crystal's specific heat from 0 degC would
    count 40-50 kJ/kg twice and make pan steam 3 % low. Own, from the enthalpy of solutions.

    Examples
    --------
    >>> round(enthalpy(65.0) / 1e3, 1)
    63.0
    """
    dissolved = 1000.0 * (1.677 * temperature + 3.75e-3 * temperature**2)
    return dissolved - heat_of_crystallisation(temperature)
