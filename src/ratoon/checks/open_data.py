"""Open factory and crushing data: every printed derived figure again from the primary figures.

Each comparison says what was printed, what follows from the primary figures beside it, and how far
the print can be trusted: "agrees" to half its last digit, "agrees roughly" within 1 % (truncated or
rounded prints), "disagrees" beyond. A sum of whole numbers agrees or disagrees, never roughly.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ratoon.account.figures import formulas as account
from ratoon.checks.laboratory import crystal_of_four_mills, value_of_four_mills
from ratoon.laboratory import cane_analysis, first_juice

DATA = Path(__file__).parent / "data" / "open"
ROUGHLY = 0.01  # relative


@dataclass(frozen=True, slots=True)
class Comparison:
    """One printed derived figure and what follows from the primary figures, in its unit."""

    file: str
    row: str
    what: str
    formula: str
    printed: str
    found: float

    @property
    def half_digit(self) -> float:
        """Half of the last printed digit."""
        return 0.5 * 10.0 ** -len(self.printed.partition(".")[2])

    @property
    def verdict(self) -> str:
        """ "agrees", "agrees roughly" or "disagrees"."""
        gap = abs(self.found - float(self.printed))
        if gap <= self.half_digit * (1 + 1e-9):
            return "agrees"
        rough = self.formula != "sum" and gap <= ROUGHLY * abs(float(self.printed))
        return "agrees roughly" if rough else "disagrees"


def comparisons() -> list[Comparison]:
    """All printed derived figures of the open data."""
    return [*_totals(), *_four_mills(), *_worked_example(), *_crush_updates(), *_estates()]


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _totals() -> Iterator[Comparison]:
    name = "factory_cane_sugar_totals"
    rows = _rows(name)
    for row in rows:
        cane, sugar = float(row["cane_t"]), float(row["sugar_t"])
        ratios = {
            "sugar_pct_cane": ("sugar_on_cane", 100.0 * account.sugar_on_cane(sugar, cane)),
            "t_cane_per_t_sugar": ("cane_per_sugar", account.cane_per_sugar(cane, sugar)),
        }
        kind = row["published_ratio_kind"]
        if kind in ratios:
            formula, found = ratios[kind]
            yield Comparison(name, row["row_id"], kind, formula, row["published_ratio"], found)
    island = next(row for row in rows if row["row_id"] == "MU16-T")
    for column in ("cane_t", "sugar_t"):
        parts = [
            float(r[column]) for r in rows if r["row_id"] in {f"MU16-{i}" for i in range(1, 5)}
        ]
        yield Comparison(name, "MU16-T", f"sum of {column}", "sum", island[column], sum(parts))
    # the text beside the island's table printed another total than its columns make
    sugar_text = island["unit_note"].rpartition(" ")[2]
    sugar_sum = sum(float(r["sugar_t"]) for r in rows if r["row_id"].startswith("MU16-")) - float(
        island["sugar_t"]
    )
    yield Comparison(name, "MU16-T", "sugar as the text has it", "sum", sugar_text, sugar_sum)


def _four_mills() -> Iterator[Comparison]:
    name = "cane_quality_time_account_four_mills"
    table = {row["quantity"]: row for row in _rows(name)}
    for mill in ("mill_1", "mill_2", "mill_3", "mill_4"):
        value = {quantity: float(row[mill]) / 100.0 for quantity, row in table.items()}
        stops = (
            value["scheduled_stops_pct"],
            value["lack_of_cane_pct"],
            value["other_stops_pct"],
            value["foreign_matter_stops_pct"],
        )
        sucrose, fibre = value["sucrose_pct_cane"], value["fibre_pct_cane"]
        brix = value["brix_pct_cane"]
        efficiency = value["overall_time_efficiency_pct"]
        derived = {
            "overall_time_efficiency_pct": ("time_efficiency", account.time_efficiency(*stops)),
            "lost_time_pct_available_crush": (
                "lost_time",
                account.lost_time(efficiency, value["other_stops_pct"]),
            ),
            "erc_pct_sucrose": (
                "share_of_pol_in_cane",
                account.share_of_pol_in_cane(value["erc_pct_cane"], sucrose),
            ),
            "erc_pct_cane": ("recoverable_crystal", crystal_of_four_mills(sucrose, brix, fibre)),
            "rv_pct_cane": ("recoverable_value", value_of_four_mills(sucrose, brix, fibre)),
        }
        for quantity, (formula, found) in derived.items():
            printed = table[quantity][mill]
            yield Comparison(name, mill, quantity, formula, printed, 100.0 * found)


def _worked_example() -> Iterator[Comparison]:
    name = "milling_worked_example"
    printed = {row["quantity"]: row["value"] for row in _rows(name)}
    value = {quantity: float(text) / 100.0 for quantity, text in printed.items()}
    fibre, brix = value["cane_fibre"], value["first_juice_brix"]
    absolute = first_juice.brix_of_absolute_juice(brix, fibre)
    derived = {
        "absolute_juice": ("1 - fibre", 1.0 - fibre),
        "pol_absolute_juice": ("pol in cane / (1 - fibre)", value["cane_pol"] / (1.0 - fibre)),
        "brix_absolute_juice": ("brix_of_absolute_juice", absolute),
        "cane_brix": ("in_cane", first_juice.in_cane(absolute, fibre)),
        "cane_moisture": ("fibre_by_difference", 1.0 - value["cane_brix"] - fibre),
        "first_juice_moisture": ("1 - brix", 1.0 - brix),
        "bagasse_fibre": (
            "fibre_by_difference",
            cane_analysis.fibre_by_difference(value["bagasse_moisture"], value["bagasse_brix"]),
        ),
    }
    for quantity, (formula, found) in derived.items():
        yield Comparison(name, quantity, quantity, formula, printed[quantity], 100.0 * found)


def _crush_updates() -> Iterator[Comparison]:
    name = "australia_crush_updates"
    rows = _rows(name)
    for row in rows:
        if row["published_pct_of_crop"]:
            share = 100.0 * float(row["cane_t"]) / float(row["crop_estimate_t"])
            place = f"{row['mill_or_region']}, {row['as_at']}"
            printed = row["published_pct_of_crop"]
            yield Comparison(name, place, "share of crop, %", "cane / crop", printed, share)
    for region, text in (("Australia SA4 north", "12"), ("Australia SA4 south", "-14")):
        before, after = (float(r["cane_t"]) for r in rows if r["mill_or_region"] == region)
        growth = 100.0 * (after / before - 1.0)
        yield Comparison(name, region, "growth, %", "cane / cane before - 1", text, growth)


def _estates() -> Iterator[Comparison]:
    name = "cuba_estates_bags_1911_1913"
    rows = _rows(name)
    for column in ("bags_1911_12", "bags_1912_13"):
        total = sum(float(r[column] or 0.0) for r in rows if not r["estate"].startswith("total"))
        printed = next(r[column] for r in rows if r["estate"].startswith("total"))
        yield Comparison(name, "total", column, "sum", printed, total)
