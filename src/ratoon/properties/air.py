"""Humid air: humidity, enthalpy, dew point by the steam table and the ideal-gas mixture."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, valid_for
from ratoon.properties.water.liquid import ATMOSPHERE
from ratoon.properties.water.saturation import saturation_pressure, saturation_temperature

_RATIO = 0.621945  # molar mass of water over that of dry air [-]
_TEMPERATURE = Range("temperature", 0.0, 120.0, "degC")


@valid_for(_TEMPERATURE)
def humidity(
    temperature: Quantity, relative_humidity: Quantity, pressure: Quantity = ATMOSPHERE
) -> Quantity:
    """Water in air [kg/kg dry air].

    Parameters
    ----------
    temperature : [degC], 0 to 120. relative_humidity : [-], 0 to 1. pressure : [Pa a].

    Notes
    -----
    Ideal-gas mixture: 0.5 % below a real-gas calculation at 30 degC.

    Examples
    --------
    >>> round(humidity(30.0, 0.70), 4)
    0.0188
    """
    vapour = relative_humidity * saturation_pressure(temperature)
    return _RATIO * vapour / (pressure - vapour)


@valid_for(_TEMPERATURE)
def relative_humidity(
    temperature: Quantity, humidity: Quantity, pressure: Quantity = ATMOSPHERE
) -> Quantity:
    """Relative humidity [-] of air with a humidity [kg/kg dry air] at a temperature [degC].

    Examples
    --------
    The inverse of `humidity`; worked by hand.

    >>> round(100 * relative_humidity(30.0, humidity(30.0, 0.5)), 6)  # %
    50.0
    """
    vapour = pressure * humidity / (_RATIO + humidity)
    return vapour / saturation_pressure(temperature)


def dew_point(humidity: Quantity, pressure: Quantity = ATMOSPHERE) -> Quantity:
    """Temperature at which air of a humidity [kg/kg dry air] begins to wet surfaces [degC].

    Examples
    --------
    >>> round(dew_point(humidity(30.0, 1.0)), 6)
    30.0
    """
    return saturation_temperature(pressure * humidity / (_RATIO + humidity))


@valid_for(_TEMPERATURE)
def enthalpy(temperature: Quantity, humidity: Quantity) -> Quantity:
    """Enthalpy of humid air above 0 degC dry air and liquid water [J/kg dry air].

    Parameters
    ----------
    temperature : [degC], 0 to 120. humidity : [kg/kg dry air].

    Notes
    -----
    1.006 t + W (2501 + 1.86 t) kJ/kg; common practice.

    Examples
    --------
    >>> round(enthalpy(28.0, 0.0178) / 1e3, 1)
    73.6
    """
    return 1000.0 * (1.006 * temperature + humidity * (2501.0 + 1.86 * temperature))
