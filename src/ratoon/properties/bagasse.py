"""Bagasse as a fuel: calorific value from moisture, ash and Brix."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for

_MOISTURE = Range("moisture", 0.0, 0.65, "kg/kg")
_ASH = Range("ash", 0.0, 0.20, "kg/kg")
_BRIX = Range("brix", 0.0, 0.15, "kg/kg")


@valid_for(_MOISTURE, _ASH, _BRIX)
def gross_calorific_value(
    moisture: Quantity, ash: Quantity, brix: Quantity, method: str = "Don1977"
) -> Quantity:
    """Heat of burning bagasse as fired, water condensed.

    Parameters
    ----------
    moisture, ash, brix : on bagasse as fired [kg/kg]. By method "Hugot" the third is pol and ash
        is not asked.
    method : "Don1977" (default) or "Hugot" (from memory, no ash term: 10 % high at 5 % ash).

    Returns
    -------
    Gross calorific value [J/kg].

    Notes
    -----
    At 100 % Brix it gives 16 491 kJ/kg; sucrose burns with 16 487 [NIST].
    Source: [Don1977] as quoted in [SASTA-LM] 2.3.

    Examples
    --------
    >>> round(gross_calorific_value(0.50, 0.02, 0.03) / 1e3)
    9317
    """
    return choose("gross_calorific_value", method, _GROSS)(moisture, ash, brix)


def _gross_don(moisture: Quantity, ash: Quantity, brix: Quantity) -> Quantity:
    return 1.0e3 * (19605.0 - 19605.0 * moisture - 19605.0 * ash - 3114.0 * brix)


def _gross_hugot(moisture: Quantity, ash: Quantity, pol: Quantity) -> Quantity:
    return 4186.8 * (4600.0 - 4600.0 * moisture - 1200.0 * pol)


_GROSS = {"Don1977": _gross_don, "Hugot": _gross_hugot}


@valid_for(_MOISTURE, _ASH, _BRIX)
def net_calorific_value(
    moisture: Quantity, ash: Quantity, brix: Quantity, method: str = "Don1977"
) -> Quantity:
    """Heat of burning bagasse as fired, water leaving as vapour.

    Parameters
    ----------
    moisture, ash, brix : on bagasse as fired [kg/kg]; third is pol by method "Hugot".
    method : "Don1977" (default, consistent with the gross value, hydrogen 5.91 % on dry; from
        memory, checked by arithmetic); "SASTA-LM" (quoted); "Hugot" (from memory, no ash term).

    Returns
    -------
    Net calorific value [J/kg].

    Examples
    --------
    >>> round(net_calorific_value(0.50, 0.02, 0.03) / 1e3)
    7443
    """
    return choose("net_calorific_value", method, _NET)(moisture, ash, brix)


def _net_don(moisture: Quantity, ash: Quantity, brix: Quantity) -> Quantity:
    return 1.0e3 * (18309.0 - 20760.0 * moisture - 19605.0 * ash - 3114.0 * brix)


def _net_sasta(moisture: Quantity, ash: Quantity, brix: Quantity) -> Quantity:
    return 1.0e3 * (18260.0 - 20763.0 * moisture - 18260.0 * ash - 3114.0 * brix)


def _net_hugot(moisture: Quantity, ash: Quantity, pol: Quantity) -> Quantity:
    return 4186.8 * (4250.0 - 4850.0 * moisture - 1200.0 * pol)


_NET = {"Don1977": _net_don, "SASTA-LM": _net_sasta, "Hugot": _net_hugot}


def heap_volume(foot: Quantity, top: Quantity, height: Quantity) -> Quantity:
    """Volume of a surveyed bagasse heap, a frustum [m3].

    Parameters
    ----------
    foot, top : areas of the lower and the upper face [m2]. height : between them [m].

    Notes
    -----
    Method: (A1 + A2 + sqrt(A1 A2)) h / 3, exact for a pyramid or a cone cut off level; a cone has
    a top of 0, a block two equal faces. Weight takes the heap's own density: 200 kg/m3 at 48 %
    moisture was found in one survey [HeapNote], print seen.
    Source: solid geometry.

    Examples
    --------
    >>> round(heap_volume(1000.0, 400.0, 8.0), 1)
    5419.9
    """
    return (foot + top + (foot * top) ** 0.5) * height / 3.0
