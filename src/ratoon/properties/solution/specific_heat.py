"""Specific heat of juice, liquor and molasses."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for

_KCAL = 4.1868  # kJ/kcal, as the formulas print it


@valid_for(
    Range("dry_substance", 0.0, 1.0, "kg/kg"),
    Range("purity", 0.0, 1.0, "kg/kg"),
    Range("temperature", 0.0, 130.0, "degC"),
)
def specific_heat(
    dry_substance: Quantity,
    purity: Quantity,
    temperature: Quantity,
    method: str = "Bubnik1995",
) -> Quantity:
    """Specific heat of a sugar solution.

    Parameters
    ----------
    dry_substance : [kg/kg], fitted for 0 to 0.85.
    purity : sucrose on dry substance [kg/kg].
    temperature : [degC], fitted for 20 to 100.
    method : "Bubnik1995" (default); "Janovskii"; "Hugot", 1 - 0.006 B (from memory); "Geankoplis",
        4.19 - 2.35 w, textbook checks only; "ChoiOkos1986", by composition (from memory).

    Returns
    -------
    Specific heat [J/kg.K].

    Notes
    -----
    Forms without temperature are 10-15 % low for hot syrup and molasses. The first two are from
    memory, agree with each other within 0.5 % and with the dilute limit.
    Source: [Bubnik1995], [Janovskii], [Hugot], [Geankoplis] Ex. 8.5-1 (seen), [ChoiOkos1986].

    Examples
    --------
    >>> round(specific_heat(0.15, 1.0, 25.0))
    3838
    """
    function = choose("specific_heat", method, _METHODS)
    return 1000.0 * function(100.0 * dry_substance, 100.0 * purity, temperature)


# Each takes the prints' units, Brix % and purity %, and gives kJ/kg.K.
def _recommended(brix_pct: Quantity, purity_pct: Quantity, t: Quantity) -> Quantity:
    return _KCAL - brix_pct * (0.0297 - 4.6e-5 * purity_pct) + 7.5e-5 * brix_pct * t


def _janovskii(brix_pct: Quantity, purity_pct: Quantity, t: Quantity) -> Quantity:
    slope = 0.6 - 0.0018 * t + 0.0008 * (100.0 - purity_pct)
    return _KCAL * (1.0 - slope * brix_pct / 100.0)


def _hugot(brix_pct: Quantity, purity_pct: Quantity, t: Quantity) -> Quantity:
    return _KCAL * (1.0 - 0.006 * brix_pct)


def _textbook(brix_pct: Quantity, purity_pct: Quantity, t: Quantity) -> Quantity:
    return 4.19 - 2.35 * brix_pct / 100.0


def _composition(brix_pct: Quantity, purity_pct: Quantity, t: Quantity) -> Quantity:
    water = 4.1762 - 9.0864e-5 * t + 5.4731e-6 * t**2
    carbohydrate = 1.5488 + 1.9625e-3 * t - 5.9399e-6 * t**2
    return water + (carbohydrate - water) * brix_pct / 100.0


_METHODS = {
    "Bubnik1995": _recommended,
    "Janovskii": _janovskii,
    "Hugot": _hugot,
    "Geankoplis": _textbook,
    "ChoiOkos1986": _composition,
}
