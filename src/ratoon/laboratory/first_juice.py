"""First expressed juice: Brix and pol in cane, CCS and its kin."""

from __future__ import annotations

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, choose, valid_for

# [WAFarmnote]: what turns first expressed juice, richer than the average, into absolute juice
BRIX_ALLOWANCE, POL_ALLOWANCE = 0.03, 0.05
IMPURITIES = 0.5  # sucrose that impurities in cane keep from being made

_BRIX = Range("brix", 0.0, 0.35, "kg/kg")
_POL = Range("pol", 0.0, 0.35, "kg/kg")
_FIBRE = Range("fibre", 0.0, 0.40, "kg/kg")


@valid_for(_BRIX, _FIBRE)
def brix_in_cane(brix: Quantity, fibre: Quantity, allowance: Quantity = BRIX_ALLOWANCE) -> Quantity:
    """Brix in cane [kg/kg] from the Brix of first expressed juice and fibre in cane [kg/kg].

    Parameters
    ----------
    brix : of first expressed juice [kg/kg]. fibre : in cane [kg/kg].
    allowance : 0.03 by convention; an account that ties a reading of the juice to the cane takes
        it as an assumption with a sigma instead.

    Notes
    -----
    Source: [WAFarmnote] (print seen).

    Examples
    --------
    >>> round(100 * brix_in_cane(0.22, 0.15), 3)
    18.04
    """
    return brix * (1.0 - (fibre + allowance))


@valid_for(_POL, _FIBRE)
def pol_in_cane(pol: Quantity, fibre: Quantity, allowance: Quantity = POL_ALLOWANCE) -> Quantity:
    """Pol in cane [kg/kg] from the pol of first expressed juice and fibre in cane [kg/kg].

    Parameters
    ----------
    pol : of first expressed juice [kg/kg]. fibre : in cane [kg/kg]. allowance : 0.05 by convention.

    Notes
    -----
    Source: [WAFarmnote] (print seen).

    Examples
    --------
    >>> round(100 * pol_in_cane(0.195, 0.15), 3)
    15.6
    """
    return pol * (1.0 - (fibre + allowance))


def ccs(brix: Quantity, pol: Quantity, fibre: Quantity) -> Quantity:
    """Commercial cane sugar [kg/kg cane].

    Parameters
    ----------
    brix, pol : of first expressed juice [kg/kg]. fibre : in cane [kg/kg].

    Returns
    -------
    CCS as a fraction; one unit of CCS is 0.01.

    Notes
    -----
    Method: pol in cane less half the impurities in cane. A convention with fixed constants 3 and
    5: it need not agree with the pol in cane of a mill's balance; report both. No printed worked
    example from juice to CCS is at hand, only the equations.
    Source: [WAFarmnote] (print seen).

    Examples
    --------
    >>> round(100 * ccs(0.22, 0.195, 0.15), 2)
    14.38
    """
    impurities = brix_in_cane(brix, fibre) - pol_in_cane(pol, fibre)
    return pol_in_cane(pol, fibre) - IMPURITIES * impurities


CCS_IN_WORDS = (
    f"{1 + IMPURITIES:g} P (1 - (F + {100 * POL_ALLOWANCE:g})/100)"
    f" - {IMPURITIES:g} B (1 - (F + {100 * BRIX_ALLOWANCE:g})/100), B and P of first juice"
)


def brix_of_absolute_juice(brix: Quantity, fibre: Quantity) -> Quantity:
    """Brix of absolute juice [kg/kg] from first-juice Brix and fibre in cane [kg/kg].

    Notes
    -----
    Source: [ThaiSheet] (print seen): ratio 1 - 0.002 F, F in %.

    Examples
    --------
    >>> round(100 * brix_of_absolute_juice(0.212, 0.1258), 2)
    20.67
    """
    return brix * (1.0 - 0.2 * fibre)


def in_cane(in_absolute_juice: Quantity, fibre: Quantity) -> Quantity:
    """Share in cane of what is in absolute juice [kg/kg]: everything that is not fibre is juice.

    Examples
    --------
    >>> round(100 * in_cane(0.1768, 0.1258), 2)
    15.46
    """
    return in_absolute_juice * (1.0 - fibre)


def java_ratio(pol_in_cane: Quantity, pol_of_first_juice: Quantity) -> Quantity:
    """Pol in cane over pol of first expressed juice [-]; it moves with fibre and extraction."""
    return pol_in_cane / pol_of_first_juice


def press_juice_factor(fibre: Quantity) -> Quantity:
    """Brix of cane's absolute juice over that of press juice [-], core sampling.

    Notes
    -----
    Source: [JamaicaCore] (print seen): 0.14 gives 0.9584.

    Examples
    --------
    >>> round(press_juice_factor(0.14), 4)
    0.9584
    """
    return 1.02 - 0.44 * fibre


def recoverable_fraction(
    purity: Quantity, sugar_constant: float = 1.4, loss_constant: float = 0.40
) -> Quantity:
    """Share of pol that can be recovered from juice of a purity [-] by 1.4 - 40/Q.

    Notes
    -----
    The basic recovery for sugar of 100 and molasses of 28.57 purity. Source: [JamaicaCore] (print
    seen).

    Examples
    --------
    >>> round(recoverable_fraction(0.85), 5)
    0.92941
    """
    return sugar_constant - loss_constant / purity


def recoverable_from_press_juice(
    pol: Quantity, fibre: Quantity, purity: Quantity, method: str = "full"
) -> Quantity:
    """Recoverable sugar in cane [kg/kg] from press juice of a core sample.

    Parameters
    ----------
    pol : of the press juice [kg/kg]. fibre : in cane [kg/kg]. purity : of the juice [kg/kg].
    method : "full" product, or "simplified".

    Notes
    -----
    Source: [JamaicaCore] (print seen).

    Examples
    --------
    >>> round(100 * recoverable_from_press_juice(0.17, 0.14, 0.85), 3)
    12.662
    """
    share = choose("recoverable_from_press_juice", method, _PRESS)(fibre)
    return 1.03 * pol * share * recoverable_fraction(purity)


_PRESS = {
    "full": lambda fibre: press_juice_factor(fibre) * (1.0 - fibre) * (1.0 - 0.4 * fibre),
    "simplified": lambda fibre: 1.02 - 1.73 * fibre,
}
