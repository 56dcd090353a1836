"""Crystalliser, centrifugals, magma mingler and dryer: from massecuite to sugar and molasses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Report, Var
from ratoon.plant.declared import (
    CONFINED,
    DUST,
    HOT,
    OWN,
    ROTATING,
    Accounted,
    Check,
    Flow,
    Group,
    Lever,
    Material,
    Named,
    Place,
    Range,
    Setting,
    Slider,
    Usual,
)
from ratoon.plant.station import Station
from ratoon.plant.stations.pans import (
    Grade,
    PanStage,
    Pool,
    molasses_of,
    mother_purity,
    read_sweet_water,
    saturated_sucrose,
)
from ratoon.plant.stations.stocks import change, growth
from ratoon.plant.streams import (
    JUICE,
    MASSECUITE,
    Quantities,
    Quantity,
    Stream,
    flow,
    put,
    read,
    stream_variables,
)

COMMON = "common practice, no source"
GROUP: Group = "Crystallisers, centrifugals, dryer"


def _massecuite(letter: str) -> Flow:
    return Flow(f"pan.{letter}.massecuite", f"{letter} massecuite", "massecuite")


@dataclass(frozen=True)
class Crystalliser(Station):
    """Cools the last massecuite; a stiffer one exhausts slower, so its residual rises with it."""

    letter: str = "C"
    temperature: float = 46.0
    supersaturation: float = 1.30
    reference_dry: float = 0.904
    density: float = 0.0  # kg/m3 of the massecuite held; 0 takes the usual one
    stiffness: float = 13.0  # rise of supersaturation for each unit of dry substance, kg/kg
    name: str = "crystalliser"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("crystalliser.massecuite", "cooled massecuite", MASSECUITE)
        yield Var("crystalliser.temperature", "degC", 25.0, 75.0, self.temperature, trade="degC",
                  text="massecuite leaving the crystallisers")  # fmt: skip
        yield Var("crystalliser.supersaturation", "1", 0.7, 2.5, self.supersaturation,
                  kind="assumed", sigma=0.10, trade="1",
                  text="effective supersaturation after cooling", source="own, low confidence",
                  )  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        slider = Slider(GROUP, "Massecuite leaving the crystallisers", 8.0, 0.1)
        yield Setting("crystalliser.temperature", self.temperature, Range(40.0, 55.0), slider)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        pan = read(q, f"pan.{self.letter}.massecuite", MASSECUITE)
        comes = pan - change(q, f"{self.letter}_massecuite", self.density)
        cooled = read(q, "crystalliser.massecuite", MASSECUITE)
        yield Eq("crystalliser: water", comes.water - cooled.water, 1.0, "component balance")
        yield Eq("crystalliser: nonsucrose", comes.nonsucrose - cooled.nonsucrose, 1.0,
                 "component balance")  # fmt: skip
        yield Eq("crystalliser: sucrose", comes.all_sucrose - cooled.all_sucrose, 1.0,
                 "component balance")  # fmt: skip
        over = q["crystalliser.supersaturation"] + self.stiffness * (
            pan.dry_substance - self.reference_dry
        )
        holds = saturated_sucrose(cooled, q["crystalliser.temperature"], over)
        yield Eq("crystalliser: mother liquor", cooled.sucrose - holds, 1.0,
                 "solubility at the outlet; own closure")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        cooled = read(q, "crystalliser.massecuite", MASSECUITE)
        yield Report("crystalliser.nutsch.purity", mother_purity(cooled), "kg/kg", "%",
                     "purity of mother liquor after cooling")  # fmt: skip
        yield Report("crystalliser.massecuite.crystal", cooled.crystal / cooled.mass, "kg/kg", "%",
                     "crystal in cooled massecuite")  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("temperature after cooling", "crystalliser.temperature")

    def usual(self) -> Iterator[Usual]:
        yield Usual("crystalliser.nutsch.purity", 28.0, 55.0)

    def picture(self) -> Iterator[Place]:
        yield Place(
            "curing", "crystalliser", "Crystallisers", ("crystalliser",),
            (("leaving", "crystalliser.temperature"),
             ("mother liquor", "crystalliser.nutsch.purity")),
            comes=(_massecuite(self.letter),), cautions=(ROTATING, CONFINED),
            before=f"centrifugal.{self.letter}",
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        pan = read(s, f"pan.{self.letter}.massecuite", MASSECUITE)
        mother = 0.40
        sucrose = pan.nonsucrose * mother / (1.0 - mother)
        put(s, "crystalliser.massecuite", Stream(pan.water, sucrose, pan.nonsucrose,
            crystal=pan.all_sucrose - sucrose), MASSECUITE)  # fmt: skip


@dataclass(frozen=True)
class Centrifugal(Station):
    """Machines of one grade: sugar with a film of run-off, run-off with a purity rise."""

    grade: Grade
    molasses: str
    cooled: bool  # fed from the crystalliser
    sugar_purity: float
    sugar_moisture: float
    molasses_dry_substance: float
    molasses_dry_on_brix: float
    sugar_purity_sigma: float | None = None
    sugar_moisture_sigma: float = 0.002
    purity_rise: float = 0.02
    page = "centrifugals"

    @property
    def name(self) -> str:
        return f"centrifugal.{self.grade.letter}"

    @property
    def sugar(self) -> str:
        return f"sugar.{self.grade.letter}"

    def table(self) -> Iterator[Var]:
        n, letter = self.name, self.grade.letter
        yield from stream_variables(self.sugar, f"{letter} sugar from the centrifugals")
        yield from stream_variables(self.molasses, self._words)
        yield Var(f"{n}.wash.flow", "kg/s", -20.0, 100.0, 0.6, trade="t/h",
                  text=f"water used in {letter} centrifugals")  # fmt: skip
        yield Var(f"{n}.purity_rise", "1", -0.05, 0.25, self.purity_rise, kind="assumed",
                  sigma=0.01, trade="%", text=f"purity of run-off over mother liquor, {letter}",
                  source=COMMON)  # fmt: skip
        yield Var(f"{self.sugar}.moisture", "kg/kg", 1e-4, 0.12, self.sugar_moisture,
                  kind="assumed", sigma=self.sugar_moisture_sigma, trade="%",
                  text=f"water in {letter} sugar", source=COMMON)  # fmt: skip
        assumed = self.sugar_purity_sigma is not None
        yield Var(f"{self.sugar}.purity", "kg/kg", 0.5, 0.9999, self.sugar_purity,
                  kind="assumed" if assumed else "free", sigma=self.sugar_purity_sigma, trade="%",
                  text=f"purity of {letter} sugar", source=COMMON if assumed else "",
                  )  # fmt: skip

    @property
    def _words(self) -> str:
        if self.molasses == "final_molasses":
            return "final molasses"
        return f"{self.grade.letter} molasses"

    def settings(self) -> Iterator[Setting]:
        final = self.molasses == "final_molasses"
        yield Setting(f"{self.molasses}.dry_substance", self.molasses_dry_substance,
                      Range(74.0, 82.0) if final else Range(68.0, 76.0))  # fmt: skip
        first, found = self.grade.letter == "A", self.sugar_purity_sigma is not None
        if first or not found:
            yield Setting(
                f"{self.sugar}.purity", None if found else self.sugar_purity,
                Range(98.8, 99.7) if self.grade.shipped else Range(0.97, 1.03, OWN),
                Slider(GROUP, f"Purity of {self.grade.letter} sugar", 0.4, 0.01) if first else None,
            )  # fmt: skip

    def feed(self, q: Quantities) -> Stream:
        if self.cooled:
            return read(q, "crystalliser.massecuite", MASSECUITE)
        letter = self.grade.letter
        pan = read(q, f"pan.{letter}.massecuite", MASSECUITE)
        return pan - change(q, f"{letter}_massecuite", self.grade.density)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        feed, letter = self.feed(q), self.grade.letter
        sugar, run_off = read(q, self.sugar), read(q, self.molasses)
        yield Eq(f"{letter} centrifugals: water",
                 feed.water + q[f"{self.name}.wash.flow"] - sugar.water - run_off.water, 1.0,
                 "component balance")  # fmt: skip
        yield Eq(f"{letter} centrifugals: sucrose",
                 feed.all_sucrose - sugar.sucrose - run_off.sucrose, 1.0,
                 "component balance")  # fmt: skip
        yield Eq(f"{letter} centrifugals: nonsucrose",
                 feed.nonsucrose - sugar.nonsucrose - run_off.nonsucrose, 1.0,
                 "component balance")  # fmt: skip
        purity = mother_purity(feed) + q[f"{self.name}.purity_rise"]
        yield Eq(f"{letter} centrifugals: run-off purity",
                 run_off.sucrose - purity * run_off.dissolved, 1.0,
                 "crystal washed through and dissolved, common practice")  # fmt: skip
        yield Eq(f"{letter} centrifugals: sugar purity",
                 sugar.sucrose - q[f"{self.sugar}.purity"] * sugar.dissolved, 1.0,
                 "definition")  # fmt: skip
        yield Eq(f"{letter} centrifugals: sugar moisture",
                 sugar.water - q[f"{self.sugar}.moisture"] * sugar.juice, 0.1,
                 "definition")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        sugar, run_off = read(q, self.sugar), read(q, self.molasses)
        letter, m = self.grade.letter, self.molasses
        yield Report(f"{self.sugar}.flow", sugar.mass, "kg/s", "t/h", f"{letter} sugar, wet")
        yield Report(f"{self.sugar}.pol", sugar.sucrose / sugar.mass, "kg/kg", "%",
                     f"pol in {letter} sugar, wet")  # fmt: skip
        yield Report(f"{m}.flow", run_off.mass, "kg/s", "t/h", self._words)
        yield Report(f"{m}.dry_substance", run_off.brix, "kg/kg", "%",
                     f"true dry substance of {self._words}")  # fmt: skip
        yield Report(f"{m}.brix", run_off.brix / self.molasses_dry_on_brix, "kg/kg", "%",
                     f"refractometer brix of {self._words}, diluted")  # fmt: skip
        yield Report(f"{m}.purity", run_off.purity, "kg/kg", "%", f"true purity, {self._words}")
        if m == "final_molasses":
            yield Report("final_molasses.weight", run_off.mass, "kg/s", "t", "final molasses made")

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("water in", "boiling_house", "", f"{self.name}.wash.flow")
        if self.molasses == "final_molasses":
            yield Accounted("loss", "molasses", "molasses", flow(self.molasses, "sucrose"))
            yield Accounted("water out", "products", "", flow(self.molasses, "water"))

    def materials(self) -> Iterator[Material]:
        if self.molasses == "final_molasses":
            yield Material("final molasses", self.molasses)
        else:
            yield Material("molasses", self.molasses, key=self.grade.letter)

    def named(self) -> Iterator[Named]:
        yield Named("rise of purity", f"{self.name}.purity_rise", self.grade.letter)
        if self.molasses == "final_molasses":
            fed = "crystalliser" if self.cooled else f"pan.{self.grade.letter}"
            yield Named("molasses purity", f"{fed}.nutsch.purity")
            yield Named("molasses purity", f"{self.name}.purity_rise")

    def checks(self) -> Iterator[Check]:
        if self.molasses == "final_molasses":
            yield Check(
                "final_molasses.weight", "Check the molasses weigher; compare with the dip."
            )
            yield Check("final_molasses.purity", "Repeat the molasses analysis.")

    def usual(self) -> Iterator[Usual]:
        final = self.molasses == "final_molasses"
        yield Usual(f"{self.molasses}.brix", *((72.0, 92.0) if final else (60.0, 88.0)))
        yield Usual(f"{self.molasses}.purity", *((28.0, 55.0) if final else (40.0, 85.0)))
        yield Usual(f"{self.sugar}.pol", 93.0, 99.95)

    def levers(self) -> Iterator[Lever]:
        if self.molasses == "final_molasses":
            yield Lever("account.molasses_purity", -1.0, f"{self.name}.purity_rise", 0.002,
                        "less crystal through the last screens")  # fmt: skip

    def picture(self) -> Iterator[Place]:
        letter, wash = self.grade.letter, Flow(f"{self.name}.wash", "wash", "water")
        yield Place(
            "curing", self.name, f"{letter} centrifugals", (self.name, self.sugar, self.molasses),
            ((f"{letter} sugar pol", f"{self.sugar}.pol"),
             ("molasses purity", f"{self.molasses}.purity")),
            comes=(wash,) if self.cooled else (_massecuite(letter), wash),
            goes=(Flow(self.sugar, f"{letter} sugar", "sugar"),
                  Flow(self.molasses, self._words, "molasses")),
            cautions=(ROTATING,),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        feed = self.feed(s)
        low = mother_purity(feed) + self.purity_rise
        made = feed.dry * (feed.true_purity - low) / (self.sugar_purity - low)
        sugar = Stream(
            made * self.sugar_moisture, made * self.sugar_purity, made * (1.0 - self.sugar_purity)
        )
        dry = feed.dry - made
        run_off = Stream(dry * (1.0 / self.molasses_dry_substance - 1.0),
                         feed.all_sucrose - sugar.sucrose, feed.nonsucrose - sugar.nonsucrose,
                         )  # fmt: skip
        put(s, self.sugar, sugar)
        put(s, self.molasses, run_off)
        s[f"{self.name}.wash.flow"] = sugar.water + run_off.water - feed.water
        s[f"{self.sugar}.purity"] = self.sugar_purity


@dataclass(frozen=True)
class MolassesQuality(Station):
    """What the purity that final molasses could reach depends on."""

    name: str = "molasses"

    def table(self) -> Iterator[Var]:
        for part, start, text in (("reducing_sugars", 0.12, "reducing sugars"),
                                  ("ash", 0.13, "sulphated ash")):  # fmt: skip
            yield Var(f"final_molasses.{part}", "kg/kg", 0.01, 0.40, start, kind="assumed",
                      sigma=0.01, trade="%", text=f"{text} in final molasses",
                      source=COMMON)  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("weekly analysis", "final_molasses.reducing_sugars")
        yield Named("weekly analysis", "final_molasses.ash")

    def usual(self) -> Iterator[Usual]:
        yield Usual("final_molasses.reducing_sugars", 4.0, 26.0)
        yield Usual("final_molasses.ash", 6.0, 22.0)


@dataclass(frozen=True)
class Magma(Station):
    """Sugar that is not shipped, mingled with water: footing for the pans, the surplus remelted."""

    pools: tuple[Pool, ...]
    dry_substance: float = 0.885
    dry_on_brix: float = 0.9888
    remelt_dry_substance: float = 0.66
    name: str = "magma"

    @staticmethod
    def _words(pool: Pool) -> str:
        return "magma" if pool.stream == "magma" else f"{pool.letter} magma"

    def table(self) -> Iterator[Var]:
        for pool in self.pools:
            yield from stream_variables(pool.stream, self._words(pool))
        yield Var("remelt.dry_substance", "kg/kg", 0.3, 0.8, self.remelt_dry_substance,
                  kind="assumed", sigma=0.01, trade="%", text="dry substance of remelt",
                  source=COMMON)  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        for pool in self.pools:
            yield Setting(f"{pool.stream}.dry_substance", self.dry_substance, Range(86.0, 91.0))

    def equations(self, q: Quantities) -> Iterator[Eq]:
        for pool in self.pools:
            sugar, magma = read(q, f"sugar.{pool.letter}"), read(q, pool.stream)
            for c in ("sucrose", "nonsucrose"):
                yield Eq(f"{self._words(pool)}: {c}", getattr(sugar, c) - getattr(magma, c), 1.0,
                         "component balance")  # fmt: skip

    def water(self, q: Quantities) -> Quantity:
        """Water to the minglers [kg/s]."""
        return sum(
            (read(q, p.stream).water - read(q, f"sugar.{p.letter}").water for p in self.pools), 0.0
        )

    def reports(self, q: Quantities) -> Iterator[Report]:
        for pool in self.pools:
            n, what, magma = pool.stream, self._words(pool), read(q, pool.stream)
            water = magma.water - read(q, f"sugar.{pool.letter}").water
            yield Report(f"{n}.flow", magma.mass, "kg/s", "t/h", f"{what} made")
            yield Report(f"{n}.dry_substance", magma.brix, "kg/kg", "%", f"dry substance of {what}")
            yield Report(f"{n}.brix", magma.brix / self.dry_on_brix, "kg/kg", "%",
                         f"brix of {what}")  # fmt: skip
            yield Report(f"{n}.purity", magma.purity, "kg/kg", "%", f"purity of {what}")
            yield Report(f"{n}.water", water, "kg/s", "t/h", f"water to the {what} mingler"
                         if n != "magma" else "water to the mingler")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("water in", "boiling_house", "", self.water)

    def materials(self) -> Iterator[Material]:
        for pool in self.pools:
            yield Material("magma", pool.stream, key=pool.letter)

    def usual(self) -> Iterator[Usual]:
        for pool in self.pools:
            yield Usual(f"{pool.stream}.purity", 70.0, 98.0)
            yield Usual(f"{pool.stream}.brix", 80.0, 96.0)

    def picture(self) -> Iterator[Place]:
        yield Place(
            "curing", "magma", "Magma, remelt", ("magma", "remelt"),
            tuple((f"{self._words(p).removesuffix('magma')}purity", f"{p.stream}.purity")
                  for p in self.pools),
            goes=(*(Flow(p.stream, self._words(p), "sugar") for p in self.pools),
                  Flow("remelt", "remelt", "liquor")),
            cautions=(ROTATING, HOT),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        for pool in self.pools:
            sugar = read(s, f"sugar.{pool.letter}")
            put(s, pool.stream, Stream(sugar.dissolved * (1.0 / self.dry_substance - 1.0),
                                       sugar.sucrose, sugar.nonsucrose))  # fmt: skip


@dataclass(frozen=True)
class Dryer(Station):
    """Dries the shipped sugars; the scrubber gives the dust back to the liquor tank."""

    letters: tuple[str, ...]
    moisture: float = 0.0028
    dust: float = 0.0008
    name: str = "dryer"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("sugar", "sugar made")
        yield Var("dryer.dust", "1", 0.0, 0.05, self.dust, kind="assumed", sigma=0.0004, trade="%",
                  text="sugar caught as dust", source=COMMON)  # fmt: skip

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


def centrifugals(
    stage: PanStage, settings: dict[str, dict[str, float]], cooled: str = ""
) -> tuple[Centrifugal, ...]:
    """One set of machines for each grade; crystallisers cool the one named `cooled`."""
    return tuple(
        Centrifugal(g, molasses_of(stage, g.letter), g.letter == cooled, **settings[g.letter])
        for g in stage.grades
    )
