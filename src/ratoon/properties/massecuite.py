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


def cooling_course(first: Quantity, last: Quantity, part: Quantity, power: float = 1.0) -> Quantity:
    """Temperature of a massecuite that is cooled [degC].

    Parameters
    ----------
    first, last : temperature at the start and at the end [degC]. part : of the time, 0 to 1.
    power : 1 falls evenly; 3 slowly at first, as crystal surface allows; 1/3 fast at first, as
        cooling water does that nobody holds back.

    Notes
    -----
    Source: [CoolLaw], a fragment of a paper, print seen.

    Examples
    --------
    >>> round(cooling_course(65.0, 45.0, 0.5, 3.0), 2)
    62.5
    """
    return first - (first - last) * part**power
