"""The account's figures as reports on the plant's quantities: one definition for day and what-if.

Every figure on a sheet comes out of these lines, so an account, a what-if and an optimum cannot
disagree. Fractions inside, shown in the trade's units.
"""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.account import formulas
from ratoon.account.balances import balances
from ratoon.equations import Report
from ratoon.laboratory import first_juice, raw_sugar
from ratoon.plant.flowsheet import Works
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities, Quantity

SECTIONS = ("juice_end", "evaporators", "sugar_end")
EXPECTED_BY = "AusExpPurity"
"""Whose expected purity the account sets beside that of the molasses."""


def indicators(works: Works, q: Quantities) -> Iterator[Report]:
    """All `account.` figures of a flowsheet."""
    roles = works.roles
    yield from _cane(roles, q)
    yield from _milling(roles, q)
    yield from _process(roles, q)
    yield from _sugar(roles, q)
    yield from pol_account(roles, q)
    yield from balances(roles, q)


def _cane(roles: Roles, q: Quantities) -> Iterator[Report]:
    cane = roles.stream("cane", q)
    crushing = q["hours.crushing"]
    fibre = cane.solids / cane.mass
    yield Report("account.cane", cane.mass * crushing, "kg", "t", "Cane crushed", 1e6)
    yield Report("account.rate", cane.mass, "kg/s", "t/h", "Crushing rate")
    yield Report("account.hours", crushing, "s", "h", "Hours crushed", 1e4)
    yield Report("account.lost_time", q["hours.period"] - crushing, "s", "h", "Lost time", 1e4)
    yield Report("account.ccs", ccs(roles, q), "kg/kg", "%", "CCS")
    yield Report("account.fibre_in_cane", fibre, "kg/kg", "%", "Fibre in cane")
    yield Report("account.pol_in_cane", cane.sucrose / cane.mass, "kg/kg", "%", "Pol in cane")


def ccs(roles: Roles, q: Quantities) -> Quantity:
    """CCS in cane by its first juice [kg/kg]."""
    cane, juice = roles.stream("cane", q), roles.flows("first juice", q)
    return first_juice.ccs(juice["brix"], juice["pol"], cane.solids / cane.mass)


def _milling(roles: Roles, q: Quantities) -> Iterator[Report]:
    cane, bagasse = roles.stream("cane", q), roles.stream("final bagasse", q)
    fibre = cane.solids / cane.mass
    extraction = formulas.extraction_by_bagasse(bagasse.sucrose, cane.sucrose)
    imbibition = roles.flows("water in", q)["imbibition"]
    yield Report("account.extraction", extraction, "kg/kg", "%", "Pol extraction")
    yield Report("account.reduced_extraction", formulas.reduced_extraction(extraction, fibre),
                 "kg/kg", "%", "Reduced extraction")  # fmt: skip
    yield Report("account.imbibition_on_fibre",
                 formulas.imbibition_on_fibre(imbibition, cane.solids), "kg/kg", "%",
                 "Imbibition on fibre")  # fmt: skip
    yield Report("account.bagasse_pol", bagasse.sucrose / bagasse.mass, "kg/kg", "%",
                 "Bagasse pol")  # fmt: skip
    yield Report("account.bagasse_moisture", bagasse.water / bagasse.mass, "kg/kg", "%",
                 "Bagasse moisture")  # fmt: skip
    yield Report("account.mixed_juice_purity", roles.stream("mixed juice", q).purity, "kg/kg",
                 "%", "Mixed juice purity")  # fmt: skip


def _process(roles: Roles, q: Quantities) -> Iterator[Report]:
    cake, clear = roles.stream("filter cake", q), roles.stream("clear juice", q)
    liquor, cane = roles.stream("liquor", q), roles.stream("cane", q).mass
    yield Report("account.mud_pol", cake.sucrose / cake.mass, "kg/kg", "%", "Mud pol")
    yield Report("account.clear_juice_purity", clear.purity, "kg/kg", "%", "Clear juice purity")
    yield Report("account.clear_juice_brix", clear.brix, "kg/kg", "%", "Clear juice brix")
    yield Report("account.liquor_brix", liquor.brix, "kg/kg", "%", "Liquor brix")
    yield Report("account.liquor_purity", liquor.purity, "kg/kg", "%", "Liquor purity")
    for letter, made in roles.materials("massecuite").items():
        yield Report(f"account.{letter.lower()}_massecuite_purity", made.of(q).true_purity,
                     "kg/kg", "%", f"{letter} massecuite purity")  # fmt: skip
    final = roles.material("final molasses")
    molasses = final.of(q).purity
    ratio = q[f"{final.stem}.reducing_sugars"] / q[f"{final.stem}.ash"]
    target = formulas.target_purity(ratio, method=EXPECTED_BY)
    yield Report("account.molasses_purity", molasses, "kg/kg", "%", "Molasses purity, true")
    yield Report("account.target_purity", target, "kg/kg", "%", "Expected purity, true")
    yield Report("account.purity_difference", molasses - target, "kg/kg", "%",
                 "Molasses purity less expected")  # fmt: skip
    yield Report("account.steam_on_cane", roles.total("steam in", q) / cane, "kg/kg", "%",
                 "HP steam on cane")  # fmt: skip
    yield Report("account.process_steam_on_cane", roles.total("exhaust demand", q) / cane,
                 "kg/kg", "%", "Process steam on cane")  # fmt: skip


