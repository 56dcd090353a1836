"""Crystallisers: they cool the last massecuite, which grows more crystal.

A stiffer massecuite exhausts slower, so what stays dissolved rises with its true dry substance. The
effective supersaturation is told for one dry substance, the same for every mill: what a mill takes
its own massecuite for holds the error of its brix, and thirteen times that would go into it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Report, Var
from ratoon.plant.boiled import Step
from ratoon.plant.cautions import CONFINED, ROTATING
from ratoon.plant.declared import Flow, Group, Named, Place, Range, Setting, Slider, Usual
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.stations.pans import (
    mother_purity,
    saturated_sucrose,
)
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import (
    MASSECUITE,
    Quantities,
    Stream,
    put,
    read,
    stream_variables,
)
from ratoon.plant.thick import mother_report

REFERENCE_DRY = 0.904  # kg/kg, for which supersaturation is told

GROUP: Group = "Crystallisers, centrifugals, dryer"


def massecuite_flow(letter: str) -> Flow:
    """A massecuite on a drawing."""
    return Flow(f"pan.{letter}.massecuite", f"{letter} massecuite", "massecuite")


@dataclass(frozen=True)
class Crystalliser(Station):
    """Cools the last massecuite; a stiffer one keeps more dissolved."""

    letter: str = "C"
    temperature: float = 46.0
    supersaturation: float = 1.30
    density: float = 0.0  # kg/m3 of the massecuite held; 0 takes the usual one
    stiffness: float = 13.0  # rise of supersaturation for each unit of dry substance, kg/kg
    name: str = "crystalliser"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("crystalliser.massecuite", "cooled massecuite", MASSECUITE)
        yield usually("crystalliser.temperature", "degC", self.temperature, 4.0, "degC",
                      "massecuite leaving the crystallisers", 5.0, 100.0)  # fmt: skip
        yield assumed("crystalliser.stiffness", "1", self.stiffness, 5.0, "1",
                      "rise of supersaturation for each unit of dry substance", -10.0, 60.0,
                      "own, low confidence")  # fmt: skip
        yield Var("crystalliser.supersaturation", "1", 0.7, 2.5, self.supersaturation,
                  kind="assumed", sigma=0.10, trade="1",
                  text="effective supersaturation after cooling, at "
                  f"{100.0 * REFERENCE_DRY:.1f} % dry substance",
                  source="own, low confidence",
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
        over = q["crystalliser.supersaturation"] + q["crystalliser.stiffness"] * (
            pan.dry_substance - REFERENCE_DRY
        )
        holds = saturated_sucrose(cooled, q["crystalliser.temperature"], over)
        yield Eq("crystalliser: mother liquor", cooled.sucrose - holds, 1.0,
                 "solubility at the outlet; own closure")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        cooled = read(q, "crystalliser.massecuite", MASSECUITE)
        yield Report("crystalliser.nutsch.purity", mother_purity(cooled), "kg/kg", "%",
                     "purity of mother liquor after cooling")  # fmt: skip
        yield mother_report(q, "crystalliser.nutsch", "mother liquor after cooling", cooled,
                            self.letter, "final_molasses.dry_on_brix")  # fmt: skip
        yield Report("crystalliser.massecuite.crystal", cooled.crystal / cooled.mass, "kg/kg", "%",
                     "crystal in cooled massecuite")  # fmt: skip

    def steps(self) -> Iterator[Step]:
        pan, look = f"pan.{self.letter}", ("Temperature leaving, cooling water, hours and "
                                           "stirrers; a nutsch at the outlet")  # fmt: skip
        for what, before in (("crystallisers", f"{pan}.nutsch.purity"),
                             ("pans to crystallisers", f"{pan}.massecuite.purity")):  # fmt: skip
            yield Step(self.letter, what, before, "crystalliser.nutsch.purity",
                       "crystalliser.temperature", 0.5, look)  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("temperature after cooling", "crystalliser.temperature")

    def usual(self) -> Iterator[Usual]:
        yield Usual("crystalliser.nutsch.purity", 28.0, 55.0)

    def picture(self) -> Iterator[Place]:
        yield Place(
            "curing", "crystalliser", "Crystallisers", ("crystalliser",),
            (("leaving", "crystalliser.temperature"),
             ("mother liquor", "crystalliser.nutsch.purity")),
            comes=(massecuite_flow(self.letter),), cautions=(ROTATING, CONFINED),
            before=f"centrifugal.{self.letter}",
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        pan = read(s, f"pan.{self.letter}.massecuite", MASSECUITE)
        mother = 0.40
        sucrose = pan.nonsucrose * mother / (1.0 - mother)
        put(s, "crystalliser.massecuite", Stream(pan.water, sucrose, pan.nonsucrose,
            crystal=pan.all_sucrose - sucrose), MASSECUITE)  # fmt: skip
