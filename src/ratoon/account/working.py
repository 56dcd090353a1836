"""Behind each figure: its equation in words with values, its reading, and whence its doubt comes."""

from __future__ import annotations

from typing import Any

from ratoon.account import formulas
from ratoon.account.doubts import called, entered_part, reading_unit, show
from ratoon.account.indicators import EXPECTED_BY
from ratoon.account.period import READ_AT, PeriodAccount
from ratoon.base.errors import UnknownName
from ratoon.base.records import Reading
from ratoon.laboratory.first_juice import CCS_IN_WORDS

MOST_ROWS = 24

# figure: (equation in words, where it comes from, what enters it)
FORMULAS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "cane": ("cane crushed in the period, reconciled", "mass balance of the mills", ("cane.weight", "imbibition.flow", "mixed_juice.flow", "bagasse.weight")),
    "rate": ("cane crushed / hours crushed", "definition", ("account.cane", "account.hours")),
    "hours": ("period less the mills' stops", "definition", ()),
    "lost_time": ("the mills' stops, counted once where they overlap", "definition", ()),
    "ccs": (CCS_IN_WORDS, "[WAFarmnote]", ("first_juice.brix", "first_juice.pol", "account.fibre_in_cane")),
    "fibre_in_cane": ("(true fibre + insolubles) / cane", "definition of laboratory fibre", ("cane.fibre", "cane.insolubles")),
    "pol_in_cane": ("pol in cane / cane", "balance of the whole mill", ("account.pol.cane", "account.cane")),
    "extraction": ("100 (pol in cane - pol in bagasse) / pol in cane, bagacillo counted in bagasse", "[ControlNotes]", ("account.pol.cane", "bagasse.pol", "bagasse.weight")),
    "reduced_extraction": (formulas.REDUCED_IN_WORDS, "[ControlNotes]", ("account.extraction", "account.fibre_in_cane")),
    "imbibition_on_fibre": ("imbibition water / laboratory fibre", "definition", ("imbibition.flow", "account.fibre_in_cane")),
    "bagasse_pol": ("pol in final bagasse / final bagasse", "component balances of the last mill", ("bagasse.weight", "mill.purity")),
    "bagasse_moisture": ("water in final bagasse / final bagasse", "component balances of the last mill", ("bagasse.fibre", "bagasse.brix")),
    "mixed_juice_purity": ("pol / brix of mixed juice", "definition", ("mixed_juice.pol", "mixed_juice.brix")),
    "clear_juice_purity": ("pol / brix of clear juice", "definition", ("clear_juice.pol", "clear_juice.brix")),
    "liquor_brix": ("dissolved solids / liquor", "evaporator balances", ("liquor.flow", "liquor.purity")),
    "a_massecuite_purity": ("sucrose / dry substance, crystal included", "pan balances, true basis", ("pan.A.massecuite.dry_substance", "pan.A.massecuite.crystal")),
    "b_massecuite_purity": ("sucrose / dry substance, crystal included", "pan balances, true basis", ("pan.B.massecuite.dry_substance", "pan.B.massecuite.crystal")),
    "c_massecuite_purity": ("sucrose / dry substance, crystal included", "pan balances, true basis", ("pan.C.massecuite.dry_substance", "pan.C.massecuite.crystal")),
    "molasses_purity": ("sucrose / dry substance of final molasses", "centrifugal balances, true basis", ("crystalliser.nutsch.purity", "centrifugal.C.purity_rise")),
    "target_purity": (f"{formulas.target_purity_in_words(EXPECTED_BY)}: expected purity of good practice", f"[{EXPECTED_BY}] (from memory, unverified against print)", ("final_molasses.reducing_sugars", "final_molasses.ash")),
    "purity_difference": ("molasses purity - target purity", "definition", ("account.molasses_purity", "account.target_purity")),
    "sugar": ("sugar weighed + growth of the sugar bins", "mass balance", ("sugar.weight", "sugar.pol")),
    "sugar_pol": ("pol / sugar made", "dryer balances", ("sugar.A.pol", "sugar.moisture")),
    "sugar_moisture": ("water / sugar made", "dryer balances", ("sugar.flow",)),
    "dilution_indicator": ("100 moisture / (100 - pol - moisture)", "trade practice", ("account.sugar_moisture", "account.sugar_pol")),
    "boiling_house_recovery": ("100 pol in sugar / pol in mixed juice", "[SASTA-Defs]", ("account.pol.sugar", "mixed_juice.flow", "mixed_juice.pol")),
    "overall_recovery": ("100 pol in sugar / pol in cane", "definition", ("account.pol.sugar", "account.pol.cane")),
    "steam_on_cane": ("HP steam made / cane crushed", "definition", ("boiler.steam.flow", "account.rate")),
    "process_steam_on_cane": ("exhaust demand / cane crushed", "definition", ("process_steam.flow", "account.rate")),
    "undetermined": ("pol in cane - sugar - stock change - losses by stream and mechanism, estimated with all other readings; no prior", "a free quantity of the account: a spill at the stream's purity", ("account.pol.cane", "account.pol.sugar", "account.pol.stock_change", "account.loss.bagasse", "account.loss.mud", "account.loss.molasses", "account.loss.known")),
    "mud_pol": ("pol in filter cake / filter cake", "filter balances", ("cake.weight", "cake.moisture")),
    "clear_juice_brix": ("dissolved solids / clear juice", "clarifier balances", ("clear_juice.flow",)),
    "liquor_purity": ("pol / brix of liquor", "evaporator balances", ("liquor.flow", "liquor.brix")),
    "coefficient_of_work": ("100 standard sugar / CCS in cane; standard sugar = sugar x pol / standard pol x the mill file's factor", "[ControlNotes], factor from memory", ("account.sugar", "account.sugar_pol", "account.ccs", "account.cane")),
    "steam_on_fuel": ("HP steam made / bagasse burnt", "definition", ("boiler.steam.flow", "boiler.fuel.flow")),
    "power_made": ("back-pressure and condensing sets, over the whole period", "definition", ("power.back_pressure", "power.condensing")),
    "power_used": ("power made - power sent out", "definition", ("account.power_made", "account.power_sent_out")),
    "power_sent_out": ("power sent out over the whole period", "definition", ("power.export",)),
    "power_on_cane": ("power used / cane crushed", "definition", ("account.power_used", "account.cane")),
    "let_down": ("exhaust demand - exhaust of turbines - make-up by spray", "balance of the exhaust main", ("let_down.flow", "process_steam.flow", "power.back_pressure")),
    "bagasse_to_store": ("bagasse - bagasse burnt, over the crushing hours", "balance of the bagasse store", ("bagasse.store.weight", "boiler.fuel.flow")),
    "pol.cane": ("cane crushed x pol in cane", "balance of the whole mill", ("account.cane", "account.pol_in_cane")),
    "pol.sugar": ("sugar made x its pol", "dryer balances", ("account.sugar", "account.sugar_pol")),
    "pol.stock_change": ("growth of pol in all stocks in process; products already made are left out", "levels at both ends of the period", ()),
    "loss.bagasse": ("final bagasse x its pol, less what the bagacillo brings back through the filters", "component balances of the last mill", ("bagasse.weight", "account.bagasse_pol", "bagacillo.sucrose", "account.hours")),
    "loss.mud": ("filter cake x its pol", "filter balances", ("cake.weight", "account.mud_pol")),
    "loss.molasses": ("final molasses x its sucrose: dry substance x true purity", "centrifugal balances, true basis", ("final_molasses.weight", "final_molasses.dry_substance", "account.molasses_purity")),
    "loss.known": ("sucrose inverted + entrained, by the works' own conditions", "sum of the mechanisms", ("account.loss.inversion", "account.loss.entrainment")),
    "condensate_of_exhaust": ("exhaust condensed in the first effect and in pans on exhaust", "mass balance of the chests", ("evaporator.steam.flow", "pan.exhaust.steam.flow")),
    "condensate_of_vapours": ("vapours of all effects but the last, wherever they condense", "mass balance of the chests", ("account.water.evaporators",)),
}  # fmt: skip


