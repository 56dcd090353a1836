"""Rotary vacuum filters: mud with bagacillo and wash water to cake and filtrate.

A share of the solids is kept in the cake, the rest goes round through the filtrate. The liquid
left in the cake has the mean strength of the feed, less what washing takes out. That follows the
water: each part of water for each part of liquid in the cake leaves the same share of its sugar
behind. Washing is told for the usual water, so that filters with more or less of it compare; an
account takes it as assumed, or finds it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import HOT, ROTATING
from ratoon.plant.declared import (
    Accounted,
    Check,
    Flow,
    Job,
    Lever,
    Material,
    Named,
    Place,
    Range,
    Setting,
    Slider,
    Usual,
)
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.streams import (
    RAW_JUICE,
    Quantities,
    Quantity,
    Stream,
    flow,
    put,
    read,
    stream_variables,
    told_brix,
    told_purity,
)

COMMON = "common practice, no source"
DISPLACED = "R = (1 - e)^N, N water on liquid in the cake [ChoudhuryDahlstrom], memory"
WATER = "filter.water_on_liquid"
USUAL_WATER = 2.0  # on liquid in the cake: 150 % wash on cake of 75 % moisture


@dataclass(frozen=True)
class Filters(Station):
    """All mud filters together; bagacillo is taken from the final bagasse."""

    final_bagasse: str  # stream address
    retention: float = 0.85
    washing: float = 0.87
    wash_on_cake: float = 1.5
    cake_moisture: float = 0.75
    bagacillo_on_cane: float = 0.0036
    filtrate_temperature: float = 75.0
    purity_drop: float = 0.02
    area: float = 225.0
    name: str = "filter"

    def table(self) -> Iterator[Var]:
        for name, low, high, start, sigma, trade, text in (
            ("filter.retention", 0.05, 1.0, self.retention, 0.05, "%",
             "mud solids and bagacillo kept in the cake"),
            ("filter.washing", 0.0, 0.999, self.washing, 0.05, "%",
             f"sugar washed out of the cake's liquid by {USUAL_WATER:g} parts of water"),
            ("bagacillo.on_cane", 0.0, 0.03, self.bagacillo_on_cane, 0.001, "kg/t",
             "fibre of bagacillo on cane"),
        ):  # fmt: skip
            yield assumed(name, "1", start, sigma, trade, text, low, high)
        yield assumed("filtrate.purity_drop", "kg/kg", self.purity_drop, 0.008, "%",
                      "purity of filtrate under that of clear juice", -0.05, 0.3,
                      "[Lionnet1984], seen: 1.1 milling, 3.6 diffusion")  # fmt: skip
        yield Var("filter.wash.flow", "kg/s", 0.0, 1e3, 9.3, trade="t/h", text="filter wash water")
        on_liquid = usually(WATER, "kg/kg", USUAL_WATER, 0.7, "1",
                            "wash water on liquid in filter cake", 0.0, 50.0)  # fmt: skip
        yield replace(on_liquid, told_by=("filter.wash.flow", "filter.wash_on_cake"))
        yield assumed("filtrate.temperature", "degC", self.filtrate_temperature, 8.0, "degC",
                      "temperature of filtrate", 0.0, 110.0)  # fmt: skip
        yield from stream_variables("cake", "filter cake", RAW_JUICE)
        yield from stream_variables("filtrate", "filtrate", RAW_JUICE)

    def settings(self) -> Iterator[Setting]:
        yield Setting("filter.wash_on_cake", self.wash_on_cake, Range(60.0, 240.0),
                      Slider("Juice", "Filter wash on cake", 90.0, 1.0))  # fmt: skip
        yield Setting("cake.moisture", self.cake_moisture, Range(68.0, 80.0))

    def bagacillo(self, q: Quantities) -> Stream:
        """Fine bagasse with the composition of final bagasse."""
        bagasse = read(q, self.final_bagasse, RAW_JUICE)
        fibre = q["bagacillo.on_cane"] * read(q, "cane", RAW_JUICE).mass
        return bagasse.share(fibre / bagasse.fibre)

    def feed(self, q: Quantities) -> Stream:
        return read(q, "mud", RAW_JUICE) + self.bagacillo(q)

    def unwashed(self, q: Quantities) -> Quantity:
        """Share of the sugar in the cake's liquid that washing leaves."""
        return (1.0 - q["filter.washing"]) ** (q[WATER] / USUAL_WATER)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        feed = self.feed(q)
        cake, filtrate = read(q, "cake", RAW_JUICE), read(q, "filtrate", RAW_JUICE)
        whole = feed + Stream(water=q["filter.wash.flow"])
        for c in ("water", "sucrose", "fibre"):
            yield Eq(f"filter: {c}", getattr(whole, c) - getattr(cake, c) - getattr(filtrate, c),
                     1.0, "component balance")  # fmt: skip
        rest = (s.nonsucrose + s.insolubles for s in (whole, cake, filtrate))
        comes, kept, back = rest
        yield Eq("filter: non-sucrose and mud solids", comes - kept - back, 1.0,
                 "component balance; mud gives non-sucrose to the filtrate")  # fmt: skip
        purity = read(q, "clear_juice").purity - q["filtrate.purity_drop"]
        yield Eq("filter: purity of filtrate",
                 filtrate.sucrose - purity * filtrate.dissolved, 0.1,
                 "what dissolves out of mud and bagacillo lowers it, common practice",
                 )  # fmt: skip
        for c in ("fibre", "insolubles"):
            solid = getattr(cake, c) + getattr(filtrate, c)
            yield Eq(f"filter: {c} kept", getattr(cake, c) - q["filter.retention"] * solid, 0.1,
                     COMMON)  # fmt: skip
        yield Eq("filter: wash on liquid", q["filter.wash.flow"] - q[WATER] * cake.juice, 1.0,
                 "definition")  # fmt: skip
        left = cake.juice * self.unwashed(q) / feed.juice
        for c in ("sucrose", "nonsucrose"):
            yield Eq(f"filter: {c} left in cake", getattr(cake, c) - left * getattr(feed, c), 0.1,
                     DISPLACED)  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        cake, filtrate = read(q, "cake", RAW_JUICE), read(q, "filtrate", RAW_JUICE)
        cane = read(q, "cane", RAW_JUICE)
        yield Report("cake.weight", cake.mass, "kg/s", "t", "filter cake")
        yield Report("cake.on_cane", cake.mass / cane.mass, "kg/kg", "%", "filter cake on cane")
        yield Report("cake.pol", cake.sucrose / cake.mass, "kg/kg", "%", "pol in filter cake")
        yield Report("cake.moisture", cake.water / cake.mass, "kg/kg", "%", "water in filter cake")
        yield Report("filter.wash_on_cake", q["filter.wash.flow"] / cake.mass, "kg/kg", "%",
                     "wash water on cake")  # fmt: skip
        yield Report("filter.washed", 1.0 - self.unwashed(q), "1", "%",
                     "sugar washed out of the cake's liquid, with the water given")  # fmt: skip
        yield Report("filtrate.flow", filtrate.mass, "kg/s", "t/h", "filtrate")
        yield Report("filtrate.brix", told_brix(q, filtrate), "kg/kg", "%", "brix of filtrate")
        yield Report("filtrate.pol", filtrate.sucrose / filtrate.juice, "kg/kg", "%",
                     "pol in filtrate, solids left out")  # fmt: skip
        yield Report("filtrate.purity", told_purity(q, filtrate), "kg/kg", "%",
                     "purity of filtrate")  # fmt: skip
        yield Report("bagacillo.sucrose", self.bagacillo(q).sucrose, "kg/s", "t/h",
                     "sucrose that bagacillo brings back")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("water in", "filter_wash", "Filter wash", "filter.wash.flow")
        yield Accounted("loss", "mud", "mud", flow("cake", "sucrose"))
        yield Accounted("fibre out", "cake", "In filter cake", flow("cake", "fibre"))
        yield Accounted("water out", "cake", "In filter cake", flow("cake", "water"))
        # Bagacillo comes back through the filters: the loss is bagasse less bagacillo.
        yield Accounted("loss", "bagasse", "", lambda q: -1.0 * self.bagacillo(q).sucrose,
                        "bagacillo.sucrose")  # fmt: skip
        yield Accounted("fibre out", "bagasse", "", lambda q: -1.0 * self.bagacillo(q).fibre)
        yield Accounted("water out", "bagasse", "", lambda q: -1.0 * self.bagacillo(q).water)

    def named(self) -> Iterator[Named]:
        yield Named("noted with the juice", "filter")
        yield Named("wash of filter cake", "filter.wash_on_cake")

    def materials(self) -> Iterator[Material]:
        yield Material("filter cake", "cake", RAW_JUICE)
        yield Material("filtrate", "filtrate", RAW_JUICE)

    def checks(self) -> Iterator[Check]:
        yield Check("cake.weight", "Count the cake trucks again.")
        yield Check("cake.pol", "Repeat the cake pol.")

    def usual(self) -> Iterator[Usual]:
        yield Usual("filtrate.brix", 3.0, 20.0)
        yield Usual("filtrate.pol", 2.0, 18.0)
        yield Usual("cake.pol", 0.1, 6.0)
        yield Usual("cake.moisture", 60.0, 88.0)

    def levers(self) -> Iterator[Lever]:
        yield Lever(
            "account.mud_pol", -1.0, "filter.washing", 0.005, "wash water that reaches all cake",
            Job("Clear the wash sprays and screens of the filters, wash over the whole drum, mud "
                "thick and hot", "mud filters", "clarification operator", HOT,
                presses=("account.liquor_brix",)),
        )  # fmt: skip

    def picture(self) -> Iterator[Place]:
        yield Place(
            "juice", "filters", "Mud filters", ("filter", "cake", "filtrate", "bagacillo"),
            (("cake pol", "cake.pol"), ("cake moisture", "cake.moisture")),
            stream=Flow("mud", "mud", "mud"), comes=(Flow("filter.wash", "wash water", "water"),),
            goes=(Flow("filtrate", "filtrate to limed juice", "juice"),
                  Flow("cake", "cake", "mud")),
            cautions=(ROTATING, HOT),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        mud = read(s, "mud", RAW_JUICE)
        s["bagacillo.on_cane"] = self.bagacillo_on_cane
        fine = self.bagacillo(s)
        feed, keep = mud + fine, self.retention
        solids = keep * feed.solids
        liquid = solids * self.cake_moisture / (1.0 - self.cake_moisture) * 1.07
        strength = (1.0 - self.washing) / feed.juice * liquid
        cake = Stream(
            liquid - strength * feed.dissolved, strength * feed.sucrose,
            strength * feed.nonsucrose, keep * feed.fibre, keep * feed.insolubles,
        )  # fmt: skip
        wash = self.wash_on_cake * cake.mass
        s["filter.wash.flow"], s[WATER] = wash, wash / cake.juice
        put(s, "cake", cake, RAW_JUICE)
        put(s, "filtrate", feed + Stream(water=wash) - cake, RAW_JUICE)
