"""Formulas of a book on steam of a hundred years ago, in its own units: nothing else asks for them.

Bagasse as a fuel and the heat balance of a boiler trial on coal, [BW]; Btu, lb and degF.
"""

from __future__ import annotations

from ratoon.checks.registry import choice, formula

Q = float
EVAPORATION = 970.4  # Btu/lb at 212 degF


@formula("available_heat", "Btu/lb", fibre="%", sucrose="%", glucose="%", water="%")
def _available(fibre: Q, sucrose: Q, glucose: Q, water: Q) -> Q:
    """Available heat of green bagasse by the formula of 1908, eq. 22."""
    return 8550.0 * fibre + 7119.0 * sucrose + 6750.0 * glucose - 972.0 * water


_TABLE_44 = {
    "fibre_cane": "%", "juice_solids": "%", "extraction_pct_weight": "%", "output": "text",
}  # fmt: skip


def _dry_milled(fibre_cane: Q, juice_solids: Q, extraction_pct_weight: Q) -> tuple[Q, Q, Q]:
    """Fibre, solids and moisture on bagasse: cane less the juice extracted, the rest like it."""
    bagasse = 1.0 - extraction_pct_weight
    juice = (bagasse - fibre_cane) / bagasse
    return fibre_cane / bagasse, juice_solids * juice, (1.0 - juice_solids) * juice


@formula("bagasse_from_extraction", "%", **_TABLE_44)
def _from_extraction(fibre_cane: Q, juice_solids: Q, extraction_pct_weight: Q, output: str) -> Q:
    """Fibre or moisture of bagasse from the weight of juice extracted, Table 44."""
    fibre, _, moisture = _dry_milled(fibre_cane, juice_solids, extraction_pct_weight)
    return float(choice("output", output, {"fibre": fibre, "moisture": moisture}))


@formula("bagasse_heat_from_extraction", "Btu/lb", **_TABLE_44)
def _heat_from_extraction(
    fibre_cane: Q, juice_solids: Q, extraction_pct_weight: Q, output: str
) -> Q:
    """Total or net heat of bagasse by Table 44, solids 2/3 sugar and 1/3 molasses."""
    fibre, solids, moisture = _dry_milled(fibre_cane, juice_solids, extraction_pct_weight)
    total = 8325.0 * fibre + solids * (2.0 * 7220.0 + 6960.0) / 3.0
    return float(choice("output", output, {"total": total, "net": total - 1231.0 * moisture}))


_COAL = {
    "coal_lb_h": "lb/h", "dry_lb_h": "lb/h", "refuse_pct_dry": "%", "combustible_pct": "%",
    "evap_lb_h": "lb/h", "factor": "", "t_air": "degF", "t_stack": "degF", "C": "%", "H": "%",
    "moisture": "%", "HHV": "Btu/lb", "CO2": "%", "O2": "%", "CO": "%", "N2": "%",
    "output": "text", "gas": "lb/lb",
}  # fmt: skip


@formula("boiler_trial", "", **_COAL)
def _trial(
    coal_lb_h: Q, dry_lb_h: Q, refuse_pct_dry: Q, combustible_pct: Q, evap_lb_h: Q, factor: Q,
    t_air: Q, t_stack: Q, C: Q, H: Q, moisture: Q, HHV: Q, CO2: Q, O2: Q, CO: Q, N2: Q,
    output: str, gas: Q | None = None,
) -> Q:  # fmt: skip
    """Heat balance of a boiler trial, Btu per lb of dry coal (evaporation lb/lb, efficiency %)."""
    evaporation = evap_lb_h * factor / dry_lb_h
    used = evaporation * EVAPORATION
    if gas is None:  # eq. 16
        gas = C * (11.0 * CO2 + 8.0 * O2 + 7.0 * (CO + N2)) / (3.0 * (CO2 + CO))
    vapour = 212.0 - t_air + EVAPORATION + 0.47 * (t_stack - 212.0)  # eq. 33 and 34
    losses = {
        "moisture": moisture / (1.0 - moisture) * vapour,
        "hydrogen": 9.0 * H * vapour,
        "dry_gas": 0.24 * gas * (t_stack - t_air),  # eq. 35
        "carbon_monoxide": 10150.0 * C * CO / (CO2 + CO),  # eq. 36
        "carbon": 14600.0 * refuse_pct_dry * combustible_pct,
    }
    answers = {
        **losses,
        "evaporation": evaporation,
        "efficiency": 100.0 * used / HHV,
        "unaccounted": HHV - used - sum(losses.values()),
    }
    return float(choice("output", output, answers))
