"""Final molasses: true and apparent purity, reducing sugars over ash, conductivity ash."""

from __future__ import annotations

from ratoon.base.maths import Quantity


def true_from_apparent(
    pol: Quantity, brix: Quantity, sucrose_less_pol: Quantity, dry_substance_factor: Quantity
) -> Quantity:
    """True purity [kg/kg] of molasses from pol and refractometer Brix.

    Parameters
    ----------
    pol, brix : of the molasses [kg/kg].
    sucrose_less_pol : sucrose minus pol [kg/kg of molasses]; about 0.04 in final molasses.
    dry_substance_factor : true dry substance over refractometer Brix; about 0.945.

    Notes
    -----
    Both defaults are known from memory only: a mill measures its own. Counting final molasses by
    pol instead of sucrose moves the undetermined loss by about 1 % of pol in cane.

    Examples
    --------
    >>> round(100 * true_from_apparent(0.282, 0.82, 0.04, 0.945), 1)
    41.6
    """
    return (pol + sucrose_less_pol) / (dry_substance_factor * brix)


def apparent(
    sucrose: Quantity, sucrose_less_pol: Quantity, dry: Quantity, dry_substance_factor: Quantity
) -> tuple[Quantity, Quantity]:
    """Pol and refractometer Brix [kg/kg] of a thick product: `true_from_apparent` the other way.

    Examples
    --------
    >>> pol, brix = apparent(0.322, 0.04, 0.7749, 0.945)
    >>> round(pol, 3), round(brix, 3)
    (0.282, 0.82)
    """
    return sucrose - sucrose_less_pol, dry / dry_substance_factor


def conductivity_ash(
    conductivity: Quantity, water_conductivity: Quantity, grams_in_100_ml: float = 5.0
) -> Quantity:
    """Ash [kg/kg] from conductivity at 20 degC [uS/cm].

    Notes
    -----
    Source: [ICUMSA-GS] GS1-13, from memory.

    Examples
    --------
    >>> round(1e4 * conductivity_ash(1.0, 0.0) * 100, 1)
    18.0
    """
    coefficient = (16.2 + 0.36 * grams_in_100_ml) * 1e-4
    return coefficient * (conductivity - water_conductivity) / 100.0
