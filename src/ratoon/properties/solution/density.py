"""Density of juice, liquor and molasses from dry substance and temperature."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for

# [Bubnik1995] p. 164 (quoted): a[k][i] of tau^k w^i, i from 1
_ICUMSA = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
# [Kell1975] numerator by powers of t, then the denominator's slope
_KELL = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
_KELL_SLOPE = 16.887236e-3


@valid_for(
    Range("dry_substance", 0.0, 0.85, "kg/kg", "Bubnik1995"),
    Range("temperature", 0.0, 100.0, "degC", "Bubnik1995"),
    Range("dry_substance", 0.0, 0.95, "kg/kg", "Baloh"),
    Range("temperature", 0.0, 120.0, "degC", "Baloh"),
)
def density(dry_substance: Quantity, temperature: Quantity, method: str = "Bubnik1995") -> Quantity:
    """Density of a sucrose solution.

    Parameters
    ----------
    dry_substance : Brix or dry substance [kg/kg], 0 to 0.85.
    temperature : [degC], 0 to 100.
    method : "Bubnik1995" (default), the ICUMSA polynomial for pure sucrose; "Baloh", the short
        approximation for any purity (from memory; within 0.5 % of the other below 80 degC).

    Returns
    -------
    Density [kg/m3], gas-free.

    Notes
    -----
    Accuracy: water within 0.006 kg/m3 of IAPWS-95. Purity is not asked: for hydrometer Brix the
    pure-sucrose density is exact by definition; for true dry substance of final molasses it is
    about 2 % low (own estimate). Weights from volume x density of molasses carry that uncertainty.
    Source: [Bubnik1995] p. 164 as quoted in a later work; water [Kell1975].

    Examples
    --------
    >>> round(density(0.15, 20.0), 2)
    1059.16
    """
    return choose("density", method, _METHODS)(dry_substance, temperature)


def _icumsa(dry_substance: Quantity, temperature: Quantity) -> Quantity:
    tau = (temperature - 20.0) / 100.0
    result = _water(temperature)
    for k, row in enumerate(_ICUMSA):
        result = result + tau**k * _polynomial(row, dry_substance) * dry_substance
    return result


def _water(temperature: Quantity) -> Quantity:
    return _polynomial(_KELL, temperature) / (1.0 + _KELL_SLOPE * temperature)


def _polynomial(coefficients: tuple[float, ...], x: Quantity) -> Quantity:
    result: Quantity = 0.0
    for coefficient in reversed(coefficients):
        result = result * x + coefficient
    return result


def _short(dry_substance: Quantity, temperature: Quantity) -> Quantity:
    brix_pct = 100.0 * dry_substance  # the print's unit
    concentration = 1.0 + brix_pct * (brix_pct + 200.0) / 54000.0
    return 1000.0 * concentration * (1.0 - 0.036 * (temperature - 20.0) / (160.0 - temperature))


_METHODS = {"Bubnik1995": _icumsa, "Baloh": _short}
