"""Worked cases put together from the account's formulas: a loss account, a reference mill."""

from __future__ import annotations

from ratoon.account import formulas as account
from ratoon.checks.registry import choice, formula
from ratoon.laboratory.cane_analysis import fibre_by_difference

Q = float


@formula(
    "loss_account", "", cane_t="t", fibre="%", pol_cane="%", brix_cane="%", moisture_bag="%",
    pol_bag="%", purity_bag="%", mud_t="t", pol_mud="%", pol_sugar="%", moisture_sugar="%",
    purity_molasses="%", brix_molasses="%", undetermined_pct_pol="%", output="text",
)  # fmt: skip
def _loss_account(
    cane_t: Q, fibre: Q, pol_cane: Q, brix_cane: Q, moisture_bag: Q, pol_bag: Q, purity_bag: Q,
    mud_t: Q, pol_mud: Q, pol_sugar: Q, moisture_sugar: Q, purity_molasses: Q, brix_molasses: Q,
    undetermined_pct_pol: Q, output: str,
) -> Q:  # fmt: skip
    """A whole loss account; outputs in t and per cent, as the case prints them."""
    brix_bag = pol_bag / purity_bag
    fibre_bag = fibre_by_difference(moisture_bag, brix_bag)
    bagasse = cane_t * account.bagasse_on_cane(fibre, fibre_bag)
    pol = cane_t * pol_cane
    loss_bagasse, loss_mud = bagasse * pol_bag, mud_t * pol_mud
    undetermined = undetermined_pct_pol * pol
    juice_pol = pol - loss_bagasse
    juice_purity = juice_pol / (cane_t * brix_cane - bagasse * brix_bag)
    # what reaches the pans, at the mixed juice's purity
    pans_pol = juice_pol - loss_mud - undetermined
    pans_nonpol = pans_pol * (1.0 / juice_purity - 1.0)
    # sugar carries its own non-pol; the rest leaves in molasses of the purity given
    sugar_purity = pol_sugar / (1.0 - moisture_sugar)
    crystal = account.basic_recovery(
        sugar_purity, pans_pol / (pans_pol + pans_nonpol), purity_molasses
    )
    sugar_pol = pans_pol * crystal
    molasses_pol = pans_pol - sugar_pol
    extraction = account.extraction(juice_pol, pol)
    recovery = account.boiling_house_recovery(sugar_pol, juice_pol)
    basic = account.basic_recovery(sugar_purity, juice_purity, purity_molasses)
    reduced_e = account.reduced_extraction(extraction, fibre)
    reduced_r = account.reduced_recovery(juice_purity, recovery)
    sugar = sugar_pol / pol_sugar
    molasses = molasses_pol / purity_molasses / brix_molasses
    granulated = account.standard_granulated_factor(pol_sugar, sugar_purity)
    standard = sugar * granulated / juice_pol
    per_cent = {
        "bagasse_brix": brix_bag,
        "bagasse_fibre": fibre_bag,
        "bagasse_loss": account.share_of_pol_in_cane(loss_bagasse, pol),
        "mud_loss": account.share_of_pol_in_cane(loss_mud, pol),
        "molasses_loss": account.share_of_pol_in_cane(molasses_pol, pol),
        "overall_recovery": account.overall_recovery(extraction, recovery),
        "extraction": extraction,
        "juice_purity": juice_purity,
        "molasses_on_cane": molasses / cane_t,
        "boiling_house_recovery": recovery,
        "basic_recovery": basic,
        "performance": account.recovery_performance(recovery, basic),
        "reduced_extraction": reduced_e,
        "virtual_molasses": account.virtual_molasses_purity(juice_purity, recovery),
        "reduced_recovery": reduced_r,
        "reduced_overall": account.overall_recovery(reduced_e, reduced_r),
        "granulated_factor": granulated,
        "granulated_recovery": standard,
        "efficiency": standard / account.standard_recovery(juice_purity),
    }
    tonnes = {
        "bagasse": bagasse,
        "pol_in_bagasse": loss_bagasse,
        "pol_in_mud": loss_mud,
        "undetermined": undetermined,
        "pol_in_molasses": molasses_pol,
        "pol_in_sugar": sugar_pol,
        "sugar": sugar,
        "molasses": molasses,
    }
    answers = {name: 100.0 * value for name, value in per_cent.items()}
    answers |= {name: value / 1000.0 for name, value in tonnes.items()}
    answers["cane_per_sugar"] = account.cane_per_sugar(cane_t, sugar)
    return float(choice("output", output, answers))


