"""Evaporator vessels: each vessel's share, hydrostatic head, cleanliness, vapour speed, economy.

The balances know one body an effect. Vessels of an effect stand in parallel (each takes its share
of the juice) or in series (the juice goes through one after the other); they share a chest and a
vapour, and the small difference of boiling point between them is left out. Without readings of a
single vessel, vessels are alike for each square metre, with an uncertainty; the brix that leaves
one, or the condensate of its chest, tells them apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_maximum, sqrt
from ratoon.base.validity import unchecked
from ratoon.equations import Var
from ratoon.plant.declared import Limit, Named, Usual
from ratoon.plant.station import Downstream, Follows, shared
from ratoon.plant.stations.evaporator import JUICE_BRIX, Evaporator
from ratoon.plant.streams import Quantities, Quantity, Stream, read
from ratoon.properties.solution import density
from ratoon.properties.water import (
    saturation_pressure,
    saturation_temperature,
    vapour_volume_saturated,
)

COMMON = "common practice, no source"
GRAVITY = 9.80665  # m/s2
ENTRAINMENT = 0.045  # m/s, vertical speed factor of open vapour spaces, 0.03 to 0.06
LEVEL, LEVEL_SIGMA = 0.35, 0.10  # of the tube length, common practice
LEAST_DIFFERENCE = 0.2  # K


@dataclass(frozen=True)
class Body:
    """One effect's vessels: areas [m2], tube length [m], section of the vapour spaces [m2]."""

    areas: tuple[float, ...]
    tube_length: float
    vapour_section: float
    clean_htc: float  # W/m2.K
    series: bool = False

    def part(self, q: Quantities, effect: str, vessel: int, ratio: str) -> Quantity:
        """A vessel's share of its effect, by area and what is assumed of each square metre."""
        each = [1.0, *(q[f"{effect}.vessel.{j}.{ratio}"] for j in range(2, len(self.areas) + 1))]
        weights = [x * area for x, area in zip(each, self.areas, strict=True)]
        return weights[vessel - 1] / sum(weights)


