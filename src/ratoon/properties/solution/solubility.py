"""Solubility of sucrose, pure and beside impurities; supersaturation."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for

# grams of sucrose in 100 g saturated solution by powers of t [degC]
_COEFFICIENTS: dict[str, tuple[float, ...]] = {
    # quoted in [BubnikKadlec1995]; a copy with 1.66169e-3 is in circulation and wrong
    "Vavrinecz1962": (64.447, 0.08222, 1.6169e-3, -1.558e-6, -4.63e-8),
    "Charles1960": (64.397, 0.07251, 2.0569e-3, -9.035e-6),
    "Herzfeld1892": (64.18, 0.1348, 5.31e-4),
}


@valid_for(Range("temperature", 0.0, 100.0, "degC"))
def solubility(temperature: Quantity, method: str = "Vavrinecz1962") -> Quantity:
    """Sucrose in a saturated pure solution.

    Parameters
    ----------
    temperature : [degC], 0 to 100.
    method : "Vavrinecz1962" (default); "Charles1960" and "Herzfeld1892", from memory, checked
        against tables. The first two agree within 0.0012 to 80 degC and part above 90.

    Returns
    -------
    Sucrose on solution [kg/kg].

    Notes
    -----
    Source: [Vavrinecz1962] as quoted in [BubnikKadlec1995].

    Examples
    --------
    >>> round(100 * solubility(60.0), 2)
    74.26
    """
    result: Quantity = 0.0
    for coefficient in reversed(choose("solubility", method, _COEFFICIENTS)):
        result = result * temperature + coefficient
    return result / 100.0


def sucrose_water_ratio(temperature: Quantity, method: str = "Vavrinecz1962") -> Quantity:
    """Sucrose per water in a saturated pure solution, q0 [kg/kg], at a temperature [degC].

    Examples
    --------
    >>> round(sucrose_water_ratio(65.0), 3)
    3.06
    """
    s = solubility(temperature, method)
    return s / (1.0 - s)


@valid_for(Range("nonsucrose_water_ratio", 0.0, 6.0, "kg/kg"))
def saturation_coefficient(nonsucrose_water_ratio: Quantity, slope: float = 0.088) -> Quantity:
    """Sucrose/water of a saturated impure liquor over that of a pure one [-].

    Parameters
    ----------
    nonsucrose_water_ratio : all dissolved non-sucrose per water [kg/kg].
    slope : fall per unit of that ratio; the default is Australian practice, known from memory:
        calibrate it with the mill's own molasses.

    Notes
    -----
    Beyond a ratio of about 2.5 published cane fits part from the line by 6 to 11 %. Above 92.8
    purity cane impurities raise solubility slightly [Crestani2018]: take 1 for A liquors.
    Source: [Broadfoot-SC], from memory.

    Examples
    --------
    >>> round(saturation_coefficient(2.0), 3)
    0.824
    """
    return 1.0 - slope * nonsucrose_water_ratio


def supersaturation(
    sucrose_in_liquor: Quantity,
    water_in_liquor: Quantity,
    temperature: Quantity,
    slope: float = 0.088,
    method: str = "Vavrinecz1962",
) -> Quantity:
    """Sucrose/water of a liquor over that of the saturated liquor with the same impurities [-].

    Parameters
    ----------
    sucrose_in_liquor, water_in_liquor : [kg/kg of liquor]; the rest is dissolved non-sucrose.
    temperature : [degC]. slope : see `saturation_coefficient`. method : see `solubility`.

    Examples
    --------
    >>> s = solubility(65.0)
    >>> round(supersaturation(s, 1.0 - s, 65.0), 6)
    1.0
    """
    nonsucrose = 1.0 - sucrose_in_liquor - water_in_liquor
    coefficient = saturation_coefficient(nonsucrose / water_in_liquor, slope)
    ratio = sucrose_in_liquor / water_in_liquor
    return ratio / (coefficient * sucrose_water_ratio(temperature, method))
