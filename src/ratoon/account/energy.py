"""Coefficient of work, power, steam on fuel and condensate, as reports on the plant's quantities.

They stand beside `indicators` and are made the same way, so each carries an interval.
"""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.account.indicators import ccs, indicators
from ratoon.equations import Report
from ratoon.plant.flowsheet import Works
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities
from ratoon.settings import Settings

FIGURES = (
    "coefficient_of_work", "steam_on_fuel", "power_made", "power_used", "power_sent_out",
    "power_on_cane", "let_down", "bagasse_to_store", "condensate_of_exhaust",
    "condensate_of_vapours",
)  # fmt: skip


def all_figures(works: Works, q: Quantities, settings: Settings) -> Iterator[Report]:
    """The account's figures, those of energy and water among them."""
    yield from indicators(works, q)
    yield _coefficient_of_work(works.roles, q, settings)
    yield from _power(works.roles, q)
    yield from _condensate(works.roles, q)


def _coefficient_of_work(roles: Roles, q: Quantities, settings: Settings) -> Report:
    """Standard sugar made on CCS in cane; the mill file has the standard and its factor."""
    cane, sugar = roles.stream("cane", q), roles.stream("sugar", q)
    standard = settings.sugar.standard_factor * sugar.sucrose / settings.prices.sugar_pol
    return Report("account.coefficient_of_work", standard / (ccs(roles, q) * cane.mass), "kg/kg",
                  "%", "Coefficient of work")  # fmt: skip


def _power(roles: Roles, q: Quantities) -> Iterator[Report]:
    cane, crushing = roles.stream("cane", q).mass, q["hours.crushing"]
    made, sent = roles.total("power made", q), roles.total("power sent out", q)
    for name, power, text in (
        ("made", made, "Power made"),
        ("used", made - sent, "Power used"),
        ("sent_out", sent, "Power sent out"),
    ):
        yield Report(f"account.power_{name}", power * crushing, "J", "MWh", text, 1e12)
    yield Report("account.power_on_cane", (made - sent) / cane, "J/kg", "kWh/t",
                 "Power used on cane", 1e5)  # fmt: skip
    down = roles.flows("steam out", q).get("let_down", 0.0)
    yield Report("account.let_down", down, "kg/s", "t/h", "HP steam let down to exhaust")
    yield Report("account.bagasse_to_store", roles.total("fuel stored", q) * crushing, "kg", "t",
                 "Bagasse to the store, net", 1e6)  # fmt: skip
    yield Report("account.steam_on_fuel", roles.total("steam in", q) / roles.total("fuel burnt", q),
                 "kg/kg", "1", "HP steam on bagasse burnt")  # fmt: skip


def _condensate(roles: Roles, q: Quantities) -> Iterator[Report]:
    """Condensate of exhaust goes to the boilers; that of vapours serves as hot water."""
    crushing = q["hours.crushing"]
    yield Report("account.condensate_of_exhaust", roles.total("exhaust condensed", q) * crushing,
                 "kg", "t", "Condensate of exhaust", 1e6)  # fmt: skip
    yield Report("account.condensate_of_vapours", roles.total("vapour condensed", q) * crushing,
                 "kg", "t", "Condensate of vapours", 1e6)  # fmt: skip
