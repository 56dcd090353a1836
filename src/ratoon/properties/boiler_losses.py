"""Where a boiler's heat goes: losses per mass of fuel, from flue-gas analysis or composition."""

from __future__ import annotations

from ratoon.base.maths import Quantity

# [BW] eq. 33-36 and 16, converted from Btu/lb and degF: 970.4, 0.47, 0.24, 10150, 14600
EVAPORATION = 970.4 * 2326.0  # [J/kg] at 100 degC
STEAM_HEAT, GAS_HEAT, WATER_HEAT = 0.47 * 4186.8, 0.24 * 4186.8, 4186.8  # [J/kg.K]
CARBON_MONOXIDE_HEAT, CARBON_HEAT = 10150.0 * 2326.0, 14600.0 * 2326.0  # [J/kg carbon]


def water_loss(water: Quantity, air: Quantity, stack: Quantity) -> Quantity:
    """Heat carried off by water that leaves as vapour [J/kg fuel].

    Parameters
    ----------
    water : moisture, or 9 times the hydrogen, per fuel [kg/kg].
    air, stack : temperatures of the air in and the flue gas out [degC].

    Notes
    -----
    Source: [BW] eq. 33 and 34 (print seen).
    """
    steam = WATER_HEAT * (100.0 - air) + EVAPORATION + STEAM_HEAT * (stack - 100.0)
    return water * steam


def dry_gas(
    carbon: Quantity,
    carbon_dioxide: Quantity,
    oxygen: Quantity,
    carbon_monoxide: Quantity,
    nitrogen: Quantity,
) -> Quantity:
    """Dry flue gas per fuel [kg/kg] from its analysis by volume [-] and the carbon burnt [kg/kg].

    Notes
    -----
    Source: [BW] eq. 16 (print seen).
    """
    gas = 11.0 * carbon_dioxide + 8.0 * oxygen + 7.0 * (carbon_monoxide + nitrogen)
    return carbon * gas / (3.0 * (carbon_dioxide + carbon_monoxide))


def dry_gas_loss(gas: Quantity, air: Quantity, stack: Quantity) -> Quantity:
    """Heat carried off by dry gas [J/kg fuel]; source [BW] eq. 35, seen."""
    return GAS_HEAT * gas * (stack - air)


def carbon_monoxide_loss(
    carbon: Quantity, carbon_dioxide: Quantity, carbon_monoxide: Quantity
) -> Quantity:
    """Heat lost by carbon burnt to monoxide only [J/kg fuel]; source [BW] eq. 36, seen."""
    share = carbon_monoxide / (carbon_dioxide + carbon_monoxide)
    return CARBON_MONOXIDE_HEAT * carbon * share


def unburnt_carbon_loss(carbon_in_ash: Quantity) -> Quantity:
    """Heat lost by carbon in the ash [J/kg fuel], carbon per fuel [kg/kg]; source [BW], seen."""
    return CARBON_HEAT * carbon_in_ash


def efficiency(
    steam_per_fuel: Quantity,
    steam_enthalpy: Quantity,
    feed_enthalpy: Quantity,
    calorific_value: Quantity,
) -> Quantity:
    """Heat given to steam over heat of the fuel [-], on the basis of the calorific value.

    Examples
    --------
    >>> round(100 * efficiency(2.6, 3180.15e3, 292.97e3, 10300e3), 2)
    72.88
    """
    return steam_per_fuel * (steam_enthalpy - feed_enthalpy) / calorific_value
