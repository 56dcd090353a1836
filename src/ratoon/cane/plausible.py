"""Plausibility windows of one consignment's analysis; the limits are the mill's."""

from __future__ import annotations

from ratoon.cane.records import Analysis, Flag
from ratoon.cane.rules import AnalysisRules


def plausibility_flags(one: Analysis, rules: AnalysisRules) -> tuple[Flag, ...]:
    """A holding flag for each figure outside its window; nothing is changed."""
    purity = one.pol / one.brix if one.brix > 0.0 else 0.0
    windows = (
        ("brix", one.brix, rules.brix_low, rules.brix_high),
        ("purity of juice", purity, rules.purity_low, rules.purity_high),
        ("fibre", one.fibre, rules.fibre_low, rules.fibre_high),
        ("CCS", one.ccs, rules.ccs_low, rules.ccs_high),
    )
    name = one.consignment
    return tuple(
        Flag(
            "implausible analysis",
            "consignment",
            name,
            f"consignment {name}: {what} {100 * value:.2f} %; allowed: {100 * low:g} to "
            f"{100 * high:g} %. Look at bottle, note and window.",
            "hold",
            name,
            rests_on=f"{what} by {one.method} {one.bottle}".strip(),
        )
        for what, value, low, high in windows
        if not low <= value <= high
    )
