"""Boilers on bagasse: efficiency from their losses on the gross calorific value."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import BAGASSE_FIRE, CONFINED, DEFER, PRESSURE
from ratoon.plant.declared import (
    BOILER_WATER,
    BOILERS,
    SMALL_FLOW,
    Accounted,
    Call,
    Flow,
    Job,
    Lever,
    Miss,
    Named,
    Place,
    Range,
    Regime,
    Setting,
    Usual,
)
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.stations.filters import Filters
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, Stream, read
from ratoon.properties.bagasse import gross_calorific_value
from ratoon.properties.flue_gas import BAGASSE, WATER_PER_HYDROGEN, DryFuel, FlueGas, flue_gas
from ratoon.properties.water import liquid_enthalpy, saturation_temperature, steam_enthalpy

COMMON = "common practice, no source"
DRY_GAS_HEAT = 1015.0  # J/kg.K, own, mean of flue gas at 200 degC
COMPOSITION = "[Jenkins1998], from memory; +- half its distance from [Hugot], from memory"
FUEL = BAGASSE["Jenkins1998"]

SUGAR_STEPS = {
    "watch": "Test the water again within the hour and look for the vessel that leaks",
    "dump": "Dump this condensate, keep it from the boilers, make up with clean water; test vessel "
    "by vessel until the leak is found, and isolate it",
    "trip": "Keep this water out of the boilers now: dump it, isolate the vessel, feed clean water "
    "only; test feed and boiler water each quarter hour, dose and blow down by the site's "
    "procedure until the pH holds",
    "stop": "Call the licensed person in charge and be ready to stop the boiler by the site's "
    "procedure; dump all condensate, feed clean water only, dose and blow down; no restart until "
    "the water is clean",
}
"""What is done at each step of the ladder of sugar in water that goes to boilers: dump, isolate,
dose, stop; common practice, no source. The site's own procedure comes first."""


