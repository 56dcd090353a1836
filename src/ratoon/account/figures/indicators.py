"""The account's figures of cane, milling, boiling and sugar: one definition for day and what-if.

Every figure on a sheet comes out of these lines, so an account, a what-if and an optimum cannot
disagree. Fractions inside, shown in the trade's units.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from ratoon.account.figures import formulas
from ratoon.account.figures.figured import Figured
from ratoon.laboratory import first_juice, raw_sugar
from ratoon.plant.declared import Material
from ratoon.plant.flowsheet import CRUSHING, PERIOD
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities, Quantity, told_brix, told_purity

EXPECTED_BY = "AusExpPurity"
"""Whose expected purity the account sets beside that of the molasses."""
USUAL_GRADES = ("A", "B", "C")
"""Massecuites whose purity a result always tells of, whether a mill boils them or not."""
DEFINITION = "definition"


def crushing(q: Quantities) -> Quantity:
    """Time for which cane was crushed [s]."""
    return q[CRUSHING]


def cane_figures(r: Roles) -> Iterator[Figured]:
    cane, first = r.material("cane"), r.material("first juice").stem
    mixed, bagasse = r.material("mixed juice").stem, r.material("final bagasse").stem
    (imbibition,) = r.addresses("water in", "imbibition")
    yield Figured(
        "cane", "kg", "t", "Cane crushed", lambda q: cane.of(q).mass * crushing(q), 1e6,
        "cane crushed in the period, reconciled", "mass balance of the mills",
        (f"{cane.stem}.weight", imbibition, f"{mixed}.flow", f"{bagasse}.weight"),
        f"{cane.stem}.weight", "always",
    )  # fmt: skip
    yield Figured(
        "rate", "kg/s", "t/h", "Crushing rate", lambda q: cane.of(q).mass, 1.0,
        "cane crushed / hours crushed", DEFINITION, ("account.cane", "account.hours"),
        f"{cane.stem}.weight", "always",
    )  # fmt: skip
    yield Figured("hours", "s", "h", "Hours crushed", crushing, 1e4,
                  "period less the mills' stops", DEFINITION, shown="always")  # fmt: skip
    yield Figured("lost_time", "s", "h", "Lost time",
                  lambda q: q[PERIOD] - crushing(q), 1e4,
                  "the mills' stops, counted once where they overlap", DEFINITION,
                  shown="always")  # fmt: skip
    yield Figured("time_efficiency", "1", "%", "Time efficiency",
                  lambda q: crushing(q) / q[PERIOD], 1.0, "hours crushed / hours of the period",
                  "[DavisAchary], seen", ("account.hours",), shown="also")  # fmt: skip
    # which stops were the mill's own is no quantity of the plant: a period tells this figure itself
    yield Figured("lost_on_available", "1", "%", "Lost time on available time",
                  lambda q: 1.0 - crushing(q) / q[PERIOD], 1.0, "the mills' own stops / (hours "
                  "crushed + own stops); planned stops and want of cane stand outside",
                  "[DavisAchary], seen", ("account.hours",), shown="also")  # fmt: skip
    yield Figured(
        "ccs", "kg/kg", "%", "CCS", lambda q: ccs(r, q), 1.0, first_juice.CCS_IN_WORDS,
        "[WAFarmnote]", (f"{first}.brix", f"{first}.pol", "account.fibre_in_cane"), "", "always",
    )  # fmt: skip
    yield Figured(
        "fibre_in_cane", "kg/kg", "%", "Fibre in cane", lambda q: fibre(r, q), 1.0,
        "(true fibre + insolubles) / cane", "definition of laboratory fibre",
        (f"{cane.stem}.fibre", f"{cane.stem}.insolubles"), f"{cane.stem}.fibre_laboratory",
        "always",
    )  # fmt: skip
    yield Figured(
        "pol_in_cane", "kg/kg", "%", "Pol in cane",
        lambda q: cane.of(q).sucrose / cane.of(q).mass, 1.0, "pol in cane / cane",
        "balance of the whole mill", ("account.pol.cane", "account.cane"), "", "always",
    )  # fmt: skip


def fibre(r: Roles, q: Quantities) -> Quantity:
    """Laboratory fibre in cane [kg/kg]."""
    cane = r.stream("cane", q)
    return cane.solids / cane.mass


def ccs(r: Roles, q: Quantities) -> Quantity:
    """CCS in cane by its first juice [kg/kg]."""
    juice = r.flows("first juice", q)
    return first_juice.ccs(juice["brix"], juice["pol"], fibre(r, q))


def extraction(r: Roles, q: Quantities) -> Quantity:
    """Pol extraction [kg/kg]."""
    return formulas.extraction_by_bagasse(r.stream("final bagasse", q).sucrose,
                                          r.stream("cane", q).sucrose)  # fmt: skip


def milling_figures(r: Roles) -> Iterator[Figured]:
    bagasse, mixed = r.material("final bagasse"), r.material("mixed juice")
    (imbibition,) = r.addresses("water in", "imbibition")
    last_mill = "component balances of the last mill"
    yield Figured(
        "extraction", "kg/kg", "%", "Pol extraction", lambda q: extraction(r, q), 1.0,
        "100 (pol in cane - pol in bagasse) / pol in cane, bagacillo counted in bagasse",
        "[ControlNotes]", ("account.pol.cane", f"{bagasse.stem}.pol", f"{bagasse.stem}.weight"),
        "", "always",
    )  # fmt: skip
    yield Figured(
        "reduced_extraction", "kg/kg", "%", "Reduced extraction",
        lambda q: formulas.reduced_extraction(extraction(r, q), fibre(r, q)), 1.0,
        formulas.REDUCED_IN_WORDS, "[ControlNotes]",
        ("account.extraction", "account.fibre_in_cane"), "", "always",
    )  # fmt: skip
    yield Figured(
        "imbibition_on_fibre", "kg/kg", "%", "Imbibition on fibre",
        lambda q: formulas.imbibition_on_fibre(r.flow("water in", "imbibition", q),
                                               r.stream("cane", q).solids), 1.0,
        "imbibition water / laboratory fibre", DEFINITION,
        (imbibition, "account.fibre_in_cane"), imbibition, "always",
    )  # fmt: skip
    yield Figured(
        "bagasse_pol", "kg/kg", "%", "Bagasse pol",
        lambda q: bagasse.of(q).sucrose / bagasse.of(q).mass, 1.0,
        "pol in final bagasse / final bagasse", last_mill, (f"{bagasse.stem}.weight",),
        f"{bagasse.stem}.pol", "always",
    )  # fmt: skip
    yield Figured(
        "bagasse_moisture", "kg/kg", "%", "Bagasse moisture",
        lambda q: bagasse.of(q).water / bagasse.of(q).mass, 1.0,
        "water in final bagasse / final bagasse", last_mill,
        (f"{bagasse.stem}.fibre", f"{bagasse.stem}.brix"), f"{bagasse.stem}.moisture", "always",
    )  # fmt: skip
    yield Figured(
        "mixed_juice_purity", "kg/kg", "%", "Mixed juice purity",
        lambda q: told_purity(q, mixed.of(q)),
        1.0, "pol / brix of mixed juice", DEFINITION, (f"{mixed.stem}.pol", f"{mixed.stem}.brix"),
        "", "always",
    )  # fmt: skip


def juice_figures(r: Roles) -> Iterator[Figured]:
    cake, clear, liquor = (
        r.material("filter cake"), r.material("clear juice"), r.material("liquor"),
    )  # fmt: skip
    evaporator = "evaporator balances"
    yield Figured(
        "mud_pol", "kg/kg", "%", "Mud pol", lambda q: cake.of(q).sucrose / cake.of(q).mass, 1.0,
        "pol in filter cake / filter cake", "filter balances",
        (f"{cake.stem}.weight", f"{cake.stem}.moisture"), f"{cake.stem}.pol", "also",
    )  # fmt: skip
    yield Figured(
        "clear_juice_purity", "kg/kg", "%", "Clear juice purity",
        lambda q: told_purity(q, clear.of(q)),
        1.0, "pol / brix of clear juice", DEFINITION, (f"{clear.stem}.pol", f"{clear.stem}.brix"),
        "", "always",
    )  # fmt: skip
    yield Figured(
        "clear_juice_brix", "kg/kg", "%", "Clear juice brix",
        lambda q: told_brix(q, clear.of(q)), 1.0,
        "dissolved solids / clear juice", "clarifier balances", (f"{clear.stem}.flow",),
        f"{clear.stem}.brix", "also",
    )  # fmt: skip
    yield Figured(
        "liquor_brix", "kg/kg", "%", "Liquor brix", lambda q: told_brix(q, liquor.of(q)), 1.0,
        "dissolved solids / liquor", evaporator, (f"{liquor.stem}.flow", f"{liquor.stem}.purity"),
        f"{liquor.stem}.brix", "always",
    )  # fmt: skip
    yield Figured(
        "liquor_purity", "kg/kg", "%", "Liquor purity", lambda q: told_purity(q, liquor.of(q)), 1.0,
        "pol / brix of liquor", evaporator, (f"{liquor.stem}.flow", f"{liquor.stem}.brix"),
        f"{liquor.stem}.purity", "also",
    )  # fmt: skip


def pan_figures(r: Roles) -> Iterator[Figured]:
    grades = r.materials("massecuite")
    for letter in dict.fromkeys((*USUAL_GRADES, *grades)):
        stem = grades[letter].stem if letter in grades else ""
        yield Figured(
            f"{letter.lower()}_massecuite_purity", "kg/kg", "%", f"{letter} massecuite purity",
            partial(_true_purity, grades[letter]) if letter in grades else None, 1.0,
            "sucrose / dry substance, crystal included", "pan balances, true basis",
            (f"{stem}.dry_substance", f"{stem}.crystal"), f"{stem}.purity", "always",
        )  # fmt: skip
    final = r.material("final molasses")
    sugars, ash = f"{final.stem}.reducing_sugars", f"{final.stem}.ash"

    def target(q: Quantities) -> Quantity:
        return formulas.target_purity(q[sugars] / q[ash], method=EXPECTED_BY)

    yield Figured(
        "molasses_purity", "kg/kg", "%", "Molasses purity, true", lambda q: final.of(q).purity,
        1.0, "sucrose / dry substance of final molasses", "centrifugal balances, true basis",
        r.named("molasses purity"), f"{final.stem}.purity", "always",
    )  # fmt: skip
    yield Figured(
        "target_purity", "kg/kg", "%", "Expected purity, true", target, 1.0,
        f"{formulas.target_purity_in_words(EXPECTED_BY)}: expected purity of good practice",
        f"[{EXPECTED_BY}] (from memory, unverified against print)", (sugars, ash), "", "always",
    )  # fmt: skip
    yield Figured(
        "purity_difference", "kg/kg", "%", "Molasses purity less expected",
        lambda q: final.of(q).purity - target(q), 1.0, "molasses purity - target purity",
        DEFINITION, ("account.molasses_purity", "account.target_purity"), "", "also",
    )  # fmt: skip


def _true_purity(material: Material, q: Quantities) -> Quantity:
    return material.of(q).true_purity


def sugar_figures(r: Roles) -> Iterator[Figured]:
    sugar, mixed = r.material("sugar"), r.material("mixed juice")
    wet = r.named("pol in wet sugar")[:1]

    def pol(q: Quantities) -> Quantity:
        return sugar.of(q).sucrose / sugar.of(q).mass

    def moisture(q: Quantities) -> Quantity:
        return sugar.of(q).water / sugar.of(q).mass

    yield Figured(
        "sugar", "kg", "t", "Sugar made", lambda q: sugar.of(q).mass * crushing(q), 1e5,
        "sugar weighed + growth of the sugar bins", "mass balance",
        (f"{sugar.stem}.weight", f"{sugar.stem}.pol"), f"{sugar.stem}.weight", "always",
    )  # fmt: skip
    yield Figured(
        "sugar_pol", "kg/kg", "%", "Sugar pol", pol, 1.0, "pol / sugar made", "dryer balances",
        (*wet, f"{sugar.stem}.moisture"), f"{sugar.stem}.pol", "always",
    )  # fmt: skip
    yield Figured(
        "sugar_moisture", "kg/kg", "%", "Sugar moisture", moisture, 1.0, "water / sugar made",
        "dryer balances", (f"{sugar.stem}.flow",), f"{sugar.stem}.moisture", "always",
    )  # fmt: skip
    yield Figured(
        "dilution_indicator", "1", "1", "Dilution indicator",
        lambda q: 100.0 * raw_sugar.dilution_indicator(moisture(q), pol(q)), 10.0,
        "100 moisture / (100 - pol - moisture)", "trade practice",
        ("account.sugar_moisture", "account.sugar_pol"), "", "always",
    )  # fmt: skip
    yield Figured(
        "boiling_house_recovery", "kg/kg", "%", "Boiling house recovery",
        lambda q: formulas.boiling_house_recovery(sugar.of(q).sucrose, mixed.of(q).sucrose), 1.0,
        "100 pol in sugar / pol in mixed juice", "[SASTA-Defs]",
        ("account.pol.sugar", f"{mixed.stem}.flow", f"{mixed.stem}.pol"), "", "always",
    )  # fmt: skip
    yield Figured(
        "overall_recovery", "kg/kg", "%", "Overall recovery",
        lambda q: sugar.of(q).sucrose / r.stream("cane", q).sucrose, 1.0,
        "100 pol in sugar / pol in cane", DEFINITION, ("account.pol.sugar", "account.pol.cane"),
        "", "always",
    )  # fmt: skip


def steam_figures(r: Roles) -> Iterator[Figured]:
    made, cane = r.addresses("steam in"), r.material("cane")
    yield Figured(
        "steam_on_cane", "kg/kg", "%", "HP steam on cane",
        lambda q: r.total("steam in", q) / cane.of(q).mass, 1.0, "HP steam made / cane crushed",
        DEFINITION, (*made, "account.rate"), made[0], "always",
    )  # fmt: skip
    yield Figured(
        "process_steam_on_cane", "kg/kg", "%", "Process steam on cane",
        lambda q: r.total("exhaust demand", q) / cane.of(q).mass, 1.0,
        "exhaust demand / cane crushed", DEFINITION,
        (*r.addresses("exhaust demand"), "account.rate"), "", "always",
    )  # fmt: skip
