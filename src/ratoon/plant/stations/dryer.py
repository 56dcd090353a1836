"""Sugar dryer: water dried off the shipped sugars, dust caught in the scrubber."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import DUST, ROTATING
from ratoon.plant.declared import (
    TARGET,
    Accounted,
    Call,
    Check,
    Flow,
    Job,
    Material,
    Named,
    Place,
    Range,
    Setting,
    Slider,
    Usual,
)
from ratoon.plant.station import Station, assumed
from ratoon.plant.stations.crystalliser import GROUP
from ratoon.plant.stations.pans import (
    read_sweet_water,
)
from ratoon.plant.stations.stocks import growth
from ratoon.plant.streams import (
    JUICE,
    Quantities,
    Quantity,
    Stream,
    flow,
    put,
    read,
    stream_variables,
)

COMMON = "common practice, no source"

KEEPS = 50.0
"""Dilution indicator from which sugar does not keep: a safety factor of one third, valid below 99
pol. Source: [SF-DI], print seen."""


@dataclass(frozen=True)
class Dryer(Station):
    """Dries the shipped sugars; the scrubber gives the dust back to the liquor tank."""

    letters: tuple[str, ...]
    moisture: float = 0.0028
    dust: float = 0.0008
    name: str = "dryer"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("sugar", "sugar made")
        yield assumed("dryer.dust", "1", self.dust, 0.0004, "%", "sugar caught as dust", 0.0, 0.05)
        yield assumed("dryer.scrubber.water.flow", "kg/s", 0.4 / 3.6, 0.2 / 3.6, "t/h",
                      "water of the dryer's scrubber to the liquor tank", -1.0, 50.0)  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        yield Setting("sugar.moisture", self.moisture, Range(0.15, 0.5),
                      Slider(GROUP, "Moisture of sugar", 0.15, 0.005))  # fmt: skip

    def wet(self, q: Quantities) -> Stream:
        return sum((read(q, f"sugar.{x}") for x in self.letters), Stream())

    def equations(self, q: Quantities) -> Iterator[Eq]:
        wet, sugar = self.wet(q), read(q, "sugar")
        for c in JUICE[1:]:
            yield Eq(f"dryer: {c}", (1.0 - q["dryer.dust"]) * getattr(wet, c) - getattr(sugar, c),
                     1.0, "component balance")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        sugar = read(q, "sugar")
        yield Report("sugar.flow", sugar.mass, "kg/s", "t/h", "sugar made")
        weighed = sugar.mass - growth(q, "sugar")
        yield Report("sugar.weight", weighed, "kg/s", "t", "sugar weighed to the shed")
        yield Report("sugar.pol", sugar.sucrose / sugar.mass, "kg/kg", "%", "pol of sugar")
        yield Report("sugar.moisture", sugar.water / sugar.mass, "kg/kg", "%", "moisture of sugar")
        yield Report("dryer.evaporation", self.dried(q), "kg/s", "t/h", "water dried off the sugar")

    def dried(self, q: Quantities) -> Quantity:
        """Water dried off the sugar [kg/s]."""
        return self.wet(q).water - read(q, "sugar").water

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("water in", "boiling_house", "", lambda q: read_sweet_water(q).water)
        yield Accounted("water out", "dryer", "Dried off the sugar", self.dried)
        yield Accounted("water out", "products", "In sugar and final molasses",
                        flow("sugar", "water"))  # fmt: skip

    def materials(self) -> Iterator[Material]:
        yield Material("sugar", "sugar")

    def named(self) -> Iterator[Named]:
        for x in self.letters:
            yield Named("pol in wet sugar", f"sugar.{x}.pol")

    def checks(self) -> Iterator[Check]:
        yield Check("sugar.weight", "Check the sugar weigher with test weights.")
        yield Check("sugar.pol", "Repeat the sugar pol.")

    def calls(self) -> Iterator[Call]:
        yield Call(
            "quality", "account.dilution_indicator", "at most", TARGET,
            Job("Dry the sugar further: air hot and dry enough, no ball or wet charge past the "
                "dryer; keep the day's sugar apart for early despatch until its moisture is "
                "repeated", "dryer and shed", "dryer operator", DUST), otherwise=KEEPS,
        )  # fmt: skip
        yield Call(
            "quality", "account.sugar_pol", "at least", TARGET,
            Job("Purge the high-grade sugar longer or wash it evenly: look at the charge, the "
                "screens and the wash nozzles", "high-grade centrifugals", "centrifugal operator",
                ROTATING),
        )  # fmt: skip

    def usual(self) -> Iterator[Usual]:
        yield Usual("sugar.pol", 96.0, 99.95)
        yield Usual("sugar.moisture", 0.02, 1.2)

    def picture(self) -> Iterator[Place]:
        yield Place(
            "curing", "dryer", "Dryer", ("dryer", "sugar"),
            (("pol", "sugar.pol"), ("moisture", "sugar.moisture")),
            goes=(Flow("sugar", "sugar made", "sugar"),), cautions=(DUST, ROTATING),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        wet = self.wet(s).share(1.0 - self.dust)
        put(s, "sugar", Stream(wet.dissolved * self.moisture, wet.sucrose, wet.nonsucrose))
