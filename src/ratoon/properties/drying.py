"""A counter-current sugar dryer with air: water, heat and what the air leaves with.

Sugar dust in air can explode: a dryer's air, screens and dust collection follow local codes.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.properties.air import enthalpy

SUGAR_HEAT, WATER_HEAT = 1250.0, 4190.0  # [J/kg.K], common practice


def heat_given_up(
    dry: Quantity, water_in: Quantity, water_out: Quantity, hot: Quantity, cool: Quantity
) -> Quantity:
    """Heat that sugar gives up in a dryer [W].

    Parameters
    ----------
    dry : sugar without its water [kg/s]. water_in, water_out : [kg/kg dry].
    hot, cool : sugar in and out [degC].

    Examples
    --------
    >>> round(heat_given_up(50e3 / 3600, 0.006, 0.002, 60.0, 38.0) * 3600 / 1e6)  # MJ/h
    1434
    """
    gives = (SUGAR_HEAT + WATER_HEAT * water_in) * hot
    return dry * (gives - (SUGAR_HEAT + WATER_HEAT * water_out) * cool)


def outlet_humidity(inlet: Quantity, evaporated: Quantity, air: Quantity) -> Quantity:
    """Humidity of the air that leaves [kg/kg dry air], water and dry air in kg/s.

    Examples
    --------
    200 kg/h of water into 60 t/h of dry air; worked by hand.

    >>> round(1e3 * outlet_humidity(0.01327, 0.2 / 3.6, 60.0 / 3.6), 2)  # g/kg
    16.6
    """
    return inlet + evaporated / air


def outlet_temperature(
    heat: Quantity, air: Quantity, temperature: Quantity, inlet: Quantity, outlet: Quantity
) -> Quantity:
    """Temperature of the air that leaves [degC].

    Parameters
    ----------
    heat : given up by the sugar [W]. air : dry air [kg/s]. temperature : of the air in [degC].
    inlet, outlet : humidity in and out [kg/kg dry air].

    Examples
    --------
    >>> q = heat_given_up(50e3 / 3600, 0.006, 0.002, 60.0, 38.0)
    >>> round(outlet_temperature(q, 60e3 / 3600, 30.0, 0.01327, 0.01661), 1)
    44.8
    """
    leaves = enthalpy(temperature, inlet) + heat / air
    return (leaves - 2501e3 * outlet) / (1006.0 + 1860.0 * outlet)


def air_needed(
    heat: Quantity, evaporated: Quantity, temperature: Quantity, inlet: Quantity, out: Quantity
) -> Quantity:
    """Dry air [kg/s] that leaves at a temperature `out` [degC]; the rest as above.

    Examples
    --------
    50 t/h of sugar that gives up 1434 MJ/h, air from 30 to 55 degC; the figures are ours.

    >>> round(3.6 * air_needed(1434e6 / 3600, 0.2 / 3.6, 30.0, 0.01327, 55.0))  # t/h
    35
    """
    dry = enthalpy(out, inlet) - enthalpy(temperature, inlet)
    return (heat - evaporated * (2501e3 + 1860.0 * out)) / dry
