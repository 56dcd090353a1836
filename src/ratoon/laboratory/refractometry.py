"""The refractometer: Brix at 20 degC from a reading at another temperature."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.properties.solution.refractive_index import refractometer_correction


def brix_at_20(reading: Quantity, temperature: Quantity) -> Quantity:
    """Brix [kg/kg] of a sample read on a 20 degC scale at another prism temperature.

    Parameters
    ----------
    reading : Brix as read [kg/kg], 0 to 0.75. temperature : of the prism [degC], 10 to 35.

    Examples
    --------
    >>> round(100 * brix_at_20(0.15, 25.0), 2)
    15.37
    """
    return reading + refractometer_correction(reading, temperature)


def apparent_purity(pol: Quantity, brix: Quantity) -> Quantity:
    """Pol over Brix [kg/kg]."""
    return pol / brix
