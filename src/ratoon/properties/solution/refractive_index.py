"""The refractometer: index at 20 degC from Brix and back, and the correction for temperature."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, fitted_to, valid_for

# own fit to the 86 points 0-85 Bx of [ICUMSA1974], worst 5.5e-6: about the table's rounding
_INDEX = (1.3329872, 0.14275328, 0.054743978, 0.012000093, 0.013402745, -0.0096139695)


@fitted_to("ICUMSA1974")
@valid_for(Range("dry_substance", 0.0, 0.85, "kg/kg"))
def refractive_index(dry_substance: Quantity) -> Quantity:
    """Refractive index of a sucrose solution, 589 nm, 20 degC, relative to air.

    Parameters
    ----------
    dry_substance : refractometer Brix [kg/kg], 0 to 0.85.

    Returns
    -------
    Index [-].

    Notes
    -----
    The official polynomial with temperature and wavelength is not carried. The 1936 scale (four
    decimals) agrees with this one to 1e-4.
    Source: own fit to the ICUMSA 1974 table [ICUMSA1974] (print seen); within 6e-6 of it.

    Examples
    --------
    >>> round(refractive_index(0.60), 5)
    1.44193
    """
    result: Quantity = 0.0
    for coefficient in reversed(_INDEX):
        result = result * dry_substance + coefficient
    return result


def brix_from_refractive_index(index: Quantity) -> Quantity:
    """Refractometer Brix [kg/kg] from the index at 589 nm, 20 degC [-], 1.33299 to 1.50398.

    Notes
    -----
    Method: five Newton steps on `refractive_index` from a straight line; 1e-9 by then.

    Examples
    --------
    >>> round(100 * brix_from_refractive_index(1.44193), 2)
    60.0
    """
    brix = (index - _INDEX[0]) / 0.2
    for _ in range(5):
        slope: Quantity = 0.0
        value: Quantity = 0.0
        for coefficient in reversed(_INDEX):
            slope = slope * brix + value
            value = value * brix + coefficient
        brix = brix - (value - index) / slope
    return brix


@fitted_to("OIV-AS2-02")
@valid_for(
    Range("reading", 0.0, 0.75, "kg/kg"),
    Range("temperature", 10.0, 35.0, "degC"),
)
def refractometer_correction(reading: Quantity, temperature: Quantity) -> Quantity:
    """Brix to add to a 20 degC refractometer scale read at another temperature.

    Parameters
    ----------
    reading : Brix as read [kg/kg], 0 to 0.75.
    temperature : of the prism [degC], 10 to 30 (35 with care).

    Returns
    -------
    Correction [kg/kg] to add.

    Notes
    -----
    Accuracy: 0.006 Brix on the printed 10-16 degC rows; above 20 degC it is an extrapolation that
    agrees with the ICUMSA values known from memory. The 1936 table differs by up to 0.04 Brix.
    Source: own least squares on [OIV-AS2-02] Table I (print seen).

    Examples
    --------
    >>> round(100 * refractometer_correction(0.10, 10.0), 2)
    -0.59
    """
    d = temperature - 20.0
    brix_pct = 100.0 * reading  # the print's unit
    linear = 0.0633761 + 5.30699e-4 * brix_pct - 4.69901e-6 * brix_pct**2
    square = 1.044037e-3 - 1.644247e-5 * brix_pct + 7.18081e-8 * brix_pct**2
    return (d * linear + d**2 * square) / 100.0
