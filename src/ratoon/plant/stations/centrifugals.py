"""Centrifugals: massecuite to sugar with a film of run-off, and run-off; molasses at the last."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Report, Var
from ratoon.plant.boiled import Step
from ratoon.plant.cautions import ROTATING
from ratoon.plant.declared import (
    OWN,
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
from ratoon.plant.station import Station, assumed
from ratoon.plant.stations.crystalliser import GROUP, massecuite_flow
from ratoon.plant.stations.pans import PanStage, mother_purity
from ratoon.plant.stations.scheme import Grade
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import (
    MASSECUITE,
    Quantities,
    Stream,
    flow,
    put,
    read,
    stream_variables,
)
from ratoon.plant.thick import dry_on_brix, thick_reports

COMMON = "common practice, no source"


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
        yield dry_on_brix(self.molasses, self._words, self.molasses_dry_on_brix)
        yield Var(f"{n}.wash.flow", "kg/s", -20.0, 100.0, 0.6, trade="t/h",
                  text=f"water used in {letter} centrifugals")  # fmt: skip
        yield Var(f"{n}.purity_rise", "1", -0.05, 0.25, self.purity_rise, kind="assumed",
                  sigma=0.01, trade="%", text=f"purity of run-off over mother liquor, {letter}",
                  source=COMMON)  # fmt: skip
        yield Var(f"{self.sugar}.moisture", "kg/kg", 1e-4, 0.12, self.sugar_moisture,
                  kind="assumed", sigma=self.sugar_moisture_sigma, trade="%",
                  text=f"water in {letter} sugar", source=COMMON)  # fmt: skip
        stated = self.sugar_purity_sigma is not None
        yield Var(f"{self.sugar}.purity", "kg/kg", 0.5, 0.99999, self.sugar_purity,
                  kind="assumed" if stated else "free",
                  sigma=self.sugar_purity_sigma or 0.3 * (1.0 - self.sugar_purity), trade="%",
                  text=f"purity of {letter} sugar", source=COMMON)  # fmt: skip

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
        yield from thick_reports(q, m, self._words, run_off, letter, f"{m}.dry_on_brix")
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

    def steps(self) -> Iterator[Step]:
        fed = "crystalliser" if self.cooled else f"pan.{self.grade.letter}"
        yield Step(self.grade.letter, "centrifugals", f"{fed}.nutsch.purity",
                   f"{self.molasses}.purity", f"{self.name}.purity_rise", 0.002,
                   "Run-off under a glass for crystal; screens, wash, warmth of the massecuite",
                   )  # fmt: skip

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
            yield Lever(
                "account.molasses_purity", -1.0, f"{self.name}.purity_rise", 0.002,
                "less crystal through the last screens",
                Job("Look at the run-off under a glass for crystal; change torn screens, cut the "
                    "wash and keep the massecuite below saturation",
                    f"{self.grade.letter} centrifugals", "centrifugal operator", ROTATING),
            )  # fmt: skip

    def picture(self) -> Iterator[Place]:
        letter, wash = self.grade.letter, Flow(f"{self.name}.wash", "wash", "water")
        yield Place(
            "curing", self.name, f"{letter} centrifugals", (self.name, self.sugar, self.molasses),
            ((f"{letter} sugar pol", f"{self.sugar}.pol"),
             ("molasses purity", f"{self.molasses}.purity")),
            comes=(wash,) if self.cooled else (massecuite_flow(letter), wash),
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


def centrifugals(
    stage: PanStage, settings: dict[str, dict[str, float]], cooled: str = ""
) -> tuple[Centrifugal, ...]:
    """One set of machines for each grade; crystallisers cool the one named `cooled`."""
    return tuple(
        Centrifugal(g, stage.run_off(g.letter), g.letter == cooled, **settings[g.letter])
        for g in stage.grades
    )


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

        yield assumed("final_molasses.ash_on_conductivity", "1", 1.10, 0.08, "1",
                      "sulphated ash over conductivity ash of final molasses", 0.5, 2.5,
                      "from memory, low confidence; a mill compares its own")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        yield Report("final_molasses.conductivity_ash",
                     q["final_molasses.ash"] / q["final_molasses.ash_on_conductivity"], "kg/kg",
                     "%", "conductivity ash in final molasses")  # fmt: skip

    def named(self) -> Iterator[Named]:
        for analysis in ("reducing_sugars", "ash", "conductivity_ash"):
            yield Named("weekly analysis", f"final_molasses.{analysis}")

    def usual(self) -> Iterator[Usual]:
        yield Usual("final_molasses.reducing_sugars", 4.0, 26.0)
        yield Usual("final_molasses.ash", 6.0, 22.0)
