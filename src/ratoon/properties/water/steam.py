"""Steam, saturated or superheated: volume, enthalpy, entropy, specific heat, latent heat.

All by IAPWS-IF97 region 2. Vapour that leaves a boiling juice is superheated by the boiling-point
elevation; a turbine's exhaust is superheated too: carry enthalpy, not only temperature. Below the
saturation temperature the formulas still answer, for a steam that would condense: ask them with a
temperature at or above it.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for
from ratoon.properties.water.liquid import liquid_enthalpy, water_entropy
from ratoon.properties.water.region2 import STEAM
from ratoon.properties.water.saturation import saturation_pressure, saturation_temperature

_TEMPERATURE = Range("temperature", 0.0, 800.0, "degC")
_PRESSURE = Range("pressure", 1.0, 100.0e6, "Pa")


@valid_for(_PRESSURE, _TEMPERATURE)
def steam_volume(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Specific volume of steam [m3/kg] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 12 and Table 15: 300 K, 0.0035 MPa gives 39.4913866 m3/kg.

    Examples
    --------
    >>> round(steam_volume(3500.0, 300.0 - 273.15), 7)
    39.4913866
    """
    return STEAM.volume(pressure, temperature)


@valid_for(_PRESSURE, _TEMPERATURE)
def steam_enthalpy(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Enthalpy of steam [J/kg] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 12 and Table 15: 300 K, 0.0035 MPa gives 2549.91145 kJ/kg.

    Examples
    --------
    >>> round(steam_enthalpy(3500.0, 300.0 - 273.15), 2)
    2549911.45
    """
    return STEAM.enthalpy(pressure, temperature)


@valid_for(_PRESSURE, _TEMPERATURE)
def steam_entropy(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Entropy of steam [J/kg.K] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 12 and Table 15: 300 K, 0.0035 MPa gives 8.52238967 kJ/kg.K.

    Examples
    --------
    >>> round(steam_entropy(3500.0, 300.0 - 273.15), 5)
    8522.38967
    """
    return STEAM.entropy(pressure, temperature)


@valid_for(_PRESSURE, _TEMPERATURE)
def steam_specific_heat(pressure: Quantity, temperature: Quantity) -> Quantity:
    """Isobaric specific heat of steam [J/kg.K] at a pressure [Pa a] and temperature [degC].

    Notes
    -----
    Source: [IF97] Table 12 and Table 15: 700 K, 0.0035 MPa gives 2.08141274 kJ/kg.K.

    Examples
    --------
    >>> round(steam_specific_heat(3500.0, 700.0 - 273.15), 5)
    2081.41274
    """
    return STEAM.specific_heat(pressure, temperature)


def vapour_enthalpy_saturated(temperature: Quantity) -> Quantity:
    """Enthalpy of dry saturated steam, h_g [J/kg], at a temperature [degC, 0 to 350].

    Notes
    -----
    Source: [IF97] region 2 on the region 4 line.

    Examples
    --------
    >>> round(vapour_enthalpy_saturated(100.0) / 1e3, 2)
    2675.57
    """
    return steam_enthalpy(saturation_pressure(temperature), temperature)


def vapour_volume_saturated(temperature: Quantity) -> Quantity:
    """Specific volume of dry saturated steam, v_g [m3/kg], at a temperature [degC, 0 to 350].

    Examples
    --------
    Beside [IF97]'s 7.668 m3/kg at 60 degC.

    >>> round(vapour_volume_saturated(60.0), 2)  # m3/kg
    7.67
    """
    return steam_volume(saturation_pressure(temperature), temperature)


def latent_heat(temperature: Quantity, method: str = "IF97") -> Quantity:
    """Heat of evaporation of water [J/kg] at a saturation temperature [degC].

    Parameters
    ----------
    temperature : [degC].
    method : "IF97" (default); "Rein2007", a quadratic within 1.1 kJ/kg for 40-130 degC (from
        memory, agrees with the steam table); "Hugot", 607 - 0.7 t kcal/kg, up to 14 kJ/kg low at
        130 degC (from memory): only to compare with old balances.

    Notes
    -----
    Source: [IF97]; [Rein2007] and [Hugot] unverified against print.

    Examples
    --------
    >>> round(latent_heat(100.0) / 1e3, 2)
    2256.47
    """
    return choose("latent_heat", method, _LATENT_HEAT)(temperature)


def _latent_heat_steam_table(temperature: Quantity) -> Quantity:
    return vapour_enthalpy_saturated(temperature) - liquid_enthalpy(temperature)


def _latent_heat_quadratic(temperature: Quantity) -> Quantity:
    # [Rein2007, after Peacock], kJ/kg
    return 1.0e3 * (2492.9 - 2.0523 * temperature - 3.0752e-3 * temperature**2)


def _latent_heat_old(temperature: Quantity) -> Quantity:
    # [Hugot], kcal/kg
    return 4186.8 * (607.0 - 0.7 * temperature)


_LATENT_HEAT = {
    "IF97": _latent_heat_steam_table,
    "Rein2007": _latent_heat_quadratic,
    "Hugot": _latent_heat_old,
}


def flash_fraction(temperature_before: Quantity, temperature_after: Quantity) -> Quantity:
    """Share of a saturated condensate that flashes to steam when its pressure falls [kg/kg].

    Parameters
    ----------
    temperature_before, temperature_after : saturation temperatures [degC], before above after.

    Notes
    -----
    Method: (h_f before - h_f after) / h_fg after; common practice. For juice use the juice
    enthalpy and add the boiling-point elevation to the temperature after.

    Examples
    --------
    >>> round(100 * flash_fraction(120.0, 100.0), 2)
    3.75
    """
    heat = liquid_enthalpy(temperature_before) - liquid_enthalpy(temperature_after)
    return heat / latent_heat(temperature_after)


def isentropic_drop(pressure: Quantity, temperature: Quantity, behind: Quantity) -> Quantity:
    """Drop of enthalpy of steam that expands without loss to a lower pressure [J/kg].

    Parameters
    ----------
    pressure, temperature : of the live steam [Pa a, degC]. behind : the lower pressure [Pa a].

    Notes
    -----
    Method: the wet end by its quality, at the live steam's entropy; an end that is not wet is
    carried on in a straight line. Source: [IF97].

    Examples
    --------
    >>> round(isentropic_drop(2.5e6, 350.0, 2.08e5) / 1e3, 1)
    526.0
    """
    cold = saturation_temperature(behind)
    water = water_entropy(behind, cold)
    quality = steam_entropy(pressure, temperature) - water
    quality = quality / (steam_entropy(behind, cold) - water)
    left = liquid_enthalpy(cold)
    left = left + quality * (vapour_enthalpy_saturated(cold) - left)
    return steam_enthalpy(pressure, temperature) - left
