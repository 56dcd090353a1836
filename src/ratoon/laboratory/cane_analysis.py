"""Cane by direct analysis, and the quality figures other industries pay on."""

from __future__ import annotations

from ratoon.base.maths import Quantity


def fibre_by_direct_analysis(brix_of_extract: Quantity, moisture: Quantity) -> Quantity:
    """Fibre in cane [kg/kg] from a 1 cane : 2 water extract.

    Parameters
    ----------
    brix_of_extract : [kg/kg]. moisture : of cane [kg/kg].

    Notes
    -----
    25 % Brix-free water on fibre. Source: [SASTA-LM], from memory.

    Examples
    --------
    >>> round(100 * fibre_by_direct_analysis(0.046, 0.70), 3)
    17.188
    """
    return (1.0 - moisture - 3.0 * brix_of_extract) / (1.0 - 1.25 * brix_of_extract)


def from_extract(in_extract: Quantity, fibre: Quantity) -> Quantity:
    """Brix or pol in cane [kg/kg] from that of the 1 : 2 extract and fibre in cane [kg/kg]."""
    return in_extract * (3.0 - 1.25 * fibre)


def fibre_by_difference(moisture: Quantity, brix: Quantity) -> Quantity:
    """Fibre of cane or bagasse [kg/kg]: what is neither water nor Brix (soil counts as fibre).

    Examples
    --------
    >>> round(100 * fibre_by_difference(0.4607, 0.0246), 2)
    51.47
    """
    return 1.0 - moisture - brix


def recoverable_value(
    sucrose: Quantity,
    nonsucrose: Quantity,
    fibre: Quantity,
    nonsucrose_factor: Quantity = 0.4,
    fibre_factor: Quantity = 0.02,
) -> Quantity:
    """Recoverable value of cane [kg/kg]: sucrose less what non-sucrose and fibre carry away.

    Parameters
    ----------
    sucrose, nonsucrose, fibre : in cane [kg/kg].
    nonsucrose_factor, fibre_factor : set each season; about 0.4 and 0.02.

    Notes
    -----
    Source: [SASA-RV] (print seen).

    Examples
    --------
    >>> round(100 * recoverable_value(0.13, 0.02, 0.15), 2)
    11.9
    """
    return sucrose - nonsucrose_factor * nonsucrose - fibre_factor * fibre
