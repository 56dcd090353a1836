"""Raw sugar: safety factor, dilution indicator, and what it is worth of a standard sugar."""

from __future__ import annotations

from ratoon.base.maths import Quantity, maximum, minimum

# [PolScale]: pol from and to, allowance per unit of pol; the scale of a contract has a date
_ABOVE = ((0.96, 0.97, 1.50), (0.97, 0.98, 1.25), (0.98, 1.00, 1.00))
_BELOW = ((0.95, 0.96, 1.60), (0.94, 0.95, 2.00))


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


def polarisation_allowance(pol: Quantity) -> Quantity:
    """What is added to the price or the weight of raw sugar of another pol than 96 [-].

    Parameters
    ----------
    pol : of sugar [kg/kg], 0.94 to 1; below 0.94 the scale ends, and its last figure is held.

    Notes
    -----
    1.50 % for the degree above 96, 1.25 % for the next, 1.00 % for each further one; 1.60 % and
    2.00 % off for the degrees below; fractions pro rata. Contracts change their scales: key them by
    contract and date. Source: [PolScale] (print seen).

    Examples
    --------
    >>> round(100 * polarisation_allowance(0.989), 2), round(100 * polarisation_allowance(0.945), 2)
    (3.65, -2.6)
    """
    added = (rate * minimum(maximum(pol - low, 0.0), high - low) for low, high, rate in _ABOVE)
    taken = (rate * minimum(maximum(high - pol, 0.0), high - low) for low, high, rate in _BELOW)
    return sum(added) - sum(taken)


def sugar_at_96(quantity: Quantity, pol: Quantity) -> Quantity:
    """Quantity of raw sugar in 96 pol by the polarisation allowance, in the unit given.

    Examples
    --------
    >>> round(sugar_at_96(1366.0, 0.989), 1)
    1415.9
    """
    return quantity * (1.0 + polarisation_allowance(pol))


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
