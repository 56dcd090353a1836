"""Thermal conductivity and viscosity of sugar solutions."""

from __future__ import annotations

from ratoon.base.maths import Quantity, power
from ratoon.base.validity import Range, choose, valid_for


@valid_for(
    Range("dry_substance", 0.0, 0.80, "kg/kg"),
    Range("temperature", 0.0, 120.0, "degC"),
)
def thermal_conductivity(
    dry_substance: Quantity, temperature: Quantity, method: str = "Riedel1949"
) -> Quantity:
    """Thermal conductivity of a sugar solution [W/m.K].

    Parameters
    ----------
    dry_substance : [kg/kg], fitted for 0 to 0.60 and used to 0.80.
    temperature : [degC], fitted for 0 to 80.
    method : "Riedel1949" (default, from memory; its water agrees with IAPWS within 1 %);
        "ChoiOkos1986", by volume (from memory).

    Examples
    --------
    >>> round(thermal_conductivity(0.60, 60.0), 3)
    0.44
    """
    function = choose("thermal_conductivity", method, _CONDUCTIVITY)
    return function(dry_substance, temperature)


def _riedel(dry_substance: Quantity, t: Quantity) -> Quantity:
    return (0.565 + 1.80e-3 * t - 6e-6 * t**2) * (1.0 - 0.54 * dry_substance)


def _by_volume(dry_substance: Quantity, t: Quantity) -> Quantity:
    water = 0.57109 + 1.7625e-3 * t - 6.7036e-6 * t**2
    carbohydrate = 0.20141 + 1.3874e-3 * t - 4.3312e-6 * t**2
    volume_water = (1.0 - dry_substance) / (997.18 + 3.1439e-3 * t - 3.7574e-3 * t**2)
    volume_carbohydrate = dry_substance / (1599.1 - 0.31046 * t)
    total = volume_water + volume_carbohydrate
    return (water * volume_water + carbohydrate * volume_carbohydrate) / total


_CONDUCTIVITY = {"Riedel1949": _riedel, "ChoiOkos1986": _by_volume}


@valid_for(
    Range("dry_substance", 0.0, 0.86, "kg/kg"),
    Range("purity", 0.2, 1.0, "kg/kg"),
    Range("temperature", 0.0, 100.0, "degC"),
)
def viscosity(dry_substance: Quantity, purity: Quantity, temperature: Quantity) -> Quantity:
    """Viscosity of a sugar solution.

    Parameters
    ----------
    dry_substance : [kg/kg], 0.05 to 0.86 (below 0.05 the formula is 4 to 7 % off: use water's).
    purity : sucrose on dry substance [kg/kg]; its factor is from memory [Rein2007].
    temperature : [degC], 0 to 100.

    Returns
    -------
    Viscosity [Pa.s].

    Notes
    -----
    Accuracy: about 1 % claimed for pure solutions; +-50 % for real molasses, whose gums, dextran
    and air decide.
    Source: [Genotelle1978] as quoted in [Mathlouthi1995]; purity factor [Rein2007].

    Examples
    --------
    >>> round(1e3 * viscosity(0.70, 1.0, 20.0), 1)
    485.2
    """
    brix_pct = 100.0 * dry_substance  # the print's unit
    n = brix_pct / (1900.0 - 18.0 * brix_pct)
    phi = (30.0 - temperature) / (91.0 + temperature)
    factor = 0.85 + 0.15 * purity
    logarithm = 22.46 * n - 0.114 + phi * (1.1 + 43.1 * factor * power(n, 1.25))
    return 1.0e-3 * 10.0**logarithm
