"""The hydrometer scale: apparent specific gravity 20/20, degrees Baume, sugar in a volume."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, fitted_to, valid_for
from ratoon.properties.solution.density import density

_WATER_20 = 998.23  # true density of water at 20 degC on the NBS scale [kg/m3]
_AIR = 1.2  # [kg/m3], [NBSC457]
_BAUME_MODULUS = 145.0  # [Mohos2010]
# own fit to 801 printed rows of [USDA135A50], 0-80 Bx: rms 6e-6, worst 5e-5 at one likely misprint
_APPARENT = (1.000007, 0.3868678, 0.1274526, 0.06638991, -0.02527156)

_BRIX = Range("dry_substance", 0.0, 0.80, "kg/kg")


@fitted_to("USDA135A50", "NBSC440")
@valid_for(_BRIX)
def apparent_specific_gravity(dry_substance: Quantity) -> Quantity:
    """Apparent specific gravity 20/20 degC (weighed in air) of a sucrose solution.

    Parameters
    ----------
    dry_substance : Brix [kg/kg], 0 to 0.80.

    Returns
    -------
    Apparent specific gravity [-].

    Notes
    -----
    Source: own fit to [USDA135A50] and [NBSC440] Table 114; within 2e-5 of their rows.

    Examples
    --------
    >>> round(apparent_specific_gravity(0.15), 4)
    1.0611
    """
    result: Quantity = 0.0
    for coefficient in reversed(_APPARENT):
        result = result * dry_substance + coefficient
    return result


@valid_for(_BRIX)
def hydrometer_density(dry_substance: Quantity) -> Quantity:
    """True density at 20 degC [kg/m3] by the hydrometer (NBS) scale, Brix [kg/kg].

    Notes
    -----
    Method: apparent gravity in air (0.0012 g/mL, brass weights) turned to density in vacuo.

    Examples
    --------
    >>> round(hydrometer_density(0.15), 2)
    1059.16
    """
    return apparent_specific_gravity(dry_substance) * (_WATER_20 - _AIR) + _AIR


@valid_for(_BRIX)
def degrees_baume(dry_substance: Quantity) -> Quantity:
    """Degrees Baume (modulus 145) of a sucrose solution at 20 degC, Brix [kg/kg].

    Notes
    -----
    Source: [Mohos2010] App. 2 (print seen): 60 Brix is 32.49.

    Examples
    --------
    >>> round(degrees_baume(0.60), 2)
    32.49
    """
    return _BAUME_MODULUS * (1.0 - _WATER_20 / hydrometer_density(dry_substance))


@valid_for(_BRIX)
def sugar_in_volume(dry_substance: Quantity) -> Quantity:
    """Sucrose in a volume of solution at 20 degC [kg/m3], hydrometer scale, Brix [kg/kg].

    Examples
    --------
    >>> round(sugar_in_volume(0.15), 1)
    158.9
    """
    return dry_substance * hydrometer_density(dry_substance)


def hydrometer_correction(
    reading: Quantity, temperature: Quantity, glass_expansion: float = 25e-6
) -> Quantity:
    """Brix to add to a hydrometer read at a temperature other than 20 degC.

    Parameters
    ----------
    reading : hydrometer reading [kg/kg], 0 to 0.80.
    temperature : of the juice [degC], 0 to 60.
    glass_expansion : cubic expansion of the glass [1/K] (from memory).

    Returns
    -------
    Correction [kg/kg] to add to the reading.

    Notes
    -----
    Method (own): the true Brix B has density(B, t) (1 + expansion (t - 20)) = density(reading, 20),
    solved by three Newton steps with the slope at the reading.

    Examples
    --------
    >>> round(100 * hydrometer_correction(0.20, 30.0), 2)
    0.71
    """
    target = density(reading, 20.0)
    glass = 1.0 + glass_expansion * (temperature - 20.0)
    brix, step = reading, 1.0e-4
    for _ in range(3):
        here = density(brix, temperature) * glass
        slope = (density(brix + step, temperature) * glass - here) / step
        brix = brix + (target - here) / slope
    return brix - reading
