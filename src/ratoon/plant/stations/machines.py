"""Batch and continuous centrifugals: load, gravity factor, wash, crystal kept and lost.

Sugar is crystal with a film of its run-off. What crystal the massecuite held beyond that was
washed away, dissolved or lost through the screen: it raises the purity of the run-off. Batch
machines work by charges; a continuous one spins without pause and breaks and loses more crystal.
Baskets at speed are guarded and interlocked: this advises and never touches them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.plant.boiled import Curing
from ratoon.plant.declared import Limit
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.stations.centrifugals import Centrifugal
from ratoon.plant.streams import Quantities, Quantity, read
from ratoon.properties.centrifuge import gravity_factor

COMMON = "common practice, no source"


@dataclass(frozen=True)
class Machines:
    """Centrifugals of one grade: how many, what each takes [kg/s], basket [m] and speed [1/s].

    `charge` [kg] of a batch machine; 0 for a continuous one.
    """

    count: int
    capacity: float
    diameter: float
    speed: float
    charge: float = 0.0


@dataclass(frozen=True)
class CentrifugalMachines(Downstream):
    """What the machines of one grade do with their massecuite."""

    cure: Centrifugal
    machines: Machines
    page = "machines"

    @property
    def name(self) -> str:
        return f"{self.cure.name}.machines"

    def follows(self) -> Iterator[Follows]:
        n, m = self.cure.name, self.machines
        what = f"{self.cure.grade.letter} centrifugals"
        yield Follows(f"{n}.gravity_factor", "1", "1", f"gravity factor, {what}",
                      "exact: rotation, radius and gravity; written in inches by [Perk1953]",
                      lambda q: gravity_factor(m.diameter, m.speed), 1000.0)  # fmt: skip
        yield Follows(f"{n}.massecuite.flow", "kg/s", "t/h", f"massecuite to the {what}",
                      "what the pans or crystallisers give",
                      lambda q: self.cure.feed(q).mass, 10.0)  # fmt: skip
        yield Follows(f"{n}.load", "1", "%", f"load of the {what}, of what they can take",
                      "massecuite over number times capacity",
                      lambda q: q[f"{n}.massecuite.flow"] * in_own_hours(q)
                      / (m.count * m.capacity))  # fmt: skip
        if m.charge:
            yield Follows(f"{n}.cycle", "s", "min", f"time from charge to charge, {what}",
                          "number times charge over massecuite",
                          lambda q: m.count * m.charge
                          / (q[f"{n}.massecuite.flow"] * in_own_hours(q)),
                          100.0)  # fmt: skip
        yield Follows(f"{n}.wash_on_massecuite", "kg/kg", "%", f"water used on massecuite, {what}",
                      "water over massecuite",
                      lambda q: q[f"{n}.wash.flow"] / q[f"{n}.massecuite.flow"],
                      0.01)  # fmt: skip
        yield Follows(f"{n}.crystal_kept.flow", "kg/s", "t/h",
                      f"crystal in the sugar of the {what}",
                      "sucrose of the sugar less that of its film of run-off", self._kept,
                      1.0)  # fmt: skip
        yield Follows(f"{n}.crystal_lost", "1", "%",
                      f"crystal of the massecuite lost in the {what}",
                      "one less crystal kept over crystal in massecuite",
                      lambda q: 1.0 - q[f"{n}.crystal_kept.flow"] / self.cure.feed(q).crystal,
                      0.1)  # fmt: skip
        yield Follows(f"{n}.sugar_on_massecuite", "kg/kg", "%", f"sugar from massecuite, {what}",
                      "wet sugar over massecuite",
                      lambda q: read(q, self.cure.sugar).mass / self.cure.feed(q).mass,
                      )  # fmt: skip

    def curing(self) -> Iterator[Curing]:
        n, grade = self.cure.name, self.cure.grade.letter
        yield Curing(grade, f"pan.{grade}.massecuite.volume", f"{self.cure.sugar}.purity",
                     f"{self.cure.sugar}.pol", f"{n}.wash_on_massecuite",
                     f"{n}.crystal_lost")  # fmt: skip

    def _kept(self, q: Quantities) -> Quantity:
        sugar, run_off = read(q, self.cure.sugar), read(q, self.cure.molasses)
        film = sugar.nonsucrose * run_off.sucrose / run_off.nonsucrose
        return sugar.sucrose - film

    def limits(self) -> Iterator[Limit]:
        n, m = self.cure.name, self.machines
        yield Limit(f"{n}.load", 1.0, clears="a shorter cycle, another machine")
        yield Limit(f"{n}.massecuite.flow", m.count * m.capacity)
