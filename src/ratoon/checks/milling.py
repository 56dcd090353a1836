"""Registered formulas for milling balances, boilers and small worked balances."""

from __future__ import annotations

from ratoon.account.figures import formulas as account
from ratoon.checks.registry import choice, formula, library
from ratoon.properties import bagasse, flue_gas, milling, water

Q = float


@formula("boiler_efficiency", "%", steam_per_bagasse="kg/kg", h_steam="kJ/kg", h_feed="kJ/kg",
         GCV="kJ/kg")  # fmt: skip
def _efficiency(steam_per_bagasse: Q, h_steam: Q, h_feed: Q, GCV: Q) -> Q:
    """Boiler efficiency on the gross calorific value."""
    return steam_per_bagasse * (h_steam - h_feed) / GCV


@formula("steam_per_bagasse", "kg/kg", GCV="kJ/kg", efficiency="fraction", p_MPa="MPa a",
         t_C="degC", t_feed="degC")  # fmt: skip
def _steam_per_bagasse(GCV: Q, efficiency: Q, p_MPa: Q, t_C: Q, t_feed: Q) -> Q:
    """Steam raised per bagasse burnt."""
    rise = water.steam_enthalpy(p_MPa, t_C) - water.liquid_enthalpy(t_feed)
    return float(efficiency * GCV / rise)


@formula("dry_gas_from_carbon", "kmol", CO2_kmol="kmol", CO2_dry_pct="%")
def _dry_gas(CO2_kmol: Q, CO2_dry_pct: Q) -> Q:
    """Dry flue gas from the carbon dioxide in it."""
    return CO2_kmol / CO2_dry_pct


@formula(
    "excess_air", "%", O2_theory_kmol="kmol", CO2_kmol="kmol", CO2_dry_pct="%", oxygen_in_air="%"
)
def _excess(
    O2_theory_kmol: Q, CO2_kmol: Q, CO2_dry_pct: Q, oxygen_in_air: Q = flue_gas.OXYGEN_IN_AIR
) -> Q:
    """Excess air from carbon dioxide in dry flue gas and the oxygen demand."""
    rest = _dry_gas(CO2_kmol, CO2_dry_pct) - CO2_kmol
    demand = O2_theory_kmol / oxygen_in_air
    # dry gas less CO2 is the nitrogen of all the air and the oxygen of its excess
    return (rest - (demand - O2_theory_kmol)) / demand


@formula("stoichiometric_air_from_oxygen", "kg/kg", O2_theory_kmol="kmol")
def _air(O2_theory_kmol: Q) -> Q:
    """Air per fuel from the oxygen demand of 100 kg of fuel."""
    return O2_theory_kmol / 0.21 * 29.0 / 100.0  # the print's round figures


@formula("dew_point", "K abs", p_kPa="kPa a", y="fraction")
def _dew_point(p_kPa: Q, y: Q) -> Q:
    """Dew point [K] of a gas with a share of water vapour."""
    return float(water.saturation_temperature(p_kPa * y)) + 273.15


@formula("filtrate_sucrose", "%", mud="t/h", mud_pct="%", cake="t/h", cake_pct="%",
         filtrate="t/h")  # fmt: skip
def _filtrate(mud: Q, mud_pct: Q, cake: Q, cake_pct: Q, filtrate: Q) -> Q:
    """Sucrose of filtrate by balance over the filter."""
    return (mud * mud_pct - cake * cake_pct) / filtrate


@formula("solids_out", "t/h", clear="t/h", clear_brix="%", mud="t/h", mud_pct="%")
def _solids(clear: Q, clear_brix: Q, mud: Q, mud_pct: Q) -> Q:
    """Dissolved solids leaving a clarifier in clear juice and mud."""
    return clear * clear_brix + mud * mud_pct


@formula("evaporation_on_cane", "%", imbibition_pct_fibre="%", fibre="%", bagasse_pct_cane="%",
         brix_cane="%", brix_extraction="%", brix_out="Bx")  # fmt: skip
