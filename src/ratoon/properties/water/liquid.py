"""Liquid water, compressed or saturated: volume, density, enthalpy, entropy, specific heat.

All by IAPWS-IF97 region 1. Enthalpy counts from the triple point, so that 0 degC is (nearly) zero,
the same zero that the juice enthalpies of this package use.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, valid_for
from ratoon.properties.water.region1 import LIQUID
from ratoon.properties.water.saturation import saturation_pressure

ATMOSPHERE = 101325.0  # [Pa], standard atmosphere

_TEMPERATURE = Range("temperature", 0.0, 350.0, "degC")
_PRESSURE = Range("pressure", 611.0, 100.0e6, "Pa")


@valid_for(_PRESSURE, _TEMPERATURE)
def water_volume(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Specific volume of liquid water [m3/kg] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 3 and Table 5: 300 K, 3 MPa gives 0.00100215168 m3/kg.

    Examples
    --------
    >>> round(water_volume(3e6, 300.0 - 273.15), 11)
    0.00100215168
    """
    return LIQUID.volume(pressure, temperature)


def water_density(temperature: Quantity, pressure: Quantity = ATMOSPHERE) -> Quantity:
    """Density of liquid water [kg/m3] at a temperature [degC] and pressure [Pa a].

    Notes
    -----
    Source: [IF97] region 1, from `water_volume`.

    Examples
    --------
    >>> round(water_density(20.0), 2)
    998.21
    """
    return 1.0 / water_volume(pressure, temperature)


@valid_for(_PRESSURE, _TEMPERATURE)
def water_enthalpy(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Enthalpy of liquid water [J/kg] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 3 and Table 5: 300 K, 3 MPa gives 115.331273 kJ/kg.

    Examples
    --------
    >>> round(water_enthalpy(3e6, 300.0 - 273.15), 3)
    115331.273
    """
    return LIQUID.enthalpy(pressure, temperature)


@valid_for(_PRESSURE, _TEMPERATURE)
def water_entropy(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Entropy of liquid water [J/kg.K] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 3 and Table 5: 300 K, 3 MPa gives 0.392294792 kJ/kg.K.

    Examples
    --------
    >>> round(water_entropy(3e6, 300.0 - 273.15), 6)
    392.294792
    """
    return LIQUID.entropy(pressure, temperature)


@valid_for(_PRESSURE, _TEMPERATURE)
def water_specific_heat(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Isobaric specific heat of liquid water [J/kg.K] at a pressure [Pa a], temperature [degC].

    Notes
    -----
    Source: [IF97] Table 3 and Table 5: 300 K, 3 MPa gives 4.17301218 kJ/kg.K.

    Examples
    --------
    >>> round(water_specific_heat(3e6, 300.0 - 273.15), 5)
    4173.01218
    """
    return LIQUID.specific_heat(pressure, temperature)


def liquid_enthalpy(temperature: Quantity) -> Quantity:
    """Enthalpy of saturated liquid water, h_f [J/kg], at a temperature [degC, 0 to 350].

    Notes
    -----
    Source: [IF97] region 1 on the region 4 line.

    Examples
    --------
    >>> round(liquid_enthalpy(100.0))
    419099
    """
    return water_enthalpy(saturation_pressure(temperature), temperature)
