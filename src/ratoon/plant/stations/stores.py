"""Stores of bagasse, mud, molasses, sugar and ash: how long they last, how soon they are full.

Flows are means over the crushing hours; a store fills and empties over all hours. What a store
holds is assumed until it is surveyed: from the mill file, or anything up to its room where that
says nothing. The page Works has a place for each store.

A stack of bagasse heats and can catch fire, its dust can explode, and a molasses tank is a
confined space: local codes and the site's permits hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_maximum
from ratoon.equations import Var
from ratoon.plant.cautions import BAGASSE_FIRE, CONFINED
from ratoon.plant.declared import Flow, Named, Place, Surveyed
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.stations.boiler import Boiler
from ratoon.plant.stations.stocks import KNOWN
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read

LEAST = 1e-3  # kg/s: a store that hardly moves is told as one that moves this much


@dataclass(frozen=True)
class Stores(Downstream):
    """What is kept between the plant and the gate [kg]."""

    boiler: Boiler
    bagasse: float  # what the bagasse store can hold
    bagasse_held: float
    mud: float
    mud_held: float | None
    molasses: float
    molasses_held: float
    sugar: float | None
    sugar_held: float | None
    ash: float
    despatched: bool = False  # whether molasses is sent away from a tank that is dipped
    name: str = "stores"

    @property
    def _rooms(self) -> dict[str, tuple[float, float | None]]:
        """What a store can hold, and what it usually does, by what is kept in it."""
        rooms = {"bagasse": (self.bagasse, self.bagasse_held), "mud": (self.mud, self.mud_held),
                 "molasses": (self.molasses, self.molasses_held)}  # fmt: skip
        return rooms | ({"sugar": (self.sugar, self.sugar_held)} if self.sugar else {})

    def stated(self) -> Iterator[Var]:
        for store, (room, held) in self._rooms.items():
            value, sigma = (room / 2.0, room / 12**0.5) if held is None else (held, 0.1 * room)
            yield Var(f"store.{store}.held", "kg", 0.0, 5.0 * room, value, room, "assumed",
                      f"{store} held in store", "t", sigma,
                      "anything up to its room" if held is None else
                      "the mill file; uncertainty a tenth of the room, by custom")  # fmt: skip
        for stream, what in (("cake", "filter cake"), ("sugar", "sugar")):
            if stream == "cake" or self.sugar:
                yield Var(f"{stream}.despatched", "kg/s", 0.0, 1e3, 0.0, kind="constant",
                          trade="t", text=f"{what} sent away")  # fmt: skip

    def follows(self) -> Iterator[Follows]:
        yield Follows("store.bagasse.fill", "1", "%", "bagasse held, of the store's room",
                      "held over room",
                      lambda q: q["store.bagasse.held"] / self.bagasse)  # fmt: skip
        yield Follows("store.bagasse.lasts", "s", "h",
                      "time the boilers could burn from store alone", "held over bagasse burnt",
                      lambda q: q["store.bagasse.held"]
                      / (q["boiler.fuel.flow"] * in_own_hours(q)), 1e5)  # fmt: skip
        yield Follows("store.bagasse.days_to_full", "s", "d",
                      "time until the bagasse store is full; long where nothing goes to it",
                      "room left over bagasse to the store",
                      lambda q: (self.bagasse - q["store.bagasse.held"])
                      / _moving(q["bagasse.store.flow"] * in_own_hours(q)), 1e6,
                      ("bagasse.store.flow", LEAST))  # fmt: skip
        yield Follows("store.mud.fill", "1", "%", "filter cake held, of its bin's room",
                      "held over room", lambda q: q["store.mud.held"] / self.mud)  # fmt: skip
        yield Follows("store.mud.fills", "s", "h", "time in which the mud bin fills",
                      "room over filter cake",
                      lambda q: self.mud / (read(q, "cake", RAW_JUICE).mass
                                            * in_own_hours(q, "evaporator")), 1e4)  # fmt: skip
        yield Follows("store.mud.on_cane", "kg/kg", "kg/t", "dry mud to the fields, on cane",
                      "cake less its water, over cane", _dry_mud, 0.01)  # fmt: skip
        yield Follows("store.molasses.fill", "1", "%", "molasses held, of the tanks' room",
                      "held over room",
                      lambda q: q["store.molasses.held"] / self.molasses)  # fmt: skip
        yield Follows("store.molasses.days_to_full", "s", "d",
                      "time until the molasses tanks are full",
                      "room left over molasses made less sent away",
                      lambda q: (self.molasses - q["store.molasses.held"])
                      / _moving((read(q, "final_molasses").mass
                                 - q.get("final_molasses.despatched", 0.0))
                                * in_own_hours(q)), 1e6)  # fmt: skip
        if room := self.sugar:
            yield Follows("store.sugar.fill", "1", "%", "sugar held, of the shed's room",
                          "held over room", lambda q: q["store.sugar.held"] / room)  # fmt: skip
            yield Follows("store.sugar.days_to_full", "s", "d", "time until the shed is full",
                          "room left over sugar made less sent away",
                          lambda q: (room - q["store.sugar.held"])
                          / _moving((read(q, "sugar").mass - q["sugar.despatched"])
                                    * in_own_hours(q)), 1e6)  # fmt: skip
        yield Follows("store.ash.flow", "kg/s", "t/h", "dry ash to be carried away",
                      "soil and ash of the fibre in bagasse burnt",
                      lambda q: self.boiler.ash(q) * q["boiler.fuel.flow"], 0.1)  # fmt: skip
        yield Follows("store.ash.fills", "s", "h", "time in which the ash bin fills",
                      "room over dry ash",
                      lambda q: self.ash / (q["store.ash.flow"] * in_own_hours(q)),
                      1e4)  # fmt: skip

    def surveyed(self) -> Iterator[Surveyed]:
        stock = KNOWN["final_molasses"]
        dip = stock.called if self.despatched else ""
        for store, comes, goes, level in (
            ("bagasse", "bagasse.store.weight", "", ""), ("mud", "cake.weight", "cake", ""),
            ("molasses", "final_molasses.weight", "final_molasses", dip),
            ("sugar", "sugar.weight", "sugar", ""),
        ):  # fmt: skip
            if store in self._rooms:
                room, away = self._rooms[store][0], (f"{goes}.despatched",) if goes else ()
                yield Surveyed(f"store.{store}.held", (comes,), away, level, stock.density,
                               0.02 * room, room)  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("sent away", "cake.despatched")
        if self.sugar:
            yield Named("sent away", "sugar.despatched")

    def picture(self) -> Iterator[Place]:
        sent = Flow("final_molasses", "sent away", "molasses", "final_molasses.despatched")
        for key, title, figures, comes, goes in (
            ("bagasse", "Bagasse store",
             (("filled", "fill"), ("lasts", "lasts"), ("full in", "days_to_full")),
             Flow("bagasse.store", "bagasse to store", "bagasse"), ()),
            ("mud", "Mud bin",
             (("filled", "fill"), ("fills in", "fills"), ("dry mud on cane", "on_cane")),
             Flow("cake", "cake", "mud"), (Flow("cake", "sent away", "mud", "cake.despatched"),)),
            ("molasses", "Molasses tanks", (("filled", "fill"), ("full in", "days_to_full")),
             Flow("final_molasses", "final molasses", "molasses"),
             (sent,) if self.despatched else ()),
            *((("sugar", "Sugar shed", (("filled", "fill"), ("full in", "days_to_full")),
                Flow("sugar", "sugar", "sugar"),
                (Flow("sugar", "sent away", "sugar", "sugar.despatched"),)),)
              if self.sugar else ()),
            ("ash", "Ash bin", (("fills in", "fills"),), Flow("store.ash", "dry ash", "mud"), ()),
        ):  # fmt: skip
            n = f"store.{key}"
            yield Place("stores", n, title, (n,), tuple((name, f"{n}.{a}") for name, a in figures),
                        comes=(comes,), goes=goes, cautions=(BAGASSE_FIRE, CONFINED))  # fmt: skip


def _dry_mud(q: Quantities) -> Quantity:
    cake = read(q, "cake", RAW_JUICE)
    return (cake.mass - cake.water) / read(q, "cane", RAW_JUICE).mass


def _moving(flow: Quantity) -> Quantity:
    return smooth_maximum(flow, LEAST, LEAST)