def _evaporation_on_cane(
    imbibition_pct_fibre: Q, fibre: Q, bagasse_pct_cane: Q, brix_cane: Q, brix_extraction: Q,
    brix_out: Q,
) -> Q:  # fmt: skip
    """Water to evaporate per cane: mixed juice is cane and imbibition less bagasse."""
    juice = 1.0 + imbibition_pct_fibre * fibre - bagasse_pct_cane
    brix_in = brix_extraction * brix_cane / juice
    return float(account.evaporation(juice, brix_in, brix_out))


@formula("steam_on_cane", "%", steam_t_h="t/h", cane_t_h="t/h")
def _steam(steam_t_h: Q, cane_t_h: Q) -> Q:
    """Steam per cane."""
    return steam_t_h / cane_t_h


@formula("pan_vapour", "t/h", A_grain="t/h", A="t/h", A1="t/h", B_grain="t/h", B="t/h",
         C_grain="t/h", C="t/h", refinery="t/h")  # fmt: skip
def _pan_vapour(A_grain: Q, A: Q, A1: Q, B_grain: Q, B: Q, C_grain: Q, C: Q, refinery: Q) -> Q:
    """Vapour to all pans."""
    return A_grain + A + A1 + B_grain + B + C_grain + C + refinery


@formula("mill_balance", "t", cane="t", fibre="t", sucrose="t", water="t", RS="t",
         impurities="t", imbibition="t", extraction="%", bagasse_water="%", lime="t",
         impurities_removed="%", output="text")  # fmt: skip
def _balance(
    cane: Q, fibre: Q, sucrose: Q, water: Q, RS: Q, impurities: Q, imbibition: Q,
    extraction: Q, bagasse_water: Q, lime: Q, impurities_removed: Q, output: str,
) -> Q:  # fmt: skip
    """Textbook balance of a mill: sugar lost stays in bagasse, reducing sugars all go to juice."""
    in_juice = extraction * sucrose
    in_bagasse = sucrose - in_juice
    bagasse_total = (fibre + in_bagasse) / (1.0 - bagasse_water)
    juice_water = water + imbibition - bagasse_water * bagasse_total
    juice = juice_water + in_juice + RS + impurities
    removed = impurities_removed * impurities
    answers = {
        "sucrose_in_juice": in_juice,
        "sucrose_in_bagasse": in_bagasse,
        "bagasse": bagasse_total,
        "water_in_juice": juice_water,
        "mixed_juice": juice,
        "removed": removed,
        "sludge": removed + lime,
        "clear_juice": juice - removed,
    }
    return float(choice("output", output, answers))


@formula("compound_extraction", "%", e1="fraction", A="", mills="")
def _compound(e1: Q, A: Q, mills: Q) -> Q:
    """Extraction of n mills with ideal compound imbibition."""
    return 1.0 - (1.0 - e1) * (A - 1.0) / (float(A**mills) - 1.0)


library(
    ("preparation_index", "%", milling.preparation_index,
     "bulk_density [kg/m3]",
     "Preparation index from bulk density at 15 % fibre."),
    ("evaporation", "t/h", account.evaporation,
     "clear_juice_t_h [t/h], brix_in [Bx], brix_out [Bx]",
     "Water to evaporate between two Brixes."),
    ("heap_volume", "m3", bagasse.heap_volume,
     "A1 [m2], A2 [m2], h [m]",
     "Volume of a bagasse heap from the areas of its foot and its top and its height."),
    ("bagasse_density", "kg/m3", milling.no_void_density,
     "fibre_fraction [fraction], rho_fibre [kg/m3], rho_juice [kg/m3]",
     "Density of bagasse without voids."),
    ("reabsorption_factor", "", milling.reabsorption_factor,
     "compaction [kg/m3], fibre_fraction [fraction], rho_fibre [kg/m3], rho_juice [kg/m3]",
     "No-void volume of delivered bagasse over the escribed volume."),
    ("fibre_from_filling", "fraction", milling.fibre_from_filling,
     "C_F [], k [], rho_fibre [kg/m3], rho_juice [kg/m3]",
     "Fibre of bagasse from filling ratio and reabsorption factor."),
    ("fibre_volume", "dm3/h", milling.fibre_volume,
     "Dm_dm [dm], L_dm [dm], n_rev_h [], h_dm [dm]",
     "Volume swept by a pair of rolls in an hour by the Java method, in the print's dm."),
)  # fmt: skip
