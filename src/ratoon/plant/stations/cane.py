"""Cane as it is crushed, and the first expressed juice that tells of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ratoon.equations import Eq, Report, Var
from ratoon.plant.declared import OWN, Accounted, Check, Material, Range, Setting, Slider, Usual
from ratoon.plant.laws import from_the_day, on_the_day
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.streams import (
    JUICE_RATIO,
    RAW_JUICE,
    Quantities,
    Quantity,
    Stream,
    flow,
    put,
    read,
    stream_variables,
)

ON_THE_DAY = {"cane.rate": "crushing rate", flow("cane", "fibre"): "fibre in cane",
              flow("cane", "sucrose"): "pol in cane"}  # fmt: skip


@dataclass(frozen=True)
class Cane(Station):
    """Cane by mass fractions; its first juice is tied to it by two quantities.

    Laboratory fibre (washed and dried) holds true fibre and soil. First expressed juice lacks the
    water that fibre holds free of brix, and is purer than the juice of the whole cane. The CCS
    convention has 3 units for the first and 5 for both, at any fibre: 0.20 on 15 % fibre, and
    0.82/0.80 in purity. In a balance both carry an uncertainty of their own.
    """

    rate: float = 130.56  # kg/s
    fibre_laboratory: float = 0.1505
    insolubles: float = 0.0070
    brix: float = 0.1765
    pol: float = 0.1530
    temperature: float = 25.0  # degC
    juice_ratio: tuple[float, float] | None = None  # dry substance over brix of juices, sigma
    name: str = "cane"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("cane", "cane", RAW_JUICE)
        yield Var(
            "cane.insolubles",
            "kg/kg",
            0.0,
            0.15,
            self.insolubles,
            kind="assumed",
            sigma=0.003,
            trade="%",
            text="soil and other insolubles in cane",
            source="common practice, no source",
        )
        yield usually("cane.temperature", "degC", self.temperature, 8.0, "degC",
                      "temperature of cane", -20.0, 70.0)  # fmt: skip
        for name, usual, sigma, text, told, source in (
            ("cane.fibre", self.fibre_laboratory - self.insolubles, 0.015, "true fibre",
             ("cane.fibre_laboratory", "cane.fibre_can"), "10 to 16 % of whole cane as two "
             "standard uncertainties either way [FibreGlossary]"),
            ("cane.brix", self.brix, 0.015, "brix", ("first_juice.brix",),
             "common practice, no source"),
        ):  # fmt: skip
            row = usually(name, "kg/kg", usual, sigma, "%", f"{text} in cane", 0.0, 1.0, source)
            yield replace(row, told_by=told)
        if self.juice_ratio is not None:
            yield assumed(JUICE_RATIO, "1", *self.juice_ratio, "1",
                          "dissolved solids over brix as read, juices and liquor", 0.8, 1.1,
                          "from memory, low confidence; a mill compares its own")  # fmt: skip
        yield assumed("cane.can_fibre_less", "kg/kg", 0.0, 0.003, "%",
                      "fibre in cane, laboratory, less can fibre", -0.03, 0.03)  # fmt: skip
        # the ratio's is that of the pol units whole: nobody says how far both units err together
        for name, unit, start, sigma, trade, text, low, high in (
            ("brix_free", "kg/kg", 0.20, 0.027, "1",
             "water that fibre in cane holds free of brix, of laboratory fibre", 0.0, 0.5),
            ("purity_ratio", "1", 1.025, 0.0064, "1",
             "purity of first juice on that of the juice in cane", 0.95, 1.1),
        ):  # fmt: skip
            yield assumed(f"first_juice.{name}", unit, start, sigma, trade, text, low, high)
        for address, text in ON_THE_DAY.items():
            yield on_the_day(address, "kg/s", "t/h", text)

    def settings(self) -> Iterator[Setting]:
        for address in ON_THE_DAY:
            yield from_the_day(address)
        yield Setting("cane.rate", self.rate, Range(0.75, 1.25, OWN),
                      Slider("Cane", "Crushing rate", 0.25, 1.0, relative=True))  # fmt: skip
        yield Setting("cane.fibre_laboratory", self.fibre_laboratory, Range(12.5, 17.5),
                      Slider("Cane", "Fibre in cane", 2.5, 0.05))  # fmt: skip
        yield Setting("cane.pol", self.pol, Range(0.83, 0.895, "cane.brix"),
                      Slider("Cane", "Pol in cane", 2.0, 0.05))  # fmt: skip
        yield Setting("cane.brix", self.brix, Range(16.0, 19.2),
                      Slider("Cane", "Brix in cane", 2.0, 0.05))  # fmt: skip
        yield Setting("cane.temperature", self.temperature, Range(15.0, 35.0))

    def equations(self, q: Quantities) -> Iterator[Eq]:
        cane = read(q, "cane", RAW_JUICE)
        yield Eq(
            "cane: insolubles",
            cane.insolubles - q["cane.insolubles"] * cane.mass,
            1.0,
            "definition, mass fraction of cane",
        )
        for name, part in (("cane.fibre", cane.fibre), ("cane.brix", cane.dissolved)):
            yield Eq(f"{name} of cane", part - q[name] * cane.mass, 1.0, "definition")

    def reports(self, q: Quantities) -> Iterator[Report]:
        cane = read(q, "cane", RAW_JUICE)
        fibre, pol = cane.solids / cane.mass, cane.sucrose / cane.mass
        yield Report("cane.weight", cane.mass, "kg/s", "t", "cane crushed")
        yield Report("cane.rate", cane.mass, "kg/s", "t/h", "crushing rate")
        yield Report("cane.fibre_laboratory", fibre, "kg/kg", "%", "fibre in cane, laboratory")
        yield Report("cane.fibre_can", fibre - q["cane.can_fibre_less"], "kg/kg", "%",
                     "can fibre in cane")  # fmt: skip
        yield Report("cane.pol", pol, "kg/kg", "%", "pol in cane")
        yield Report("cane.purity", cane.purity, "kg/kg", "%", "purity of juice in cane")
        yield Report("first_juice.brix", self.first_juice_brix(q), "kg/kg", "%",
                     "brix of first expressed juice")  # fmt: skip
        yield Report("first_juice.pol", self.first_juice_pol(q), "kg/kg", "%",
                     "pol in first expressed juice")  # fmt: skip

    def first_juice_brix(self, q: Quantities) -> Quantity:
        """Brix of first expressed juice [kg/kg]."""
        cane = read(q, "cane", RAW_JUICE)
        brix = cane.dissolved / self.free_juice(q, cane)
        return brix / q[JUICE_RATIO] if JUICE_RATIO in q else brix

    def first_juice_pol(self, q: Quantities) -> Quantity:
        """Pol in first expressed juice [kg/kg]."""
        cane = read(q, "cane", RAW_JUICE)
        return q["first_juice.purity_ratio"] * cane.sucrose / self.free_juice(q, cane)

    def free_juice(self, q: Quantities, cane: Stream) -> Quantity:
        """Juice in cane less the water that fibre holds free of brix [kg/s]."""
        return cane.juice - q["first_juice.brix_free"] * cane.solids

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("fibre in", "cane", "Fibre in cane", flow("cane", "fibre"))
        yield Accounted("water in", "cane", "Water in cane", flow("cane", "water"))
        yield Accounted("first juice", "brix", "", self.first_juice_brix)
        yield Accounted("first juice", "pol", "", self.first_juice_pol)

    def materials(self) -> Iterator[Material]:
        yield Material("cane", "cane", RAW_JUICE)
        yield Material("first juice", "first_juice")

    def checks(self) -> Iterator[Check]:
        yield Check("cane.weight", "Check the weighbridge zero and the stored tares.",
                    "weighbridge clerk")  # fmt: skip
        yield Check("cane.fibre_laboratory", "Repeat the fibre analysis on the kept sample.")
        yield Check("first_juice.brix", "Check the refractometer with water and a standard.")
        yield Check("first_juice.pol", "Check the polarimeter with the quartz plate.")

    def usual(self) -> Iterator[Usual]:
        yield Usual("first_juice.brix", 12.0, 27.0)
        yield Usual("first_juice.pol", 8.0, 25.0)
        yield Usual("cane.fibre_laboratory", 9.0, 22.0)
        yield Usual("cane.fibre_can", 9.0, 22.0)

    def start(self, s: dict[str, float]) -> None:
        rate = self.rate
        cane = Stream(
            water=rate * (1.0 - self.fibre_laboratory - self.brix),
            sucrose=rate * self.pol,
            nonsucrose=rate * (self.brix - self.pol),
            fibre=rate * (self.fibre_laboratory - self.insolubles),
            insolubles=rate * self.insolubles,
        )
        put(s, "cane", cane, RAW_JUICE)
        s["cane.fibre"], s["cane.brix"] = cane.fibre / cane.mass, self.brix