@dataclass(frozen=True)
class Boiler(Station):
    """All boilers together, on bagasse."""

    final_bagasse: str  # stream address
    filters: Filters
    pressure: float = 2.5e6
    temperature: float = 350.0
    stack: float = 220.0
    air_ratio: float = 1.50
    unburnt: float = 0.035
    air_temperature: float = 30.0
    ash_of_fibre: float = 0.015
    blowdown: float = 0.02
    feed_temperature: float = 105.0
    name: str = "boiler"

    def table(self) -> Iterator[Var]:
        yield Var("boiler.steam.flow", "kg/s", 0.0, 1e3, 68.0, trade="t/h", text="HP steam made")
        yield Var("boiler.fuel.flow", "kg/s", 0.0, 1e3, 30.0, trade="t/h", text="bagasse burnt")
        yield usually("boiler.stack.temperature", "degC", self.stack, 25.0, "degC",
                      "flue gas at the stack", 60.0, 600.0)  # fmt: skip
        yield usually("boiler.air_ratio", "1", self.air_ratio, 0.25, "1",
                      "air used over air needed", 0.9, 6.0)  # fmt: skip
        for name, unit, value, sigma, trade, text, low, high in (
            ("boiler.unburnt", "1", self.unburnt, 0.010, "%",
             "heat lost unburnt and by radiation, of gross heat", -0.02, 0.4),
            ("boiler.steam.pressure", "Pa", self.pressure, 0.03 * self.pressure, "kPa a",
             "pressure of HP steam", 5e5, 1.2e7),
            ("boiler.steam.temperature", "degC", self.temperature, 8.0, "degC",
             "temperature of HP steam", 150.0, 600.0),
            ("boiler.drum.pressure", "Pa", self.pressure, 0.05 * self.pressure, "kPa a",
             "pressure in the drums, of the water blown down", 5e5, 1.3e7),
            ("boiler.blowdown", "1", self.blowdown, 0.010, "%", "blowdown on steam", 0.0, 0.3),
            ("boiler.feed_water.temperature", "degC", self.feed_temperature, 2.5, "degC",
             "feed water to the boilers, behind the deaerator", 40.0, 200.0),
            ("boiler.air.temperature", "degC", self.air_temperature, 6.0, "degC",
             "air to the boilers", -30.0, 80.0),
            ("bagasse.ash_of_fibre", "kg/kg", self.ash_of_fibre, 0.005, "%",
             "ash of clean fibre", 0.0, 0.1),
            ("bagasse.heat_ratio", "1", 1.0, 0.012, "1",
             "gross heat of bagasse over that of the formula", 0.7, 1.3),
        ):  # fmt: skip
            yield assumed(name, unit, value, sigma, trade, text, low, high)
        for element, value, sigma, low, high in (
            ("carbon", FUEL.carbon, 0.008, 0.40, 0.55),
            ("hydrogen", FUEL.hydrogen, 0.003, 0.04, 0.08),
            ("oxygen", FUEL.oxygen, 0.006, 0.35, 0.50),
        ):
            yield assumed(f"bagasse.{element}", "kg/kg", value, sigma, "%",
                          f"{element} of dry bagasse", low, high, COMPOSITION)  # fmt: skip
        yield Var("bagasse.store.flow", "kg/s", -200.0, 200.0, 8.0, trade="t/h",
                  text="bagasse to the store, net")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        yield Setting("boiler.stack.temperature", self.stack, Range(160.0, 260.0))
        yield Setting("boiler.air_ratio", self.air_ratio, Range(1.25, 1.9))

    def steam_enthalpy(self, q: Quantities) -> Quantity:
        """Of HP steam [J/kg]."""
        return steam_enthalpy(q["boiler.steam.pressure"], q["boiler.steam.temperature"])

    def feed_enthalpy(self, q: Quantities) -> Quantity:
        """Of feed water behind the deaerator [J/kg]."""
        return liquid_enthalpy(q["boiler.feed_water.temperature"])

    def feed_water(self, q: Quantities) -> Quantity:
        """Feed water: steam and what is blown down [kg/s]."""
        return (1.0 + q["boiler.blowdown"]) * q["boiler.steam.flow"]

    def bagasse(self, q: Quantities) -> Stream:
        return read(q, self.final_bagasse, RAW_JUICE)

    def ash(self, q: Quantities) -> Quantity:
        bagasse = self.bagasse(q)
        return (bagasse.insolubles + q["bagasse.ash_of_fibre"] * bagasse.fibre) / bagasse.mass

    def fuel(self, q: Quantities) -> DryFuel:
        """What dry bagasse is made of; its traces of nitrogen and sulphur move nothing."""
        return replace(FUEL, carbon=q["bagasse.carbon"], hydrogen=q["bagasse.hydrogen"],
                       oxygen=q["bagasse.oxygen"])  # fmt: skip

    def burnt(self, q: Quantities) -> FlueGas:
        """Flue gas for each kilogram of dry bagasse."""
        bagasse = self.bagasse(q)
        return flue_gas(q["boiler.air_ratio"], bagasse.water / bagasse.mass, self.fuel(q))

    def losses(self, q: Quantities) -> tuple[Quantity, Quantity]:
        """Heat that dry gas and water vapour carry off, each on gross heat."""
        bagasse, stack = self.bagasse(q), q["boiler.stack.temperature"]
        moisture = bagasse.water / bagasse.mass
        gross = self.gross(q)
        dry_fuel = 1.0 - moisture
        above = stack - q["boiler.air.temperature"]
        dry_gas = self.burnt(q).dry_mass * dry_fuel * DRY_GAS_HEAT * above
        water = moisture + WATER_PER_HYDROGEN * q["bagasse.hydrogen"] * dry_fuel
        vapour = water * 1000.0 * (2442.0 + 1.9 * (stack - 25.0))
        return dry_gas / gross, vapour / gross

    def efficiency(self, q: Quantities) -> Quantity:
        """Heat to steam on gross heat: less dry gas, water vapour, unburnt and radiation."""
        dry_gas, vapour = self.losses(q)
        return 1.0 - dry_gas - vapour - q["boiler.unburnt"]

    def gross(self, q: Quantities) -> Quantity:
        bagasse = self.bagasse(q)
        return q["bagasse.heat_ratio"] * gross_calorific_value(
            bagasse.water / bagasse.mass, self.ash(q), bagasse.dissolved / bagasse.mass
        )

    def equations(self, q: Quantities) -> Iterator[Eq]:
        feed = self.feed_enthalpy(q)
        drum = liquid_enthalpy(saturation_temperature(q["boiler.drum.pressure"]))
        each = self.steam_enthalpy(q) - feed + q["boiler.blowdown"] * (drum - feed)
        heat = q["boiler.fuel.flow"] * self.gross(q) * self.efficiency(q)
        yield Eq("boiler: heat", heat - q["boiler.steam.flow"] * each, 1e7,
                 "heat of steam and blowdown by losses on gross heat, common practice")  # fmt: skip
        fuel = self.bagasse(q).mass - self.filters.bagacillo(q).mass
        yield Eq("bagasse: burnt and stored",
                 fuel - q["boiler.fuel.flow"] - q["bagasse.store.flow"], 1.0,
                 "mass balance")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        yield Report("feed_water.flow", self.feed_water(q), "kg/s", "t/h",
                     "feed water to the boilers")  # fmt: skip
        yield Report("boiler.efficiency", self.efficiency(q), "1", "%",
                     "boiler efficiency on gross heat")  # fmt: skip
        yield Report("bagasse.ash", self.ash(q), "kg/kg", "%", "ash in bagasse")
        yield Report("bagasse.gross_heat", self.gross(q), "J/kg", "kJ/kg", "gross heat of bagasse",
                     1e7)  # fmt: skip
        yield Report("bagasse.store.weight", q["bagasse.store.flow"], "kg/s", "t",
                     "bagasse to the store, net")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("steam in", "boilers", "HP steam made", "boiler.steam.flow")
        yield Accounted("fuel burnt", "bagasse", "", "boiler.fuel.flow")
        yield Accounted("fuel stored", "bagasse", "", "bagasse.store.flow",
                        "bagasse.store.weight")  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("efficiency of the boilers", "boiler.efficiency")
        yield Named("bagasse stored", "bagasse.store.flow")
        yield Named("weekly analysis", "bagasse.ash")

    def regimes(self) -> Iterator[Regime]:
        yield Regime(
            "Bagasse",
            (Miss("bagasse.store.flow", "", "below", SMALL_FLOW,
                  "short: {figure} t/h taken from the store"),),
            "{figure} t/h goes to the store",
        )  # fmt: skip

    def usual(self) -> Iterator[Usual]:
        yield Usual("bagasse.ash", 0.3, 12.0)

    def levers(self) -> Iterator[Lever]:
        yield Lever(
            "boiler.stack.temperature", -10.0, "boiler.stack.temperature", 1.0, "cooler flue gas",
            Job("Blow the soot off the air heater and economiser; close air leaks and doors",
                "boilers", BOILERS, f"{PRESSURE} {DEFER}"),
        )  # fmt: skip

    def calls(self) -> Iterator[Call]:
        for step, what in SUGAR_STEPS.items():
            yield Call("safety", BOILER_WATER, "at least", step,
                       Job(what, "condensate and feed water, boilers", BOILERS,
                           f"{PRESSURE} {DEFER}"))  # fmt: skip

    def picture(self) -> Iterator[Place]:
        yield Place(
            "steam", "boiler", "Boilers",
            ("boiler", "feed_water", "bagasse.net_heat", "condensate"),
            (("efficiency", "boiler.efficiency"), ("flue gas", "boiler.stack.temperature")),
            comes=(Flow("boiler.fuel", "bagasse burnt", "bagasse"),),
            goes=(Flow("bagasse.store", "bagasse to store", "bagasse"),),
            cautions=(PRESSURE, BAGASSE_FIRE, CONFINED),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        s["boiler.fuel.flow"] = 0.75 * self.bagasse(s).mass
        s["bagasse.store.flow"] = 0.20 * self.bagasse(s).mass
        s["boiler.steam.flow"] = 2.27 * s["boiler.fuel.flow"]