@formula(
    "reference_mill", "", cane_t="t", pol="%", E="%", mud_loss="%", undetermined="%", S="%",
    J="%", M="%", sugar_pol="%", output="text",
)  # fmt: skip
def _reference(
    cane_t: Q, pol: Q, E: Q, mud_loss: Q, undetermined: Q, S: Q, J: Q, M: Q, sugar_pol: Q,
    output: str,
) -> Q:  # fmt: skip
    """A reference mill's recovery, or the season's sugar won by a change (outputs named in text).

    Outputs: overall_recovery, molasses_loss, sugar, cane_per_sugar; extraction, molasses_purity,
    juice_purity, undetermined_juice, undetermined_sugar, bagasse_pol, mud_pol, degraded.
    """

    def made(e: Q = E, juice: Q = J, molasses: Q = M, lost: Q = mud_loss + undetermined) -> Q:
        return float((e - lost) * account.basic_recovery(S, juice, molasses))

    base = made()
    tonnes = cane_t * pol / sugar_pol / 1000.0
    answers = {
        "overall_recovery": 100.0 * base,
        "molasses_loss": 100.0 * (E - mud_loss - undetermined - base),
        "sugar": base * tonnes,
        "cane_per_sugar": account.cane_per_sugar(cane_t / 1000.0, base * tonnes),
        "extraction": (made(e=E + 0.01) - base) * tonnes,
        "molasses_purity": (made(molasses=M - 0.01) - base) * tonnes,
        "juice_purity": (made(juice=J + 0.01) - base) * tonnes,
        "undetermined_juice": (made(lost=mud_loss + undetermined - 0.01) - base) * tonnes,
        "undetermined_sugar": 0.01 * tonnes,
        "bagasse_pol": (made(e=E + 0.305 * 0.001 / pol) - base) * tonnes,
        "mud_pol": (made(e=E + 0.05 * 0.01 / pol) - base) * tonnes,
        "degraded": (base - made(e=E - 0.005 * (E - mud_loss))) * tonnes,
    }
    return float(choice("output", output, answers))


@formula("vessel_volume", "m3", massecuite_pct_cane="%", cycle_h="", density="", use="")
def _vessel(massecuite_pct_cane: Q, cycle_h: Q, density: Q, use: Q = 1.0) -> Q:
    """Pan or crystalliser volume per t of cane an hour: hours held, t/m3 and share of use."""
    return massecuite_pct_cane * cycle_h / (density * use)


@formula("crystalliser_volume", "m3", massecuite_pct_cane="%", hours="", density="")
def _crystalliser(massecuite_pct_cane: Q, hours: Q, density: Q) -> Q:
    """Crystalliser volume per t of cane an hour."""
    return _vessel(massecuite_pct_cane, hours, density)


@formula("stock_error_share", "%", pol="%", cane_week="t", cane="t")
def _stock(pol: Q, cane_week: Q | None = None, cane: Q | None = None) -> Q:
    """What 100 t of pol wrong in stock does to a loss, as a share of pol in cane."""
    crushed = cane_week if cane_week is not None else cane
    return 100e3 / ((crushed or 0.0) * pol)


@formula("standard_cane", "", brix_cane="%", juice_per_100_fibre="", brix_per_100_fibre="",
         brix_free_water="", output="text")  # fmt: skip
def _standard_cane(
    brix_cane: Q, juice_per_100_fibre: Q, brix_per_100_fibre: Q, brix_free_water: Q, output: str
) -> Q:
    """Standard cane by its Brix, juice and Brix-free water: output fibre, water or juice_brix."""
    cane = brix_per_100_fibre / brix_cane
    answers = {
        "fibre": 100.0 * 100.0 / cane,
        "water": cane - juice_per_100_fibre - 100.0,
        "juice_brix": 100.0 * brix_per_100_fibre / juice_per_100_fibre,
    }
    return float(choice("output", output, answers))
