"""Stores of bagasse, mud, molasses and ash: how long they last and how soon they are full.

Flows are means over the crushing hours; a store fills and empties over all hours. What the stores
of bagasse and molasses hold is assumed from the mill file until it is read. The page Works has a
place for each store.

A stack of bagasse heats and can catch fire, its dust can explode, and a molasses tank is a
confined space: local codes and the site's permits hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_maximum
from ratoon.equations import Var
from ratoon.plant.declared import BAGASSE_FIRE, CONFINED, Flow, Place, Surveyed
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.stations.boiler import Boiler
from ratoon.plant.stations.stocks import KNOWN
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read

LEAST = 1e-3  # kg/s: a store that hardly moves is told as one that moves this much


@dataclass(frozen=True)
class Stores(Downstream):
    """What is kept between the works and the gate [kg]."""

    boiler: Boiler
    bagasse: float  # what the bagasse store can hold
    bagasse_held: float
    mud: float
    molasses: float
    molasses_held: float
    ash: float
    despatched: bool = False  # whether molasses is sent away from a tank that is dipped
    name: str = "stores"

    def stated(self) -> Iterator[Var]:
        for store, held, room in (("bagasse", self.bagasse_held, self.bagasse),
                                  ("molasses", self.molasses_held, self.molasses)):  # fmt: skip
            yield Var(f"store.{store}.held", "kg", 0.0, 5.0 * room, held, room, "assumed",
                      f"{store} held in store", "t", 0.1 * room,
                      "the mill file; uncertainty a tenth of the room, by custom")  # fmt: skip

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
        yield Follows("store.ash.flow", "kg/s", "t/h", "dry ash to be carried away",
                      "soil and ash of the fibre in bagasse burnt",
                      lambda q: self.boiler.ash(q) * q["boiler.fuel.flow"], 0.1)  # fmt: skip
        yield Follows("store.ash.fills", "s", "h", "time in which the ash bin fills",
                      "room over dry ash",
                      lambda q: self.ash / (q["store.ash.flow"] * in_own_hours(q)),
                      1e4)  # fmt: skip

    def surveyed(self) -> Iterator[Surveyed]:
        yield Surveyed("store.bagasse.held", ("bagasse.store.weight",), daily=0.02 * self.bagasse)
        stock = KNOWN["final_molasses"]
        yield Surveyed("store.molasses.held", ("final_molasses.weight",),
                    ("final_molasses.despatched",), stock.called if self.despatched else "",
                    stock.density, 0.02 * self.molasses)  # fmt: skip

    def picture(self) -> Iterator[Place]:
        sent = Flow("final_molasses", "sent away", "molasses", "final_molasses.despatched")
        for key, title, figures, comes, goes in (
            ("bagasse", "Bagasse store",
             (("filled", "fill"), ("lasts", "lasts"), ("full in", "days_to_full")),
             Flow("bagasse.store", "bagasse to store", "bagasse"), ()),
            ("mud", "Mud bin", (("fills in", "fills"), ("dry mud on cane", "on_cane")),
             Flow("cake", "cake", "mud"), ()),
            ("molasses", "Molasses tanks", (("filled", "fill"), ("full in", "days_to_full")),
             Flow("final_molasses", "final molasses", "molasses"),
             (sent,) if self.despatched else ()),
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
