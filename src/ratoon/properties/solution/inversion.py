"""Inversion of sucrose in hot juice: rate from pH at temperature, temperature and composition."""

from __future__ import annotations

from ratoon.base.maths import Quantity, exp
from ratoon.base.validity import Range, unchecked, valid_for
from ratoon.properties.solution.density import density
from ratoon.properties.water.saturation import ZERO_CELSIUS


@valid_for(
    Range("dry_substance", 0.0, 0.80, "kg/kg"),
    Range("temperature", 60.0, 130.0, "degC"),
    Range("ph", 4.5, 9.0),
)
def inversion_rate(
    dry_substance: Quantity, purity: Quantity, temperature: Quantity, ph: Quantity
) -> Quantity:
    """Rate at which sucrose inverts, first order [1/s].

    Parameters
    ----------
    dry_substance, purity : of the juice [kg/kg].
    temperature : [degC], 60 to 130.
    ph : at that temperature, not at room temperature: with the room's pH a five-effect set sums
        about ten times too low. See `ph_at_temperature`.

    Notes
    -----
    Method: log10 k = 16.91 + log10(d - c) - 5670/T - pH, k per minute, d density and c sucrose in
    g/mL. The density polynomial is carried on above 100 degC.
    Source: [Vukov1965], constants from memory, agreeing with Stadler's table known from memory.

    Examples
    --------
    >>> round(100 * inverted(inversion_rate(0.15, 1.0, 100.0, 6.5), 3600.0), 4)
    0.0851
    """
    mixture = unchecked(density)(dry_substance, temperature)  # its polynomial holds to 130 degC
    water_like = mixture / 1000.0 * (1.0 - dry_substance * purity)
    kelvin = temperature + ZERO_CELSIUS
    per_minute = water_like * 10.0 ** (16.91 - 5670.0 / kelvin - ph)
    return per_minute / 60.0


def inverted(rate: Quantity, residence: Quantity) -> Quantity:
    """Share of sucrose inverted [-] at a rate [1/s] over a residence time [s].

    Examples
    --------
    0.1 % an hour for half an hour; worked by hand.

    >>> round(100 * inverted(0.001 / 3600, 1800.0), 4)  # %
    0.05
    """
    return 1.0 - exp(-rate * residence)


def ph_at_temperature(
    ph_at_20: Quantity, temperature: Quantity, slope: Quantity = 0.0075
) -> Quantity:
    """pH of juice at a temperature [degC] from its pH at 20 degC.

    Parameters
    ----------
    slope : fall per K, 0.006 to 0.010; known from memory, with little confidence.

    Examples
    --------
    >>> round(ph_at_temperature(7.2, 97.0), 1)
    6.6
    """
    return ph_at_20 - slope * (temperature - 20.0)
