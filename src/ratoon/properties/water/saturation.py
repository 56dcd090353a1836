"""The saturation line of water: IAPWS-IF97 region 4, explicit both ways."""

from __future__ import annotations

from ratoon.base.maths import Quantity, sqrt
from ratoon.base.validity import Range, valid_for

ZERO_CELSIUS = 273.15  # [K]

# [IF97] Table 34, as printed
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


@valid_for(Range("temperature", 0.0, 373.946, "degC"))
def saturation_pressure(temperature: Quantity) -> Quantity:
    """Pressure at which water boils at a temperature.

    Parameters
    ----------
    temperature : [degC], 0 to 373.946.

    Returns
    -------
    Saturation pressure [Pa, absolute].

    Notes
    -----
    Source: [IF97] eq. 30, print's verification values reproduced: 300 K gives 3536.58941 Pa.

    Examples
    --------
    >>> round(saturation_pressure(300.0 - 273.15), 5)
    3536.58941
    """
    kelvin = temperature + ZERO_CELSIUS
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return 1.0e6 * (2.0 * c / (-b + sqrt(b**2 - 4.0 * a * c))) ** 4


@valid_for(Range("pressure", 611.213, 22.064e6, "Pa"))
def saturation_temperature(pressure: Quantity) -> Quantity:
    """Temperature at which water boils under a pressure.

    Parameters
    ----------
    pressure : [Pa, absolute], 611.213 to 22.064e6.

    Returns
    -------
    Saturation temperature [degC].

    Notes
    -----
    Source: [IF97] eq. 31; 0.1 MPa gives 372.755919 K in the print's verification table.

    Examples
    --------
    >>> round(saturation_temperature(0.1e6) + 273.15, 6)
    372.755919
    """
    beta = sqrt(sqrt(pressure / 1.0e6))
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2.0 * g / (-f - sqrt(f**2 - 4.0 * e * g))
    kelvin = 0.5 * (_N[9] + d - sqrt((_N[9] + d) ** 2 - 4.0 * (_N[8] + _N[9] * d)))
    return kelvin - ZERO_CELSIUS