@dataclass(frozen=True)
class Vessels(Downstream):
    """What each vessel of the evaporator does."""

    evaporator: Evaporator
    bodies: tuple[Body, ...]
    name: str = "vessels"

    def stated(self) -> Iterator[Var]:
        yield Var("evaporator.level", "1", 0.0, 1.5, LEVEL, kind="assumed", sigma=LEVEL_SIGMA,
                  trade="%", text="juice level in the tubes, of their length",
                  source=COMMON)  # fmt: skip
        for i, body in enumerate(self.bodies, 1):
            for j in range(2, len(body.areas) + 1):
                n, what = f"effect.{i}.vessel.{j}", f"vessel {j} of effect {i}"
                yield Var(f"{n}.htc_ratio", "1", 0.1, 10.0, 1.0, kind="assumed", sigma=0.10,
                          trade="1", text=f"coefficient of {what} over that of vessel 1",
                          source=COMMON)  # fmt: skip
                if not body.series:
                    yield Var(f"{n}.juice_ratio", "1", 0.1, 10.0, 1.0, kind="assumed", sigma=0.10,
                              trade="1", source=COMMON,
                              text=f"juice on area of {what} over that of vessel 1")  # fmt: skip

    def named(self) -> Iterator[Named]:
        for n, body in enumerate(self.bodies, 1):
            for j in range(1, len(body.areas) + 1) if len(body.areas) > 1 else ():
                yield Named("coefficient of vessel", f"effect.{n}.vessel.{j}.htc", f"{n} {j}")

    def follows(self) -> Iterator[Follows]:
        e = self.evaporator
        for i, body in enumerate(self.bodies, 1):
            yield from self._effect(i, body)
            for j in range(1, len(body.areas) + 1 if len(body.areas) > 1 else 1):
                yield from self._vessel(i, body, j)
        yield Follows("evaporator.evaporation.flow", "kg/s", "t/h",
                      "water evaporated in all effects", "sum of the effects' vapours",
                      lambda q: sum((q[f"effect.{i}.vapour.flow"] for i in range(1, e.count + 1)),
                                    0.0))  # fmt: skip
        yield Follows("evaporator.economy", "1", "1", "water evaporated for each tonne of exhaust",
                      "evaporation over exhaust to the first chest",
                      lambda q: q["evaporator.evaporation.flow"] / self._steam(q),
                      )  # fmt: skip
        area = sum(x.area for x in e.effects)
        yield Follows("evaporator.evaporation_rate", "kg/s.m2", "kg/h.m2",
                      "water evaporated on the whole surface",
                      "[Kern], seen: 15 to 20 kg/h.m2 in a quintuple without bleeds",
                      lambda q: q["evaporator.evaporation.flow"] / area / _own(q),
                      1e-2)  # fmt: skip

    def _steam(self, q: Quantities) -> Quantity:
        """Exhaust to all effects that it heats [kg/s]."""
        e = self.evaporator
        return sum(e.comes(q, i) for i in range(1, e.count + 1) if not e.heating(i))

    def _effect(self, i: int, body: Body) -> Iterator[Follows]:
        n, what, area = f"effect.{i}", f"effect {i}", self.evaporator.effects[i - 1].area
        yield Follows(f"{n}.head_rise", "K", "K", f"rise of boiling point by head, {what}",
                      "saturation at half the level's pressure, common practice",
                      lambda q: self._head_rise(q, n, body))  # fmt: skip
        yield Follows(f"{n}.htc_net_of_head", "W/m2.K", "kW/m2.K",
                      f"coefficient of {what} with the hydrostatic head taken off",
                      "q = U A dT, dT less the mean rise by head",
                      lambda q: q[f"{n}.heat"]
                      / (area * _difference(q, n, q[f"{n}.head_rise"]) * _own(q)))  # fmt: skip
        yield Follows(f"{n}.cleanliness", "1", "%", f"coefficient of {what} over its clean one",
                      "ratio to the mill file's clean coefficient",
                      lambda q: q[f"{n}.htc"] / body.clean_htc)  # fmt: skip
        yield Follows(f"{n}.evaporation_rate", "kg/s.m2", "kg/h.m2",
                      f"water evaporated on the surface of {what}", "vapour over area",
                      lambda q: q[f"{n}.vapour.flow"] / _own(q) / area, 1e-2)  # fmt: skip
        yield Follows(f"{n}.vapour.velocity", "m/s", "m/s", f"vapour rising in {what}",
                      "vapour volume over the section of the vapour space",
                      lambda q: q[f"{n}.vapour.flow"] / _own(q)
                      * self._volume(q, n)
                      / body.vapour_section)  # fmt: skip
        yield Follows(f"{n}.vapour.velocity_limit", "m/s", "m/s",
                      f"speed at which {what} begins to carry over",
                      "u = K (rho liquid / rho vapour - 1)^0.5, K 0.045, common practice",
                      lambda q: ENTRAINMENT * sqrt(
                          self._liquid(q, n) * self._volume(q, n)
                          - 1.0))  # fmt: skip
        yield Follows(f"{n}.condensate.flow", "kg/s", "t/h",
                      f"steam condensed in the chest of {what}",
                      "the vapour that comes leaves as condensate",
                      lambda q: self.evaporator.comes(q, i))  # fmt: skip

    def _vessel(self, i: int, body: Body, j: int) -> Iterator[Follows]:
        n, v, what = f"effect.{i}", f"effect.{i}.vessel.{j}", f"vessel {j} of effect {i}"
        area = body.areas[j - 1]

        def part(q: Quantities, flow: str) -> Quantity:
            return q[f"{n}.{flow}.flow"] * q[f"{v}.heat"] / q[f"{n}.heat"]

        yield Follows(f"{v}.heat", "W", "MW", f"heat given to {what}",
                      "its share of area times coefficient",
                      lambda q: q[f"{n}.heat"] * body.part(q, n, j, "htc_ratio"), 1e7)  # fmt: skip
        yield Follows(f"{v}.htc", "W/m2.K", "kW/m2.K", f"coefficient of {what}",
                      "q = U A dT with the effect's temperatures",
                      lambda q: q[f"{v}.heat"] / (area * _difference(q, n) * _own(q)),
                      )  # fmt: skip
        yield Follows(f"{v}.vapour.flow", "kg/s", "t/h", f"vapour made in {what}",
                      "its share of the effect's vapour, by heat",
                      lambda q: part(q, "vapour"))  # fmt: skip
        yield Follows(f"{v}.brix", "kg/kg", "%", f"brix of juice leaving {what}",
                      "dissolved solids over juice less vapour",
                      lambda q: self._brix(q, i, body, j))  # fmt: skip
        yield Follows(f"{v}.condensate.flow", "kg/s", "t/h",
                      f"steam condensed in the chest of {what}",
                      "its share of the effect's condensate, by heat",
                      lambda q: part(q, "condensate"))  # fmt: skip

    @shared
    def _feed(self, q: Quantities, i: int) -> Stream:
        return self.evaporator.feed_to(q, i)

    @shared
    def _juice(self, q: Quantities, n: str) -> Stream:
        return read(q, f"{n}.juice")

    @shared
    def _liquid(self, q: Quantities, n: str) -> Quantity:
        """Density of the juice that boils in an effect [kg/m3]."""
        return unchecked(density)(self._juice(q, n).brix, q[f"{n}.temperature"])

    @shared
    def _volume(self, q: Quantities, n: str) -> Quantity:
        """Of a kilogram of an effect's vapour [m3/kg]."""
        return vapour_volume_saturated(q[f"{n}.vapour.temperature"])

    def _head_rise(self, q: Quantities, n: str, body: Body) -> Quantity:
        head = 0.5 * self._liquid(q, n) * GRAVITY * q["evaporator.level"] * body.tube_length
        saturated = q[f"{n}.vapour.temperature"]
        return saturation_temperature(saturation_pressure(saturated) + head) - saturated

    def _brix(self, q: Quantities, i: int, body: Body, j: int) -> Quantity:
        """Of the juice leaving vessel `j` of effect `i`."""
        n, feed = f"effect.{i}", self._feed(q, i)
        if body.series:
            gone = sum((q[f"{n}.vessel.{k}.vapour.flow"] for k in range(1, j + 1)), 0.0)
            return feed.dissolved / (feed.juice - gone)
        part = body.part(q, n, j, "juice_ratio")
        return part * feed.dissolved / (part * feed.juice - q[f"{n}.vessel.{j}.vapour.flow"])

    def limits(self) -> Iterator[Limit]:
        for i in range(1, len(self.bodies) + 1):
            n = f"effect.{i}.vapour.velocity"
            yield Limit(n, f"{n}_limit",
                        clears="less vapour made there, more vapour space, a better separator",
                        )  # fmt: skip

    def usual(self) -> Iterator[Usual]:
        for i, body in enumerate(self.bodies, 1):
            for j in range(1, len(body.areas) + 1):
                yield Usual(f"effect.{i}.vessel.{j}.brix", *JUICE_BRIX)


def _own(q: Quantities) -> Quantity:
    """Hours of the evaporator over crushing hours, over which flows are averaged."""
    return q["hours.evaporator"] / q["hours.crushing"]


def _difference(q: Quantities, n: str, head: Quantity = 0.0) -> Quantity:
    """Chest above the boiling juice [K], less the rise by head."""
    left = q[f"{n}.chest.temperature"] - q[f"{n}.temperature"] - head
    return smooth_maximum(left, LEAST_DIFFERENCE, 0.1)
