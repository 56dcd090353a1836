"""Coefficient of work, power, steam on fuel and condensate, as figures of the account."""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.account.figures import formulas
from ratoon.account.figures.figured import Figured
from ratoon.account.figures.indicators import ccs, crushing
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities, Quantity
from ratoon.settings import Settings


def work_figures(r: Roles, settings: Settings) -> Iterator[Figured]:
    """Standard sugar made on CCS in cane; the mill file has the standard and its factor."""

    def coefficient(q: Quantities) -> Quantity:
        sugar = r.stream("sugar", q).sucrose
        standard = settings.sugar.standard_factor * sugar / settings.prices.sugar_pol
        return formulas.coefficient_of_work(standard, ccs(r, q) * r.stream("cane", q).mass)

    yield Figured(
        "coefficient_of_work", "kg/kg", "%", "Coefficient of work", coefficient, 1.0,
        "100 standard sugar / CCS in cane; standard sugar = sugar x pol / standard pol x the mill "
        "file's factor", "[ControlNotes], factor from memory",
        ("account.sugar", "account.sugar_pol", "account.ccs", "account.cane"), "", "also",
    )  # fmt: skip


def power_figures(r: Roles) -> Iterator[Figured]:
    def made(q: Quantities) -> Quantity:
        return r.total("power made", q)

    def sent(q: Quantities) -> Quantity:
        return r.total("power sent out", q)

    sets = r.lines("power made")
    makers = f"{' and '.join(sets.values()) or 'no'} set{'s' if len(sets) > 1 else ''}"
    yield Figured(
        "power_made", "J", "MWh", "Power made", lambda q: made(q) * crushing(q), 1e12,
        f"{makers}, over the whole period", "definition", r.addresses("power made"), "", "also",
    )  # fmt: skip
    yield Figured(
        "power_used", "J", "MWh", "Power used", lambda q: (made(q) - sent(q)) * crushing(q), 1e12,
        "power made - power sent out", "definition",
        ("account.power_made", "account.power_sent_out"), "", "also",
    )  # fmt: skip
    yield Figured(
        "power_sent_out", "J", "MWh", "Power sent out", lambda q: sent(q) * crushing(q), 1e12,
        "power sent out over the whole period", "definition", r.addresses("power sent out"), "",
        "also",
    )  # fmt: skip
    yield Figured(
        "power_made_on_cane", "J/kg", "kWh/t", "Power made on cane",
        lambda q: made(q) / r.stream("cane", q).mass, 1e5, "power made / cane crushed",
        "definition", ("account.power_made", "account.cane"), "", "also",
    )  # fmt: skip
    yield Figured(
        "power_on_cane", "J/kg", "kWh/t", "Power used on cane",
        lambda q: (made(q) - sent(q)) / r.stream("cane", q).mass, 1e5, "power used / cane crushed",
        "definition", ("account.power_used", "account.cane"), "", "also",
    )  # fmt: skip


def steam_and_fuel_figures(r: Roles) -> Iterator[Figured]:
    stored, burnt = r.addresses("fuel stored"), r.addresses("fuel burnt")
    yield Figured(
        "let_down", "kg/s", "t/h", "HP steam let down to exhaust",
        lambda q: r.flows("steam out", q).get("let_down", 0.0), 1.0,
        "exhaust demand - exhaust of turbines - make-up by spray", "balance of the exhaust main",
        (*r.addresses("steam out", "let_down"), *r.addresses("exhaust demand"),
         *r.addresses("power made")[:1]), "", "also",
    )  # fmt: skip
    yield Figured(
        "bagasse_to_store", "kg", "t", "Bagasse to the store, net",
        lambda q: r.total("fuel stored", q) * crushing(q), 1e6,
        "bagasse - bagasse burnt, over the crushing hours", "balance of the bagasse store",
        (*stored, *burnt), "", "also",
    )  # fmt: skip
    yield Figured(
        "steam_on_fuel", "kg/kg", "1", "HP steam on bagasse burnt",
        lambda q: r.total("steam in", q) / r.total("fuel burnt", q), 1.0,
        "HP steam made / bagasse burnt", "definition", (*r.addresses("steam in"), *burnt), "",
        "also",
    )  # fmt: skip


def condensate_figures(r: Roles) -> Iterator[Figured]:
    """Condensate of exhaust goes to the boilers; that of vapours serves as hot water."""
    chests = "mass balance of the chests"
    yield Figured(
        "condensate_of_exhaust", "kg", "t", "Condensate of exhaust",
        lambda q: r.total("exhaust condensed", q) * crushing(q), 1e6,
        f"exhaust condensed in {' and in '.join(r.lines('exhaust condensed').values())}", chests,
        r.addresses("exhaust condensed"), "", "also",
    )  # fmt: skip
    yield Figured(
        "condensate_of_vapours", "kg", "t", "Condensate of vapours",
        lambda q: r.total("vapour condensed", q) * crushing(q), 1e6,
        "vapours of all effects but the last, wherever they condense", chests,
        ("account.water.evaporators",), "", "also",
    )  # fmt: skip
