"""Raw sugar: safety factor, dilution indicator, yield."""

from __future__ import annotations

from ratoon.base.maths import Quantity


def safety_factor(moisture: Quantity, pol: Quantity) -> Quantity:
    """Moisture over what is not pol [-]; below 0.25 the sugar keeps.

    Parameters
    ----------
    moisture, pol : of sugar [kg/kg].

    Notes
    -----
    Some texts print the dilution indicator under this name: store pol and moisture, form both.
    Source: [SF-DI] (print seen); meant for sugars below 99 pol.

    Examples
    --------
    >>> round(safety_factor(0.003, 0.989), 3)
    0.273
    """
    return moisture / (1.0 - pol)


def dilution_indicator(moisture: Quantity, pol: Quantity) -> Quantity:
    """Moisture over what is neither pol nor moisture, as a fraction: 0.34 is a DI of 34.

    Parameters
    ----------
    moisture, pol : of sugar [kg/kg].

    Examples
    --------
    >>> round(100 * dilution_indicator(0.003, 0.989), 1)
    37.5
    """
    return moisture / (1.0 - pol - moisture)


def dilution_from_safety(factor: Quantity) -> Quantity:
    """Dilution indicator, as a fraction, of a sugar with a safety factor [-]."""
    return factor / (1.0 - factor)


def duty_quantity(quantity: Quantity, pol: Quantity, standard: Quantity = 0.92) -> Quantity:
    """Quantity of raw sugar at a standard white yield, in the unit given; yield is 2 pol - 1.

    Notes
    -----
    Source: [HMRC-CAP] (print seen): 2500 t yielding 93.5 are 2540.76 t of 92.

    Examples
    --------
    >>> round(duty_quantity(2500.0, 0.9675), 2)
    2540.76
    """
    return quantity * (2.0 * pol - 1.0) / standard
