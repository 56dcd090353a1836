"""Coefficient of work, power, steam on fuel and condensate, as reports on the plant's quantities.

They stand beside `indicators` and are made the same way, so each carries an interval.
"""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.account.indicators import indicators
from ratoon.equations import Report
from ratoon.laboratory import first_juice
from ratoon.plant.flowsheet import Works
from ratoon.plant.streams import RAW_JUICE, Quantities, read
from ratoon.settings import Settings

FIGURES = (
    "coefficient_of_work", "steam_on_fuel", "power_made", "power_used", "power_sent_out",
    "power_on_cane", "let_down", "bagasse_to_store", "condensate_of_exhaust",
    "condensate_of_vapours",
)  # fmt: skip


def all_figures(works: Works, q: Quantities, settings: Settings) -> Iterator[Report]:
    """The account's figures, those of energy and water among them."""
    yield from indicators(works, q)
    yield _coefficient_of_work(q, settings)
    yield from _power(q)
    yield from _condensate(works, q)


def _coefficient_of_work(q: Quantities, settings: Settings) -> Report:
    """Standard sugar made on CCS in cane; the mill file has the standard and its factor."""
    cane, sugar = read(q, "cane", RAW_JUICE), read(q, "sugar")
    fibre = cane.solids / cane.mass
    brix = cane.dissolved / cane.mass / (1.0 - fibre - q["first_juice.brix_allowance"])
    pol = cane.sucrose / cane.mass / (1.0 - fibre - q["first_juice.pol_allowance"])
    ccs = first_juice.ccs(brix, pol, fibre)
    standard = settings.sugar.standard_factor * sugar.sucrose / settings.prices.sugar_pol
    return Report("account.coefficient_of_work", standard / (ccs * cane.mass), "kg/kg", "%",
                  "Coefficient of work")  # fmt: skip


def _power(q: Quantities) -> Iterator[Report]:
    cane, crushing = read(q, "cane", RAW_JUICE).mass, q["hours.crushing"]
    made = q["power.back_pressure"] + q["power.condensing"]
    used = made - q["power.export"]
    for name, power, text in (
        ("made", made, "Power made"),
        ("used", used, "Power used"),
        ("sent_out", q["power.export"], "Power sent out"),
    ):
        yield Report(f"account.power_{name}", power * crushing, "J", "MWh", text, 1e12)
    yield Report("account.power_on_cane", used / cane, "J/kg", "kWh/t", "Power used on cane", 1e5)
    yield Report("account.let_down", q["let_down.flow"], "kg/s", "t/h",
                 "HP steam let down to exhaust")  # fmt: skip
    yield Report("account.bagasse_to_store", q["bagasse.store.flow"] * crushing, "kg", "t",
                 "Bagasse to the store, net", 1e6)  # fmt: skip
    yield Report("account.steam_on_fuel", q["boiler.steam.flow"] / q["boiler.fuel.flow"], "kg/kg",
                 "1", "HP steam on bagasse burnt")  # fmt: skip


def _condensate(works: Works, q: Quantities) -> Iterator[Report]:
    """Condensate of exhaust goes to the boilers; that of vapours serves as hot water.

    The last effect's vapour goes to the condenser; all other vapours end as condensate.
    """
    count = len(works.evaporator.effects)
    users = [a for a in works.steam.users if a.startswith("pan.")]
    exhaust = q["evaporator.steam.flow"] + sum((q[a] for a in users), 0.0)
    vapours = sum((q[f"effect.{n}.vapour.flow"] for n in range(1, count)), 0.0)
    crushing = q["hours.crushing"]
    yield Report("account.condensate_of_exhaust", exhaust * crushing, "kg", "t",
                 "Condensate of exhaust", 1e6)  # fmt: skip
    yield Report("account.condensate_of_vapours", vapours * crushing, "kg", "t",
                 "Condensate of vapours", 1e6)  # fmt: skip
