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
from ratoon.plant.stations.stocks import KNOWN, PRODUCTS, change
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read

SECTIONS = ("juice_end", "evaporators", "sugar_end")
EXPECTED_BY = "AusExpPurity"
"""Whose expected purity the account sets beside that of the molasses."""
LOSSES = ("bagasse", "mud", "molasses", "known", "undetermined")


def indicators(works: Works, q: Quantities) -> Iterator[Report]:
    """All `account.` figures of a flowsheet."""
    yield from _cane(q)
    yield from _milling(works, q)
    yield from _process(works, q)
    yield from _sugar(works, q)
    yield from pol_account(works, q)
    yield from balances(works, q)


def _cane(q: Quantities) -> Iterator[Report]:
    cane = read(q, "cane", RAW_JUICE)
    crushing = q["hours.crushing"]
    fibre = cane.solids / cane.mass
    yield Report("account.cane", cane.mass * crushing, "kg", "t", "Cane crushed", 1e6)
    yield Report("account.rate", cane.mass, "kg/s", "t/h", "Crushing rate")
    yield Report("account.hours", crushing, "s", "h", "Hours crushed", 1e4)
    yield Report("account.lost_time", q["hours.period"] - crushing, "s", "h", "Lost time", 1e4)
    brix = first_juice_brix(q)
    pol = cane.sucrose / cane.mass / (1.0 - fibre - q["first_juice.pol_allowance"])
    yield Report("account.ccs", first_juice.ccs(brix, pol, fibre), "kg/kg", "%", "CCS")
    yield Report("account.fibre_in_cane", fibre, "kg/kg", "%", "Fibre in cane")
    yield Report("account.pol_in_cane", cane.sucrose / cane.mass, "kg/kg", "%", "Pol in cane")


def first_juice_brix(q: Quantities) -> Quantity:
    cane = read(q, "cane", RAW_JUICE)
    fibre = cane.solids / cane.mass
    return cane.dissolved / cane.mass / (1.0 - fibre - q["first_juice.brix_allowance"])


def _milling(works: Works, q: Quantities) -> Iterator[Report]:
    cane = read(q, "cane", RAW_JUICE)
    bagasse = read(q, works.final_bagasse, RAW_JUICE)
    mixed = read(q, "mixed_juice", RAW_JUICE)
    fibre = cane.solids / cane.mass
    extraction = formulas.extraction_by_bagasse(bagasse.sucrose, cane.sucrose)
    yield Report("account.extraction", extraction, "kg/kg", "%", "Pol extraction")
    yield Report("account.reduced_extraction", formulas.reduced_extraction(extraction, fibre),
                 "kg/kg", "%", "Reduced extraction")  # fmt: skip
    yield Report("account.imbibition_on_fibre",
                 formulas.imbibition_on_fibre(q["imbibition.flow"], cane.solids), "kg/kg", "%",
                 "Imbibition on fibre")  # fmt: skip
    yield Report("account.bagasse_pol", bagasse.sucrose / bagasse.mass, "kg/kg", "%",
                 "Bagasse pol")  # fmt: skip
    yield Report("account.bagasse_moisture", bagasse.water / bagasse.mass, "kg/kg", "%",
                 "Bagasse moisture")  # fmt: skip
    yield Report("account.mixed_juice_purity", mixed.purity, "kg/kg", "%", "Mixed juice purity")


def _process(works: Works, q: Quantities) -> Iterator[Report]:
    cake, clear, liquor = read(q, "cake", RAW_JUICE), read(q, "clear_juice"), read(q, "liquor")
    yield Report("account.mud_pol", cake.sucrose / cake.mass, "kg/kg", "%", "Mud pol")
    yield Report("account.clear_juice_purity", clear.purity, "kg/kg", "%", "Clear juice purity")
    yield Report("account.clear_juice_brix", clear.brix, "kg/kg", "%", "Clear juice brix")
    yield Report("account.liquor_brix", liquor.brix, "kg/kg", "%", "Liquor brix")
    yield Report("account.liquor_purity", liquor.purity, "kg/kg", "%", "Liquor purity")
    for letter in works.letters:
        made = works.massecuite(q, letter)
        yield Report(f"account.{letter.lower()}_massecuite_purity", made.true_purity, "kg/kg", "%",
                     f"{letter} massecuite purity")  # fmt: skip
    molasses = read(q, "final_molasses").purity
    ratio = q["final_molasses.reducing_sugars"] / q["final_molasses.ash"]
    target = formulas.target_purity(ratio, method=EXPECTED_BY)
    yield Report("account.molasses_purity", molasses, "kg/kg", "%", "Molasses purity, true")
    yield Report("account.target_purity", target, "kg/kg", "%", "Expected purity, true")
    yield Report("account.purity_difference", molasses - target, "kg/kg", "%",
                 "Molasses purity less expected")  # fmt: skip
    cane = read(q, "cane", RAW_JUICE).mass
    yield Report("account.steam_on_cane", q["boiler.steam.flow"] / cane, "kg/kg", "%",
                 "HP steam on cane")  # fmt: skip
    yield Report("account.process_steam_on_cane", works.process_steam(q) / cane, "kg/kg", "%",
                 "Process steam on cane")  # fmt: skip


