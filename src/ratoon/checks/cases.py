"""Worked cases put together from the account's formulas: a reference mill, volumes, cane."""

from __future__ import annotations

from ratoon.account.figures import formulas as account
from ratoon.checks.registry import choice, formula, given

Q = float


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
    return 100e3 / (given(cane_week=cane_week, cane=cane) * pol)


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
