"""The fibre, water and steam accounts: what came in and where it went, as tonnes of the period.

Sugar has its own account of losses (`indicators.pol_account`). Every term is a report on the
plant's quantities, so each carries the interval of the reconciled day. A last term, the rest, is
what the terms named leave over; it is shown and never spread over the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Report
from ratoon.plant.flowsheet import Works
from ratoon.plant.stations.clarifier import SLURRY_WATER
from ratoon.plant.stations.pans import read_sweet_water
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read


@dataclass(frozen=True, slots=True)
class Term:
    """One line of an account: its address, its words, and whether it comes in or goes out."""

    address: str
    text: str
    way: str


def _terms(account: str, comes: dict[str, str], goes: dict[str, str]) -> tuple[Term, ...]:
    rows = [(n, t, "in") for n, t in comes.items()] + [(n, t, "out") for n, t in goes.items()]
    return tuple(Term(f"account.{account}.{n}", t, way) for n, t, way in rows)


FIBRE = _terms(
    "fibre",
    {"cane": "Fibre in cane"},
    {"bagasse": "Burnt and stored as bagasse", "cake": "In filter cake", "rest": "Rest"},
)
WATER = _terms(
    "water",
    {
        "cane": "Water in cane", "imbibition": "Imbibition", "filter_wash": "Filter wash",
        "lime": "With the lime", "boiling_house": "Pans, wash, magma, remelt",
    },
    {
        "bagasse": "In bagasse", "cake": "In filter cake", "flash": "Flashed off",
        "evaporators": "Evaporated in the effects", "pans": "Evaporated in the pans",
        "dryer": "Dried off the sugar", "products": "In sugar and final molasses",
        "stock": "Into stock", "rest": "Rest: inversion and spills",
    },
)  # fmt: skip
STEAM = _terms(
    "steam",
    {"boilers": "HP steam made"},
    {
        "drives": "Mill drives", "back_pressure": "Back-pressure set",
        "condensing": "Condensing set", "let_down": "Let down to exhaust",
        "rest": "Other HP steam",
    },
)  # fmt: skip
EXHAUST = _terms(
    "exhaust",
    {
        "drives": "From mill drives", "back_pressure": "From the back-pressure set",
        "let_down": "Let down", "spray": "Spray water",
    },
    {
        "evaporators": "To the evaporators", "pans": "To the pans", "deaerator": "To the deaerator",
        "vent": "Blown off", "rest": "Heaters and other exhaust",
    },
)  # fmt: skip
ACCOUNTS = {"fibre": FIBRE, "water": WATER, "steam": STEAM, "exhaust": EXHAUST}


def balances(works: Works, q: Quantities) -> Iterator[Report]:
    """All terms of the fibre, water and steam accounts [kg of the period]."""
    parts = {"fibre": _fibre(works, q), "water": _water(works, q), "steam": _steam(q),
             "exhaust": _exhaust(works, q)}  # fmt: skip
    for name, terms in ACCOUNTS.items():
        flows = parts[name]
        known = [t for t in terms if not t.address.endswith(".rest")]
        sign = {"in": 1.0, "out": -1.0}
        left = sum((sign[t.way] * flows[t.address.rsplit(".", 1)[1]] for t in known), 0.0)
        for term in terms:
            flow = flows.get(term.address.rsplit(".", 1)[1], left)
            yield Report(term.address, flow * q["hours.crushing"], "kg", "t",
                         f"{name.capitalize()}: {term.text.lower()}", 1e5)  # fmt: skip


def _fibre(works: Works, q: Quantities) -> dict[str, Quantity]:
    bagasse = read(q, works.final_bagasse, RAW_JUICE)
    return {
        "cane": read(q, "cane", RAW_JUICE).fibre,
        "bagasse": bagasse.fibre - works.bagacillo(q).fibre,
        "cake": read(q, "cake", RAW_JUICE).fibre,
    }


def _water(works: Works, q: Quantities) -> dict[str, Quantity]:
    bagasse = read(q, works.final_bagasse, RAW_JUICE)
    movement: Quantity = 0.0
    for letter in works.letters:
        made = works.massecuite(q, letter)
        movement = movement + q[f"pan.{letter}.movement_water"] * made.dry
        movement = movement + q[f"centrifugal.{letter}.wash.flow"]
    last = works.letters[-1]
    mingled = read(q, "magma").water - read(q, f"sugar.{last}").water
    dissolving = works.pans.remelt(q).water - works.pans.feed(q, "magma", "remelt").water
    effects = range(1, len(works.evaporator.effects) + 1)
    shipped = read(q, "sugar").water
    wet = sum((q[f"sugar.{x}.flow.water"] for x in works.letters[:-1]), 0.0)
    return {
        "cane": read(q, "cane", RAW_JUICE).water,
        "imbibition": q["imbibition.flow"],
        "filter_wash": q["filter.wash.flow"],
        "lime": SLURRY_WATER * q["lime.used"],
        "boiling_house": movement + mingled + dissolving + read_sweet_water(q).water,
        "bagasse": bagasse.water - works.bagacillo(q).water,
        "cake": read(q, "cake", RAW_JUICE).water,
        "flash": q["flash.vapour.flow"],
        "evaporators": sum((q[f"effect.{n}.vapour.flow"] for n in effects), 0.0),
        "pans": sum((q[f"pan.{x}.evaporation"] for x in works.letters), 0.0),
        "dryer": wet - shipped,
        "products": shipped + read(q, "final_molasses").water,
        "stock": sum((change(q, n).water for n in works.stocks if n not in
                      ("sugar", "final_molasses")), 0.0),
    }  # fmt: skip


def _steam(q: Quantities) -> dict[str, Quantity]:
    return {
        "boilers": q["boiler.steam.flow"],
        "drives": q["drives.steam.flow"],
        "back_pressure": q["back_pressure.steam.flow"],
        "condensing": q["condensing.steam.flow"],
        "let_down": q["let_down.flow"],
    }


def _exhaust(works: Works, q: Quantities) -> dict[str, Quantity]:
    users = [a for a in works.steam.users if a.startswith("pan.")]
    return {
        "drives": q["drives.steam.flow"],
        "back_pressure": q["back_pressure.steam.flow"],
        "let_down": q["let_down.flow"],
        "spray": q["spray.flow"],
        "evaporators": q["evaporator.steam.flow"],
        "pans": sum((q[a] for a in users), 0.0),
        "deaerator": q["deaerator.steam.flow"],
        "vent": q["vent.flow"],
    }