def _sugar(roles: Roles, q: Quantities) -> Iterator[Report]:
    cane, mixed = roles.stream("cane", q), roles.stream("mixed juice", q)
    sugar = roles.stream("sugar", q)
    pol, moisture = sugar.sucrose / sugar.mass, sugar.water / sugar.mass
    yield Report("account.sugar", sugar.mass * q["hours.crushing"], "kg", "t", "Sugar made", 1e5)
    yield Report("account.sugar_pol", pol, "kg/kg", "%", "Sugar pol")
    yield Report("account.sugar_moisture", moisture, "kg/kg", "%", "Sugar moisture")
    indicator = 100.0 * raw_sugar.dilution_indicator(moisture, pol)
    yield Report("account.dilution_indicator", indicator, "1", "1", "Dilution indicator", 10.0)
    yield Report("account.boiling_house_recovery",
                 formulas.boiling_house_recovery(sugar.sucrose, mixed.sucrose), "kg/kg", "%",
                 "Boiling house recovery")  # fmt: skip
    yield Report("account.overall_recovery", sugar.sucrose / cane.sucrose, "kg/kg", "%",
                 "Overall recovery")  # fmt: skip


def losses(roles: Roles, q: Quantities) -> dict[str, Quantity]:
    """Sucrose lost by stream [kg/s]; pol in cane is sugar, stock change and all of these."""
    return {
        **roles.flows("loss", q),
        "known": roles.total("known loss", q),
        "undetermined": roles.total("undetermined loss", q),
    }


def pol_account(roles: Roles, q: Quantities) -> Iterator[Report]:
    """Pol in cane, and where it went: tonnes and % of pol in cane.

    Stocks in process alone are counted: what their products hold is made already.
    """
    cane = roles.stream("cane", q).sucrose
    crushing = q["hours.crushing"]
    parts = {"cane": cane, "sugar": roles.stream("sugar", q).sucrose,
             "stock_change": roles.total("stock", q)}  # fmt: skip
    for name, flow in parts.items():
        text = name.replace("_", " ")
        yield Report(f"account.pol.{name}", flow * crushing, "kg", "t", f"Pol in {text}", 1e5)
        yield Report(f"account.pol.{name}_share", formulas.share_of_pol_in_cane(flow, cane), "1",
                     "%", f"Pol in {text}, of pol in cane")  # fmt: skip
    lost = losses(roles, q)
    for name, flow in {**lost, **roles.flows("known loss", q)}.items():
        said = "inversion, entrainment" if name == "known" else name
        yield Report(f"account.loss.{name}", flow * crushing, "kg", "t", f"Pol lost: {said}", 1e4)
        yield Report(f"account.loss.{name}_share", formulas.share_of_pol_in_cane(flow, cane), "1",
                     "%", f"Pol lost: {said}, of pol in cane")  # fmt: skip
    yield Report("account.undetermined", formulas.share_of_pol_in_cane(lost["undetermined"], cane),
                 "1", "%", "Undetermined loss")  # fmt: skip
    unseen, words = roles.flows("undetermined loss", q), roles.lines("undetermined loss")
    for section, flow in unseen.items():
        yield Report(f"account.undetermined_{section}", formulas.share_of_pol_in_cane(flow, cane),
                     "1", "%", f"Undetermined loss, {words[section]}")  # fmt: skip
    held = roles.lines("stock")
    for called, flow in roles.flows("stock", q).items():
        yield Report(f"account.stock.{called}", flow * crushing, "kg", "t",
                     f"Growth of pol in stock: {held[called]}", 1e4)  # fmt: skip