def workings(account: PeriodAccount, addresses: list[str]) -> dict[str, Any]:
    """The working of each figure named."""
    return {a: working(account, a) for a in addresses}


def working(account: PeriodAccount, address: str) -> dict[str, Any]:
    """One figure's working."""
    short = address.removeprefix("account.")
    info = account.mill.addresses.get(address)
    formula, source, inputs = FORMULAS.get(
        short, ("found by the plant's equations together", "component balances", ())
    )
    if short == "pol.stock_change":
        inputs = tuple(f"account.stock.{called}" for called in account.mill.settings.stocks)
    answer = account.answer
    shares = answer.shares(address)[:5] if answer is not None and info is not None else []
    return {
        "name": info.name if info else short.replace("_", " "),
        "formula": formula,
        "equation_source": source,
        "inputs": [_input(account, a) for a in inputs if a in account.mill.addresses],
        "reading": _own_reading(account, READ_AT.get(address, address)),
        "shares": [
            {"reading": a, "kind": "assumed" if a in account.assumed_addresses else "measured",
             "share": float(s), "name": _named(account, a)}
            for a, s in shares
        ],
        "rests_on_assumptions": account.rests_on_assumptions(address) if info else False,
    }  # fmt: skip


def _input(account: PeriodAccount, address: str) -> dict[str, Any]:
    try:
        figure = account.figure(address)
    except UnknownName:
        return {"address": address, "name": address, "value": None, "unit": ""}
    return {
        "address": address,
        "name": figure.name,
        "value": figure.value,
        "unit": figure.unit,
        "sigma": figure.sigma,
    }


def _named(account: PeriodAccount, address: str) -> str:
    """What people call a reading, an assumption or an instrument in a share of doubt."""
    return called(account, address) if address in account.mill.addresses else address


def _row(account: PeriodAccount, row: Reading) -> str:
    """A row that a figure was made from: where it was written down, its time and its value."""
    at = "" if row.start is None else f"{account.mill.calendar.to_local(row.start):%d %b %H:%M}, "
    given = "" if row.given is None else f"{row.given:g} {row.unit}".strip()
    return f"{row.source}: {at}{given}" if row.source else f"{at}{given}"


def _own_reading(account: PeriodAccount, address: str) -> dict[str, Any] | None:
    answer = account.answer
    if answer is None or address not in account.read_addresses:
        return None
    for r in answer.readings:
        if r.address == address and r.kind == "measured":
            rows = account.gathered.origins.get(address, [r.reading])
            return {
                "address": address,
                "value": show(account, address, r.reading.value, False),
                "unit": reading_unit(account, address)[0],
                "adjusted": show(account, address, r.adjusted, False),
                "standardised": r.standardised,
                "sigma": show(account, address, r.sigma, True),
                "source": rows[0].source or called(account, address),
                "rows": [_row(account, row) for row in rows[:MOST_ROWS]],
                **entered_part(account, rows),
            }
    return None
