"""Total recoverable sugars of cane from press juice [kg/t], and the burnt-cane factor."""

from __future__ import annotations

from ratoon.base.maths import Quantity, minimum


def lead_equivalent(reading: Quantity) -> Quantity:
    """Lead-equivalent polarimeter reading [degZ] from that of a resin-clarified juice.

    Notes
    -----
    Source: [Canaoeste], coefficients from memory, checked against its printed 59.25 -> 59.67.

    Examples
    --------
    >>> round(lead_equivalent(59.25), 2)
    59.67
    """
    return 1.00621 * reading + 0.05117


def juice_pol(reading: Quantity, brix: Quantity) -> Quantity:
    """Pol of press juice [kg/kg] from a lead-equivalent reading [degZ] and its Brix [kg/kg].

    Notes
    -----
    Linear form from memory, agrees with the normal-weight factor to 1e-4 % per degZ.
    """
    return reading * (0.2605 - 0.09882 * brix) / 100.0


def fibre_from_press_cake(cake: Quantity) -> Quantity:
    """Fibre in cane [kg/kg] from wet press cake [kg] of a 0.5 kg sample (from memory)."""
    return (80.0 * cake + 0.876) / 100.0


def juice_to_cane(fibre: Quantity) -> Quantity:
    """Press juice to absolute juice [-]; fibre in cane [kg/kg]. Source: [Alcopar] (print seen)."""
    return 1.0313 - 0.575 * fibre


def pol_in_cane(pol_of_juice: Quantity, fibre: Quantity) -> Quantity:
    """Pol in cane [kg/kg]. Source: [Alcopar] (product seen)."""
    return pol_of_juice * (1.0 - fibre) * juice_to_cane(fibre)


def reducing_sugars_in_cane(purity: Quantity, fibre: Quantity) -> Quantity:
    """Reducing sugars in cane [kg/kg] from juice purity. Source: [Alcopar] (print seen)."""
    return (9.9408 - 10.49 * purity) / 100.0 * (1.0 - fibre) * juice_to_cane(fibre)


def total_recoverable(pol_in_cane: Quantity, reducing_sugars: Quantity) -> Quantity:
    """Total recoverable sugars [kg/kg cane; times 1000 for kg/t].

    Notes
    -----
    9.05 kg/t per unit of reducing sugars, and of pol after inversion (1.0526).
    Source: [Alcopar] (print seen).
    """
    return 0.905 * 1.0526 * pol_in_cane + 0.905 * reducing_sugars


def recovery_at_purity(
    purity: Quantity, molasses_purity: Quantity = 0.40, sugar: Quantity = 0.9974
) -> Quantity:
    """Recoverable share of pol [-] by the purities of juice, molasses and sugar.

    Notes
    -----
    Source: [Alcopar] (print seen): its juice purity enters less one unit.
    """
    return sugar / (sugar - molasses_purity) * (1.0 - molasses_purity / (purity - 0.01))


def counted_delay(difference: Quantity, stoppage: Quantity) -> Quantity:
    """Time from burning to entry less stoppage [s]. Source: [Canaoeste] (print seen)."""
    return difference - stoppage


def delay_term(delay: Quantity, limit: Quantity) -> Quantity:
    """What the delay would take off before the cap [-]: 0.002 an hour beyond the limit [s]."""
    return 0.002 / 3600.0 * (delay - limit)


def burnt_cane_factor(delay: Quantity, limit: Quantity) -> Quantity:
    """Factor on burnt cane [-], never above one.

    Parameters
    ----------
    delay : burning to entry, less stoppage [s]. limit : 72 h, and 60 h from 1 September.

    Notes
    -----
    Source: [Canaoeste] (print seen).

    Examples
    --------
    >>> round(burnt_cane_factor(100 * 3600.0, 72 * 3600.0), 3)
    0.944
    """
    return minimum(1.0, 1.0 - delay_term(delay, limit))
