"""Condensate: what the plant gives back, what the boilers take, how clean it is, what hot water is
left.

Condensed exhaust goes to the boilers. What they still need is made up from vapour condensate, the
cleanest first: that of the second chest. Vapour carries a little sugar over; so the sugar in feed
water follows from the vapour of effect 1 and the share of make-up. Sugar in feed water harms
boilers: follow the site's alarm levels and test before use.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.declared import Usual
from ratoon.plant.station import Downstream, Follows, shared
from ratoon.plant.stations.boiler import Boiler
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.magma import Magma
from ratoon.plant.stations.pans import PanStage
from ratoon.plant.streams import Quantities, Quantity

COMMON = "common practice, no source"
CARRIED, CARRIED_SIGMA = 10e-6, 8e-6  # kg sugar/kg vapour, common practice: sound vessels below 20


@dataclass(frozen=True)
class Condensate(Downstream):
    """Condensates and feed water as one water balance."""

    evaporator: Evaporator
    pans: PanStage
    boiler: Boiler
    magma: Magma | None
    carried: float = CARRIED
    name: str = "condensate"

    def stated(self) -> Iterator[Var]:
        for i in self._sources():
            yield Var(f"effect.{i}.vapour.sugar", "kg/kg", 0.0, 0.05, self.carried, 1e-5, "assumed",
                      f"sugar carried over in the vapour of effect {i}", "ppm", CARRIED_SIGMA,
                      COMMON)  # fmt: skip

    def _sources(self) -> list[int]:
        """Effects whose vapour condenses in the plant: all but the last."""
        e = self.evaporator
        return [i for i in range(1, e.count + 1) if i != e.last]

    def follows(self) -> Iterator[Follows]:
        yield from self._flows()
        yield Follows("condensate.temperature", "degC", "degC", "condensed vapour, all mixed",
                      "mean of the condensates by mass",
                      lambda q: sum((flow * t for flow, t, source in self._parts(q) if source), 0.0)
                      / q["condensate.vapour.flow"])  # fmt: skip
        yield Follows("condensate.heat", "W", "MW",
                      "heat in condensed vapour above cane temperature",
                      "flow times heat capacity of water times rise",
                      lambda q: 4187.0 * q["condensate.vapour.flow"]
                      * (q["condensate.temperature"] - q["cane.temperature"]), 1e7)  # fmt: skip
        for i in range(1, self.evaporator.count + 1):
            if giver := self.evaporator.heating(i):
                yield self._lost(i, giver)
        yield Follows("condensate.sugar", "kg/kg", "ppm", "sugar in condensed vapour, all mixed",
                      "sugar carried over in all vapours but the last, over condensate",
                      self._carried, 1e-6)  # fmt: skip
        yield Follows("feed_water.sugar", "kg/kg", "ppm", "sugar in feed water",
                      "make-up from the second chest, mixed into the feed",
                      lambda q: q[f"effect.{self.evaporator.chain[0]}.vapour.sugar"]
                      * q["feed_water.make_up.flow"]
                      / self.boiler.feed_water(q), 1e-6)  # fmt: skip

    def _flows(self) -> Iterator[Follows]:
        flows: tuple[tuple[str, str, str, Callable[[Quantities], Quantity]], ...] = (
            ("condensate.exhaust", "condensed exhaust, back to the boilers",
             "exhaust to first chest, heaters and pans condenses there",
             lambda q: sum((flow for flow, _, source in self._parts(q) if not source), 0.0)),
            ("condensate.vapour", "condensed vapour, hot water for the plant",
             "vapour to later chests, heaters and pans condenses there",
             lambda q: sum((flow for flow, _, source in self._parts(q) if source), 0.0)),
            ("feed_water.make_up", "vapour condensate taken to make up feed water",
             "feed and spray less condensed exhaust and deaerator steam, mass balance",
             lambda q: self.boiler.feed_water(q) + q["spray.flow"] - q["condensate.exhaust.flow"]
             - q["deaerator.steam.flow"]),
            ("condensate.used", "hot water used in the plant",
             "imbibition, filter wash, lime, pans, centrifugals, magma, remelt", self._used),
            ("condensate.surplus", "hot water left over; negative where cold water must help",
             "vapour condensate less make-up less use, mass balance",
             lambda q: q["condensate.vapour.flow"] - q["feed_water.make_up.flow"]
             - q["condensate.used.flow"]),
        )  # fmt: skip
        for name, text, source, formula in flows:
            yield Follows(f"{name}.flow", "kg/s", "t/h", text, source, formula, 10.0)

    def _lost(self, i: int, giver: int) -> Follows:
        return Follows(
            f"effect.{i}.condensate.sugar.flow", "kg/s", "kg/h",
            f"sugar lost in the condensate of effect {i}",
            f"vapour of effect {giver} to this chest times the sugar it carries",
            lambda q: self.evaporator.net(q, giver) * q[f"effect.{giver}.vapour.sugar"], 1e-4,
        )  # fmt: skip

    @shared
    def _parts(self, q: Quantities) -> tuple[tuple[Quantity, Quantity, int], ...]:
        """Each condensate [kg/s], its temperature, and the effect it came from; 0 for exhaust."""
        return tuple(self._each(q))

    def _each(self, q: Quantities) -> Iterator[tuple[Quantity, Quantity, int]]:
        e = self.evaporator
        for i in range(1, e.count + 1):
            yield e.comes(q, i), q[f"effect.{i}.chest.temperature"], e.heating(i)
        for header, takers in e.bleeds.items():
            for t in takers:
                yield q[t.flow], header.saturated(q) - t.below, header.effect

    def _used(self, q: Quantities) -> Quantity:
        used = q["imbibition.flow"] + q["filter.wash.flow"] + q["lime.water"] * q["lime.used"]
        for g in self.pans.grades:
            used = used + self.pans.movement(q, g) + q[f"centrifugal.{g.letter}.wash.flow"]
        mingled = self.magma.water(q) if self.magma else 0.0
        return used + mingled + self.pans.dissolving(q)

    def _carried(self, q: Quantities) -> Quantity:
        carried = sum(
            (flow * q[f"effect.{source}.vapour.sugar"]
             for flow, _, source in self._parts(q) if source), 0.0
        )  # fmt: skip
        return carried / q["condensate.vapour.flow"]

    def usual(self) -> Iterator[Usual]:
        yield Usual("condensate.sugar", 0.0, 200.0, "ppm")