def _sugar(works: Works, q: Quantities) -> Iterator[Report]:
    cane, mixed = read(q, "cane", RAW_JUICE), read(q, "mixed_juice", RAW_JUICE)
    sugar = read(q, "sugar")
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


def losses(works: Works, q: Quantities) -> dict[str, Quantity]:
    """Sucrose lost by stream [kg/s]; pol in cane is sugar, stock change and all of these."""
    bagasse = read(q, works.final_bagasse, RAW_JUICE)
    return {
        # Bagacillo comes back through the filters: the loss is bagasse less bagacillo.
        "bagasse": bagasse.sucrose - works.bagacillo(q).sucrose,
        "mud": read(q, "cake", RAW_JUICE).sucrose,
        "molasses": read(q, "final_molasses").sucrose,
        "known": works.inverted(q) + works.entrained(q),
        "undetermined": sum(q[f"undetermined.{s}"] for s in SECTIONS),
    }


def stock_change(works: Works, q: Quantities) -> Quantity:
    """Growth of sucrose in process [kg/s]; products already counted as made are left out."""
    return sum((change(q, n).all_sucrose for n in in_process(works)), 0.0)


def in_process(works: Works) -> tuple[str, ...]:
    """Stocks still in process: products already made are left out."""
    return tuple(n for n in works.stocks if n not in PRODUCTS)


def pol_account(works: Works, q: Quantities) -> Iterator[Report]:
    """Pol in cane, and where it went: tonnes and % of pol in cane."""
    cane = read(q, "cane", RAW_JUICE).sucrose
    crushing = q["hours.crushing"]
    parts = {"cane": cane, "sugar": read(q, "sugar").sucrose,
             "stock_change": stock_change(works, q)}  # fmt: skip
    for name, flow in parts.items():
        text = name.replace("_", " ")
        yield Report(f"account.pol.{name}", flow * crushing, "kg", "t", f"Pol in {text}", 1e5)
        yield Report(f"account.pol.{name}_share", formulas.share_of_pol_in_cane(flow, cane), "1",
                     "%", f"Pol in {text}, of pol in cane")  # fmt: skip
    known = {"inversion": works.inverted(q), "entrainment": works.entrained(q)}
    for name, flow in {**losses(works, q), **known}.items():
        said = "inversion, entrainment" if name == "known" else name
        yield Report(f"account.loss.{name}", flow * crushing, "kg", "t", f"Pol lost: {said}", 1e4)
        yield Report(f"account.loss.{name}_share", formulas.share_of_pol_in_cane(flow, cane), "1",
                     "%", f"Pol lost: {said}, of pol in cane")  # fmt: skip
    yield Report("account.undetermined",
                 formulas.share_of_pol_in_cane(losses(works, q)["undetermined"], cane), "1", "%",
                 "Undetermined loss")  # fmt: skip
    for section in SECTIONS:
        yield Report(f"account.undetermined_{section}",
                     formulas.share_of_pol_in_cane(q[f"undetermined.{section}"], cane), "1", "%",
                     f"Undetermined loss, {section.replace('_', ' ')}")  # fmt: skip
    for called in in_process(works):
        pol = change(q, called).all_sucrose * crushing
        yield Report(f"account.stock.{called}", pol, "kg", "t",
                     f"Growth of pol in stock: {KNOWN[called].text}", 1e4)  # fmt: skip
