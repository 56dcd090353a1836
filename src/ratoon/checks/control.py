"""Registered formulas of the room `account`: milling, recovery, molasses, time."""

from __future__ import annotations

import math

from ratoon.account.figures import formulas as account
from ratoon.checks.registry import choice, formula, given, library
from ratoon.laboratory import first_juice

Q = float


@formula("absolute_juice_brix", "%", brix_fej="Bx", fibre="%")
def _absolute_brix(brix_fej: Q, fibre: Q) -> Q:
    """Brix of absolute juice from first expressed juice."""
    return float(first_juice.brix_of_absolute_juice(brix_fej, fibre))


@formula("absolute_juice_pol", "%", pol_cane="%", fibre="%")
def _absolute_pol(pol_cane: Q, fibre: Q) -> Q:
    """Pol of absolute juice from pol in cane."""
    return pol_cane / (1.0 - fibre)


@formula("brix_in_cane_by_absolute_juice", "%", brix_fej="Bx", fibre="%")
def _brix_by_absolute(brix_fej: Q, fibre: Q) -> Q:
    """Brix in cane through absolute juice."""
    return float(first_juice.in_cane(_absolute_brix(brix_fej, fibre), fibre))


@formula("moisture_by_difference", "%", brix_cane="%", fibre="%")
def _moisture(brix_cane: Q, fibre: Q) -> Q:
    """Moisture of cane by difference."""
    return 1.0 - brix_cane - fibre


@formula(
    "milling_figure", "%", fibre="%", pol_cane="%", brix_cane="%", pol_bag="%", brix_bag="%",
    fibre_bag="%", output="text", method="text",
)  # fmt: skip
def _milling(
    fibre: Q, pol_cane: Q, brix_cane: Q, pol_bag: Q, brix_bag: Q, fibre_bag: Q, output: str,
    method: str = "Deerr",
) -> Q:  # fmt: skip
    """Milling from cane and bagasse analyses: output bagasse, pol_in_bagasse, extraction, ..."""
    bagasse = account.bagasse_on_cane(fibre, fibre_bag)
    extraction = account.extraction_by_bagasse(bagasse * pol_bag, pol_cane)
    answers = {
        "bagasse": bagasse,
        "pol_in_bagasse": bagasse * pol_bag,
        "extraction": extraction,
        "brix_extraction": account.extraction_by_bagasse(bagasse * brix_bag, brix_cane),
        "reduced_extraction": account.reduced_extraction(extraction, fibre, method),
        "lost_absolute_juice": account.lost_absolute_juice(extraction, fibre),
        "milling_loss": account.milling_loss(pol_bag, fibre_bag),
    }
    return float(choice("output", output, answers))


@formula("basic_recovery", "%", S="%", J="%", M="%")
def _basic(S: Q, J: Q, M: Q) -> Q:
    """Recovery of sucrose if nothing is lost but molasses."""
    return float(account.basic_recovery(S, J, M))


@formula("basic_recovery_gain", "%", S="%", J="%", M1="%", M2="%")
def _gain(S: Q, J: Q, M1: Q, M2: Q) -> Q:
    """Gain in basic recovery when molasses purity falls from M1 to M2."""
    return _basic(S, J, M2) - _basic(S, J, M1)


@formula("recovery_factor", "", purity="%", molasses_purity="%", sugar="%")
def _factor(purity: Q, molasses_purity: Q, sugar: Q) -> Q:
    """Basic recovery factor of juice one unit purer than clear juice."""
    return sugar * (1.0 - molasses_purity / (purity - 0.01)) / (sugar - molasses_purity)


@formula("target_purity", "%", FplusG_over_ash="", RS_over_ash="", method="text")
def _target(
    FplusG_over_ash: Q | None = None,
    RS_over_ash: Q | None = None,
    method: str = "ReinSmith1981",
) -> Q:
    """Target purity of final molasses; methods ReinSmith1981, AusExpPurity, Hawaii."""
    ratio = given(FplusG_over_ash=FplusG_over_ash, RS_over_ash=RS_over_ash)
    return float(account.target_purity(ratio, method))


