"""The trade's figures as plain formulas: milling, boiling house, molasses, time.

Every formula takes fractions (0.965 is 96.5 %), as float, numpy array or symbol, so that the
account, a what-if and a check of a printed table use the very same line. "Pol" may be read as
sucrose throughout, but an account keeps to one of them.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity, log10
from ratoon.base.validity import choose

STANDARD_FIBRE = 0.125
STANDARD_JUICE_PURITY = 0.85

# ---- milling -----------------------------------------------------------------------------


def extraction(in_mixed_juice: Quantity, in_cane: Quantity) -> Quantity:
    """Pol (or Brix) extracted: in mixed juice over in cane [-]; source [ControlNotes], seen.

    Examples
    --------
    >>> round(extraction(33.25, 35.0), 4)
    0.95
    """
    return in_mixed_juice / in_cane


def extraction_by_bagasse(in_bagasse: Quantity, in_cane: Quantity) -> Quantity:
    """Pol (or Brix) extracted, from what bagasse carries away [-]; source [ControlNotes], seen."""
    return 1.0 - in_bagasse / in_cane


def reduced_extraction(
    extraction: Quantity, fibre_in_cane: Quantity, method: str = "Deerr"
) -> Quantity:
    """Extraction reduced to 12.5 % fibre, so that mills and seasons compare [-].

    Parameters
    ----------
    extraction : [-]. fibre_in_cane : laboratory fibre [kg/kg].
    method : "Deerr" (default), loss per undiluted juice on fibre; "linear", loss per fibre.

    Notes
    -----
    Source: [ControlNotes] (print seen).

    Examples
    --------
    >>> round(100 * reduced_extraction(0.97012, 0.1258), 3)
    97.034
    """
    return choose("reduced_extraction", method, _REDUCED)(extraction, fibre_in_cane)


JUICE_ON_FIBRE = (1.0 - STANDARD_FIBRE) / STANDARD_FIBRE
"""Undiluted juice per fibre at the standard fibre: 7."""
_REDUCED = {
    "Deerr": lambda e, f: 1.0 - (1.0 - e) * (1.0 - f) / (JUICE_ON_FIBRE * f),
    "linear": lambda e, f: 1.0 - STANDARD_FIBRE * (1.0 - e) / f,
}
REDUCED_IN_WORDS = f"100 - (100 - E)(100 - F)/({JUICE_ON_FIBRE:g} F)"


def milling_loss(pol_in_bagasse: Quantity, fibre_in_bagasse: Quantity) -> Quantity:
    """Pol per fibre in bagasse [kg/kg]; source [ThaiSheet], seen."""
    return pol_in_bagasse / fibre_in_bagasse


def lost_absolute_juice(extraction: Quantity, fibre_in_cane: Quantity) -> Quantity:
    """Undiluted juice lost in bagasse per fibre [kg/kg]; from memory."""
    return (1.0 - extraction) * (1.0 - fibre_in_cane) / fibre_in_cane


def bagasse_on_cane(fibre_in_cane: Quantity, fibre_in_bagasse: Quantity) -> Quantity:
    """Bagasse on cane [kg/kg] by the fibre balance; common practice."""
    return fibre_in_cane / fibre_in_bagasse


def imbibition_on_fibre(imbibition: Quantity, fibre: Quantity) -> Quantity:
    """Imbibition water on laboratory fibre in cane [kg/kg]; common practice."""
    return imbibition / fibre


def evaporation(juice: Quantity, brix_in: Quantity, brix_out: Quantity) -> Quantity:
    """Water to evaporate from juice between two Brixes, in the unit of juice."""
    return juice * (1.0 - brix_in / brix_out)


# ---- boiling house -----------------------------------------------------------------------


def boiling_house_recovery(pol_in_sugar: Quantity, pol_in_mixed_juice: Quantity) -> Quantity:
    """Pol in sugar over pol in mixed juice [-]; source [SASTA-Defs], seen."""
    return pol_in_sugar / pol_in_mixed_juice


def basic_recovery(
    sugar_purity: Quantity, juice_purity: Quantity, molasses_purity: Quantity
) -> Quantity:
    """Recovery of sucrose if nothing is lost but molasses, S(J-M)/J(S-M) [-].

    Notes
    -----
    Source: [Deerr1921] as quoted in [Wong].

    Examples
    --------
    >>> round(100 * basic_recovery(0.98, 0.85, 0.35), 3)
    91.503
    """
    s, j, m = sugar_purity, juice_purity, molasses_purity
    return s * (j - m) / (j * (s - m))


def recovery_performance(actual: Quantity, basic: Quantity) -> Quantity:
    """Actual over basic boiling-house recovery [-]; from memory."""
    return actual / basic


def virtual_molasses_purity(juice_purity: Quantity, recovery: Quantity) -> Quantity:
    """Molasses purity that would explain a recovery if nothing else were lost, pure sugar [-]."""
    return juice_purity * (1.0 - recovery) / (1.0 - recovery * juice_purity)


def reduced_recovery(
    juice_purity: Quantity, recovery: Quantity, method: str = "virtual molasses"
) -> Quantity:
    """Boiling-house recovery reduced to juice of 85 purity [-].

    Parameters
    ----------
    juice_purity, recovery : [-].
    method : "virtual molasses" (default, [Deerr1921]) or "ratio" ([GunduRao]); identical for pure
        sugar, both from memory.

    Examples
    --------
    >>> round(100 * reduced_recovery(0.86, 0.89), 3)
    88.076
    """
    return choose("reduced_recovery", method, _REDUCED_RECOVERY)(juice_purity, recovery)


def _by_virtual_molasses(juice_purity: Quantity, recovery: Quantity) -> Quantity:
    virtual = virtual_molasses_purity(juice_purity, recovery)
    standard = STANDARD_JUICE_PURITY
    return (standard - virtual) / (standard * (1.0 - virtual))


def _by_ratio(juice_purity: Quantity, recovery: Quantity) -> Quantity:
    standard = (1.0 - STANDARD_JUICE_PURITY) / STANDARD_JUICE_PURITY
    return 1.0 - (1.0 - recovery) * juice_purity / (1.0 - juice_purity) * standard


_REDUCED_RECOVERY = {"virtual molasses": _by_virtual_molasses, "ratio": _by_ratio}


def overall_recovery(extraction: Quantity, boiling_house_recovery: Quantity) -> Quantity:
    """Pol in sugar over pol in cane [-]."""
    return extraction * boiling_house_recovery


def coefficient_of_work(sugar_at_standard: Quantity, ccs_in_cane: Quantity) -> Quantity:
    """Sugar at 94 net titre (or the pool's standard pol) over CCS in cane [-]; standard 0.90.

    The definition is from memory; the standard of 90 stands in [CanePriceNote], seen.
    """
    return sugar_at_standard / ccs_in_cane


def sugar_on_cane(sugar: Quantity, cane: Quantity) -> Quantity:
    """Sugar made per cane [kg/kg]."""
    return sugar / cane


def cane_per_sugar(cane: Quantity, sugar: Quantity) -> Quantity:
    """Cane crushed per sugar made [t/t]."""
    return cane / sugar


def share_of_pol_in_cane(pol_in_stream: Quantity, pol_in_cane: Quantity) -> Quantity:
    """A loss or recovery as a share of pol in cane [-]; source [PolBalSheet], seen."""
    return pol_in_stream / pol_in_cane


# ---- molasses ----------------------------------------------------------------------------


def target_purity(ratio: Quantity, method: str = "ReinSmith1981") -> Quantity:
    """True purity that a good sugar end would leave in final molasses [kg/kg].

    Parameters
    ----------
    ratio : fructose + glucose over sulphated ash ("ReinSmith1981"), or reducing sugars over ash
        (the others), both on the same basis [-].
    method : "ReinSmith1981" (default), a hard laboratory target; "AusExpPurity", expected purity
        of good practice; "Hawaii". All coefficients from memory; the first is supported within
        0.35 unit by a survey of six factories [WhiteVerret2007]. Plot both, say which.

    Examples
    --------
    >>> round(100 * target_purity(1.0), 2)
    33.9
    """
    constant, slope = choose("target_purity", method, TARGETS)
    return constant - slope * log10(ratio)


TARGETS = {
    "ReinSmith1981": (0.339, 0.134),
    "AusExpPurity": (0.4067, 0.1780),
    "Hawaii": (0.377, 0.176),
}
"""Constant and slope of each expected purity, by its source."""


def target_purity_in_words(method: str) -> str:
    """The formula as people read it, in per cent."""
    constant, slope = TARGETS[method]
    return f"{100 * constant:.2f} - {100 * slope:.2f} log10(reducing sugars / ash)"


# ---- time --------------------------------------------------------------------------------


def time_efficiency(
    scheduled: Quantity, no_cane: Quantity, other: Quantity, foreign_matter: Quantity
) -> Quantity:
    """Overall time efficiency: share of gross time spent crushing [-].

    Parameters
    ----------
    scheduled, no_cane, other, foreign_matter : stops as shares of gross time [-].

    Notes
    -----
    Source: [DavisAchary] table 5.1 (print seen).

    Examples
    --------
    >>> round(time_efficiency(0.0434, 0.0689, 0.0259, 0.009), 4)
    0.8528
    """
    return 1.0 - scheduled - no_cane - other - foreign_matter


def lost_time(time_efficiency: Quantity, other: Quantity) -> Quantity:
    """Other stops over the time in which the mill could crush [-]; source [DavisAchary], seen.

    Examples
    --------
    >>> round(lost_time(0.8527, 0.0259), 3)
    0.029
    """
    return other / (time_efficiency + other)
