"""Condensate: what the works give back, what the boilers take, how clean it is, what hot water is
left.

Condensed exhaust goes to the boilers. What they still need is made up from vapour condensate, the
cleanest first: that of the second chest. Vapour carries a little sugar over; so the sugar in feed
water follows from the vapour of effect 1 and the share of make-up. Sugar in feed water harms
boilers: follow the site's alarm levels and test before use.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.heaters import CONDENSATE_BELOW, Heater
from ratoon.plant.stations.pans import PanStage
from ratoon.plant.stations.steam import Boiler
from ratoon.plant.streams import MASSECUITE, Quantities, Quantity, read

COMMON = "common practice, no source"
CARRIED, CARRIED_SIGMA = 10e-6, 8e-6  # kg sugar/kg vapour, common practice: sound vessels below 20


@dataclass(frozen=True)
class Condensate(Downstream):
    """Condensates and feed water as one water balance."""

    evaporator: Evaporator
    heaters: tuple[Heater, ...]
    pans: PanStage
    boiler: Boiler
    carried: float = CARRIED
    lime_water: float = 9.0  # kg/kg CaO, slurry of 10 %
    name: str = "condensate"

    def stated(self) -> Iterator[Var]:
        for i in range(1, self.evaporator.count):
            yield Var(f"effect.{i}.vapour.sugar", "kg/kg", 0.0, 0.05, self.carried, 1e-5, "assumed",
                      f"sugar carried over in the vapour of effect {i}", "ppm", CARRIED_SIGMA,
                      COMMON)  # fmt: skip

    @property
    def rows(self) -> Iterator[Row]:
        for name, text, source in (
            ("condensate.exhaust", "condensed exhaust, back to the boilers",
             "exhaust to first chest, heaters and pans condenses there"),
            ("condensate.vapour", "condensed vapour, hot water for the works",
             "vapour to later chests, heaters and pans condenses there"),
            ("feed_water", "feed water to the boilers", "steam and blowdown, mass balance"),
            ("feed_water.make_up", "vapour condensate taken to make up feed water",
             "feed and spray less condensed exhaust and deaerator steam, mass balance"),
            ("condensate.used", "hot water used in the works",
             "imbibition, filter wash, lime, pans, centrifugals, magma, remelt"),
            ("condensate.surplus", "hot water left over; negative where cold water must help",
             "vapour condensate less make-up less use, mass balance"),
        ):  # fmt: skip
            yield Row(f"{name}.flow", "kg/s", "t/h", text, source, 10.0)
        yield Row("condensate.temperature", "degC", "degC", "condensed vapour, all mixed",
                  "mean of the condensates by mass")  # fmt: skip
        yield Row("condensate.heat", "W", "MW", "heat in condensed vapour above cane temperature",
                  "flow times heat capacity of water times rise", 1e7)  # fmt: skip
        for i in range(2, self.evaporator.count + 1):
            yield Row(f"effect.{i}.condensate.sugar.flow", "kg/s", "kg/h",
                      f"sugar lost in the condensate of effect {i}",
                      f"vapour of effect {i - 1} to this chest times the sugar it carries",
                      1e-4)  # fmt: skip
        yield Row("condensate.sugar", "kg/kg", "ppm", "sugar in condensed vapour, all mixed",
                  "sugar carried over in all vapours but the last, over condensate",
                  1e-6)  # fmt: skip
        yield Row("feed_water.sugar", "kg/kg", "ppm", "sugar in feed water",
                  "make-up from the second chest, mixed into the feed", 1e-6)  # fmt: skip

    def _parts(self, q: Quantities) -> Iterator[tuple[Quantity, Quantity, int]]:
        """Each condensate [kg/s], its temperature, and the effect it came from; 0 for exhaust."""
        e = self.evaporator
        yield q["evaporator.steam.flow"], q["effect.1.chest.temperature"], 0
        for i in range(2, e.count + 1):
            yield e.net(q, i - 1), q[f"effect.{i}.chest.temperature"], i - 1
        for h in self.heaters:
            yield q[f"{h.name}.vapour.flow"], h.vapour_temperature(q) - CONDENSATE_BELOW, h.vapour
        for g in self.pans.grades:
            t = q[f"effect.{g.heating}.vapour.temperature"] if g.heating else q[
                "effect.1.chest.temperature"]  # fmt: skip
            yield q[f"pan.{g.letter}.steam.flow"], t, g.heating

    def values(self, q: Quantities) -> Iterator[Quantity]:
        parts = list(self._parts(q))
        yield sum((flow for flow, _, source in parts if not source), 0.0)
        yield sum((flow for flow, _, source in parts if source), 0.0)
        yield (1.0 + self.boiler.blowdown) * q["boiler.steam.flow"]
        yield (q["feed_water.flow"] + q["spray.flow"] - q["condensate.exhaust.flow"]
               - q["deaerator.steam.flow"])  # fmt: skip
        yield self._used(q)
        yield (q["condensate.vapour.flow"] - q["feed_water.make_up.flow"]
               - q["condensate.used.flow"])  # fmt: skip
        warm = sum((flow * t for flow, t, source in parts if source), 0.0)
        yield warm / q["condensate.vapour.flow"]
        rise = q["condensate.temperature"] - q["cane.temperature"]
        yield 4187.0 * q["condensate.vapour.flow"] * rise
        yield from self._sugar(q, parts)

    def _used(self, q: Quantities) -> Quantity:
        used = q["imbibition.flow"] + q["filter.wash.flow"] + self.lime_water * q["lime.used"]
        for g in self.pans.grades:
            made = read(q, f"pan.{g.letter}.massecuite", MASSECUITE)
            used = used + q[f"pan.{g.letter}.movement_water"] * made.dry
            used = used + q[f"centrifugal.{g.letter}.wash.flow"]
        magma = read(q, "magma")
        used = used + magma.water - read(q, f"sugar.{self.pans.magma_from}").water
        surplus = self.pans.feed(q, "magma", "remelt")
        return used + self.pans.remelt(q).water - surplus.water

    def _sugar(
        self, q: Quantities, parts: list[tuple[Quantity, Quantity, int]]
    ) -> Iterator[Quantity]:
        e = self.evaporator
        for i in range(2, e.count + 1):
            yield e.net(q, i - 1) * q[f"effect.{i - 1}.vapour.sugar"]
        carried = sum(
            (flow * q[f"effect.{source}.vapour.sugar"] for flow, _, source in parts if source), 0.0
        )
        yield carried / q["condensate.vapour.flow"]
        clean = q["effect.1.vapour.sugar"]
        yield clean * q["feed_water.make_up.flow"] / q["feed_water.flow"]
