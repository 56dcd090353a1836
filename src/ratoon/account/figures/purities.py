"""Purity algebra of the sugar end: what two purities say about a massecuite. Dry solids throughout.

Every formula takes fractions, as float, numpy array or symbol; purities on one basis, true if
possible.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity


def two_product_yield(feed: Quantity, rich: Quantity, poor: Quantity) -> Quantity:
    """Share of dry solids that leaves in the richer of two products [kg/kg], by purities.

    Also the share of the richer stream in a blend of a purity.

    Examples
    --------
    >>> round(two_product_yield(0.78, 0.99, 0.58), 4)
    0.4878
    """
    return (feed - poor) / (rich - poor)


def crystal_content(massecuite: Quantity, mother_liquor: Quantity) -> Quantity:
    """Crystal on dry solids of a massecuite [kg/kg], by purities; known from memory.

    Examples
    --------
    >>> round(crystal_content(0.80, 0.60), 3)
    0.5
    """
    return two_product_yield(massecuite, 1.0, mother_liquor)


def exhaustion(massecuite: Quantity, mother_liquor: Quantity) -> Quantity:
    """Share of a massecuite's sucrose that is crystal [kg/kg], by purities; from memory.

    Examples
    --------
    >>> round(exhaustion(0.80, 0.60), 3)
    0.625
    """
    return crystal_content(massecuite, mother_liquor) / massecuite


def crystal_dissolved(purity: Quantity, rise: Quantity) -> Quantity:
    """Crystal that dissolves when a run-off's purity rises, per dry solids before [kg/kg].

    Examples
    --------
    >>> round(100 * crystal_dissolved(0.45, 0.02), 2)
    3.77
    """
    return rise / (1.0 - purity - rise)


def pan_evaporation(feed: Quantity, massecuite: Quantity) -> Quantity:
    """Water boiled off in a pan per dry solids [kg/kg], from dry substance of feed and strike.

    Examples
    --------
    >>> round(pan_evaporation(0.68, 0.915), 3)
    0.378
    """
    return 1.0 / feed - 1.0 / massecuite
