"""Massecuite: crystal in mother liquor. Density by mixing."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.properties import crystal


def density(
    crystal_content: Quantity,
    mother_liquor_density: Quantity,
    crystal_density: Quantity = crystal.DENSITY,
) -> Quantity:
    """Density of a gas-free massecuite [kg/m3]; entrained air lowers it.

    Parameters
    ----------
    crystal_content : crystal on massecuite [kg/kg].
    mother_liquor_density, crystal_density : [kg/m3].

    Notes
    -----
    Exact mixing of volumes; common practice.

    Examples
    --------
    >>> round(density(0.50, 1430.0), 1)
    1504.4
    """
    liquor = (1.0 - crystal_content) / mother_liquor_density
    return 1.0 / (crystal_content / crystal_density + liquor)