@formula("true_purity_from_target", "%", target="%", TPD="%")
def _true(target: Q, TPD: Q) -> Q:
    """True purity of molasses from its target and the difference."""
    return target + TPD


@formula("sum", "t", a="t", b="t", c="t", d="t")
def _sum(a: Q, b: Q, c: Q = 0.0, d: Q = 0.0) -> Q:
    """Sum of up to four weights."""
    return a + b + c + d


@formula("sugar_in_juice", "lb", juice_lb="lb", sugar_pct="%")
def _old(juice_lb: Q, sugar_pct: Q) -> Q:
    """Sugar in a weight of juice."""
    return juice_lb * sugar_pct


@formula("sucrose_behind_gain", "Mt", gain_pct="%", marginal_BHR="%", sugar_t="t")
def _behind(gain_pct: Q, marginal_BHR: Q, sugar_t: Q) -> Q:
    """Sucrose in cane behind an amount of sugar won by extra extraction."""
    return sugar_t / (gain_pct * marginal_BHR) / 1e9


@formula("weighbridge_limit", "%", class_="", output="text")
def _weighbridge(class_: Q, output: str) -> Q:
    """Largest permissible error of a rail weighbridge in motion: verification or service."""
    shares = {"verification": 0.5 * class_, "service": class_}
    return float(choice("output", output, shares)) / 100.0


@formula("sum_of_five", "t", t1="t", t2="t", t3="t", t4="t", t5="t")
def _sum_of_five(t1: Q, t2: Q, t3: Q, t4: Q, t5: Q) -> Q:
    """Sum of five weights."""
    return t1 + t2 + t3 + t4 + t5


@formula(
    "loss_doubt", "%", pol_cane_rel="%", bagasse_loss="%", bagasse_rel="%", molasses_loss="%",
    molasses_rel="%", mud_loss="%", mud_rel="%", sugar="%", sugar_rel="%",
)  # fmt: skip
def _doubt(
    pol_cane_rel: Q, bagasse_loss: Q, bagasse_rel: Q, molasses_loss: Q, molasses_rel: Q,
    mud_loss: Q, mud_rel: Q, sugar: Q, sugar_rel: Q,
) -> Q:  # fmt: skip
    """Half width (95 %) of an undetermined loss from those of what it is left over from."""
    parts = (
        pol_cane_rel,
        bagasse_loss * bagasse_rel,
        molasses_loss * molasses_rel,
        mud_loss * mud_rel,
        sugar * sugar_rel,
    )
    return 1.96 * math.sqrt(sum(part**2 for part in parts))


library(
    ("extraction", "%", account.extraction,
     "juice [], cane []",
     "Extraction: in mixed juice over in cane."),
    ("in_cane_from_absolute_juice", "%", first_juice.in_cane,
     "absolute_juice [%], fibre [%]",
     "Pol or Brix in cane from that of its absolute juice."),
    ("reduced_recovery", "%", account.reduced_recovery,
     "J [%], BHR [%], method [text]",
     "Boiling-house recovery reduced to juice of 85 purity; virtual molasses or ratio."),
    ("time_efficiency", "%", account.time_efficiency,
     "scheduled [%], no_cane [%], other [%], foreign [%]",
     "Overall time efficiency from four classes of stops."),
    ("lost_time", "%", account.lost_time,
     "OTE [%], other [%]",
     "Other stops over the time in which the mill could crush."),
    ("recoverable_crystal_on_sucrose", "%", account.share_of_pol_in_cane,
     "ERC [%], sucrose [%]",
     "Recoverable crystal on sucrose in cane."),
    ("sugar_on_cane", "%", account.sugar_on_cane,
     "sugar_t [t], cane_t [t]",
     "Sugar made per cane."),
    ("cane_per_sugar", "kg/kg", account.cane_per_sugar,
     "cane_t [t], sugar_t [t]",
     "Cane crushed per sugar made."),
)  # fmt: skip
