"""Massecuite: crystal in mother liquor. Density and enthalpy by mixing."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.properties import crystal
from ratoon.properties.solution.enthalpy import enthalpy as solution_enthalpy


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


def enthalpy(
    crystal_content: Quantity,
    mother_liquor_dry_substance: Quantity,
    mother_liquor_purity: Quantity,
    temperature: Quantity,
) -> Quantity:
    """Enthalpy of a massecuite [J/kg], in the frame of the juice enthalpy.

    Parameters
    ----------
    crystal_content : crystal on massecuite [kg/kg].
    mother_liquor_dry_substance, mother_liquor_purity : of the liquor between crystals [kg/kg].
    temperature : [degC], 20 to 80.

    Examples
    --------
    >>> h = enthalpy(0.5, 0.82, 0.72, 65.0)
    >>> 1e3 < h < 1.5e5
    True
    """
    liquor = solution_enthalpy(mother_liquor_dry_substance, mother_liquor_purity, temperature)
    return crystal_content * crystal.enthalpy(temperature) + (1.0 - crystal_content) * liquor
