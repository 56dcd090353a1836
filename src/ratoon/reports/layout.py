"""Which figures stand on the morning sheet, in the order in which the juice meets them.

`low` and `high` are the fixed scale of a quantity's dot and whisker: common practice in raw sugar
mills, wide enough for a bad day (no source); a figure outside is drawn at the edge with an arrow.
A quantity that goes with the size of the mill has none: its scale is half to one and a half times
its target, and without a target it is not drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ratoon.account.results.day import LossName, PolName

Better = Literal["high", "low", "near", ""]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the sheet: an address, its short name, its fixed scale, which side is better."""

    address: str
    name: str
    low: float
    high: float
    better: Better = ""


# The largest figures, over the day ribbon.
KEY = (
    "account.cane",
    "account.rate",
    "account.hours",
    "account.lost_time",
    "account.ccs",
    "account.sugar",
    "account.overall_recovery",
    "account.undetermined",
)

GROUPS: tuple[tuple[str, tuple[Line, ...]], ...] = (
    (
        "Cane and time",
        (
            Line("account.cane", "Cane crushed", 0, 0),
            Line("account.rate", "Crushing rate", 0, 0, "high"),
            Line("account.hours", "Hours crushed", 0, 24),
            Line("account.lost_time", "Lost time", 0, 12, "low"),
            Line("account.time_efficiency", "Time efficiency", 50, 100, "high"),
            Line("account.lost_on_available", "Lost time on available time", 0, 12, "low"),
            Line("account.ccs", "CCS", 10, 17),
            Line("account.pol_in_cane", "Pol in cane", 11, 18),
            Line("account.fibre_in_cane", "Fibre in cane", 11, 18),
        ),
    ),
    (
        "Mills",
        (
            Line("account.extraction", "Pol extraction", 93.5, 98.5, "high"),
            Line("account.reduced_extraction", "Reduced extraction", 93.5, 98.5, "high"),
            Line("account.imbibition_on_fibre", "Imbibition % fibre", 150, 310, "near"),
            Line("account.bagasse_pol", "Bagasse pol", 1.0, 3.0, "low"),
            Line("account.bagasse_moisture", "Bagasse moisture", 45, 55, "low"),
        ),
    ),
    (
        "Juice and evaporation",
        (
            Line("account.mixed_juice_purity", "Mixed juice purity", 80, 92),
            Line("account.clear_juice_brix", "Clear juice brix", 12, 19),
            Line("account.clear_juice_purity", "Clear juice purity", 80, 92),
            Line("account.mud_pol", "Mud pol", 0, 3, "low"),
            Line("account.liquor_brix", "Liquor brix", 58, 76, "high"),
            Line("account.liquor_purity", "Liquor purity", 80, 92),
        ),
    ),
    (
        "Pans and molasses",
        (
            Line("account.a_massecuite_purity", "A massecuite purity", 80, 92),
            Line("account.b_massecuite_purity", "B massecuite purity", 68, 82),
            Line("account.c_massecuite_purity", "C massecuite purity", 56, 70),
            Line("account.molasses_purity", "Molasses purity, true", 36, 50, "low"),
            Line("account.target_purity", "Expected purity, true", 30, 44),
            Line("account.purity_difference", "Molasses less expected", 0, 12, "low"),
        ),
    ),
    (
        "Sugar and recovery",
        (
            Line("account.sugar", "Sugar made", 0, 0),
            Line("account.sugar_pol", "Sugar pol", 98.0, 99.6, "near"),
            Line("account.sugar_moisture", "Sugar moisture", 0.0, 0.8, "low"),
            Line("account.dilution_indicator", "Dilution indicator", 10, 60, "low"),
            Line("account.boiling_house_recovery", "Boiling house recovery", 82, 96, "high"),
            Line("account.overall_recovery", "Overall recovery", 78, 92, "high"),
            Line("account.coefficient_of_work", "Coefficient of work", 85, 105, "high"),
            Line("account.undetermined", "Undetermined, % pol in cane", -4, 6),
        ),
    ),
    (
        "Steam, power and water",
        (
            Line("account.steam_on_cane", "HP steam % cane", 40, 65, "low"),
            Line("account.process_steam_on_cane", "Process steam % cane", 32, 52, "low"),
            Line("account.steam_on_fuel", "Steam on bagasse burnt, t/t", 1.7, 2.7, "high"),
            Line("account.let_down", "Let down to exhaust", 0, 25, "low"),
            Line("account.bagasse_to_store", "Bagasse to the store, net", 0, 0),
            Line("account.power_made", "Power made", 0, 0),
            Line("account.power_used", "Power used", 0, 0),
            Line("account.power_on_cane", "Power used on cane", 10, 40, "low"),
            Line("account.power_sent_out", "Power sent out", 0, 0),
            Line("account.condensate_of_exhaust", "Condensate of exhaust", 0, 0),
            Line("account.condensate_of_vapours", "Condensate of vapours", 0, 0),
        ),
    ),
)

# First word of an address -> the part of the plant it belongs to.
PARTS = {
    "cane and mills": ("cane", "first_juice", "mill", "mills", "imbibition", "bagasse",
                       "mixed_juice", "shredder"),
    "juice and mud": ("heater", "limed_juice", "clear_juice", "lime", "mud", "filtrate", "filter",
                      "cake", "clarifier"),
    "evaporators": ("effect", "evaporator", "liquor", "condenser", "condensate"),
    "pans and molasses": ("pan", "molasses", "crystalliser", "magma", "remelt", "final_molasses",
                          "centrifugal"),
    "sugar": ("sugar", "dryer"),
    "steam and power": ("boiler", "power", "exhaust", "let_down", "feed_water", "condensing",
                        "deaerator", "back_pressure", "drives", "vent"),
    "stocks": ("stock", "tank"),
}  # fmt: skip


def part_of(address: str) -> str:
    """The part of the plant that an address belongs to."""
    first = address.partition(".")[0]
    return next((part for part, words in PARTS.items() if first in words), "others")


LOSS_NAMES: dict[LossName, str] = {
    "bagasse": "Bagasse",
    "mud": "Mud",
    "molasses": "Molasses",
    "known": "Inversion, entrainment",
    "undetermined": "Undetermined",
}
POL_NAMES: dict[PolName, str] = {
    "cane": "Pol in cane",
    "sugar": "Sugar",
    "stock_change": "Stock change",
}
