"""Registered formulas of the room `cane`: prices, relative CCS, recoverable sugars, parcels."""

from __future__ import annotations

from ratoon.cane import prices, recoverable_sugar, windows
from ratoon.checks.registry import choice, formula, library

Q = float


@formula("cane_price", "money", sugar_price="money", ccs="%", constant="money")
def _price(sugar_price: Q, ccs: Q, constant: Q) -> Q:
    """Price of cane per tonne, standard recovery 0.90 and base CCS 4."""
    return float(prices.cane_price(sugar_price, ccs, 0.90, 0.04, constant))


@formula("break_even_sugar_price", "money", cost="money", ccs="%", constant="money")
def _break_even(cost: Q, ccs: Q, constant: Q = 0.66) -> Q:
    """Sugar price that meets a cost of cane; the growers' table has the constant 0.66."""
    return float(prices.break_even_sugar_price(cost, ccs, 0.90, 0.04, constant))


@formula("grower_share", "", ccs="%", recovery="%")
def _share(ccs: Q, recovery: Q) -> Q:
    """Grower's share of sugar proceeds at a recovery of CCS, base CCS 4."""
    return float(prices.grower_share(ccs, recovery, 0.04))


@formula("price_per_unit_of_ccs", "money", sugar_price="money")
def _unit(sugar_price: Q) -> Q:
    """What one unit of CCS adds to the price of a tonne of cane."""
    high = prices.cane_price(sugar_price, 0.13, 0.90, 0.04, 0.0)
    return float(high - prices.cane_price(sugar_price, 0.12, 0.90, 0.04, 0.0))


@formula("relative_ccs", "%", grower="%", mill_week="%", mill_season="%", method="text")
def _relative(grower: Q, mill_week: Q, mill_season: Q, method: str = "additive") -> Q:
    """Relative CCS, additive or multiplicative."""
    forms = {
        "additive": prices.relative_additive,
        "multiplicative": prices.relative_multiplicative,
    }
    return float(choice("method", method, forms)(grower, mill_week, mill_season))


@formula("recoverable_sugar", "", brix="Bx", reading_L="degZ", wet_cake_PBU="g", output="text")
def _recoverable(brix: Q, reading_L: Q, wet_cake_PBU: Q, output: str = "ATR") -> Q:
    """Total recoverable sugars from press juice: output S, Q, F, C, PC, AR or ATR."""
    pol = recoverable_sugar.juice_pol(reading_L, brix)
    fibre = recoverable_sugar.fibre_from_press_cake(wet_cake_PBU / 1000.0)
    purity = pol / brix
    in_cane = recoverable_sugar.pol_in_cane(pol, fibre)
    reducing = recoverable_sugar.reducing_sugars_in_cane(purity, fibre)
    answers = {
        "S": 100.0 * pol,
        "Q": 100.0 * purity,
        "F": 100.0 * fibre,
        "C": recoverable_sugar.juice_to_cane(fibre),
        "PC": 100.0 * in_cane,
        "AR": 100.0 * reducing,
        "ATR": 1000.0 * recoverable_sugar.total_recoverable(in_cane, reducing),
    }
    return float(choice("output", output, answers))


@formula("core_constants", "", mud="", undetermined="", factor="")
def _constants(mud: Q, undetermined: Q, factor: Q) -> Q:
    """Product of the constants of a core-sampling formula."""
    return mud * undetermined * factor


@formula("smallest_parcel", "t", rate_t_h="t/h", purge_min="min", sample_min="min", minutes="min")
def _parcel(rate_t_h: Q, purge_min: Q = 0.0, sample_min: Q = 0.0, minutes: Q = 0.0) -> Q:
    """Least cane that can be sampled alone, or cane crushed in a number of minutes."""
    return float(windows.smallest_parcel(rate_t_h, purge_min, sample_min + minutes))


library(
    ("counted_delay", "h", recoverable_sugar.counted_delay,
     "difference_h [h], stoppage_h [h]",
     "Burning to entry less stoppage."),
    ("delay_term", "", recoverable_sugar.delay_term,
     "hours [h], limit_h [h]",
     "What a delay would take off before the cap."),
    ("burnt_cane_factor", "", recoverable_sugar.burnt_cane_factor,
     "hours [h], limit_h [h]",
     "Factor on burnt cane, at most one."),
    ("lead_equivalent", "degZ", recoverable_sugar.lead_equivalent,
     "reading [degZ]",
     "Lead-equivalent reading from a resin-clarified juice."),
    ("recovery_at_purity", "", recoverable_sugar.recovery_at_purity,
     "purity [%], molasses_purity [%], sugar [%]",
     "Recoverable share of pol by three purities, juice purity less one unit."),
)  # fmt: skip
