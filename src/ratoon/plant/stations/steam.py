"""Boiler, turbines, exhaust main and feed water as one steam balance.

The boiler's efficiency comes from its losses on the gross calorific value. The exhaust main is
desuperheated: drives, back-pressure set and let-down give steam, spray water fills it up to its
temperature. Let-down and vent are a complementary pair in a simulation; in an account the vent
is taken as shut, and what it blew stands with the other exhaust.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_minimum
from ratoon.equations import Eq, Report, Var
from ratoon.plant.declared import Accounted
from ratoon.plant.station import Station
from ratoon.plant.stations.filters import Filters
from ratoon.plant.stations.mills import Tandem
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, Stream, read
from ratoon.properties.bagasse import gross_calorific_value
from ratoon.properties.flue_gas import BAGASSE, flue_gas
from ratoon.properties.water import liquid_enthalpy, steam_enthalpy

COMMON = "common practice, no source"
MEMORY = "from memory, not verified against print; a default to be replaced"
DRY_GAS_HEAT = 1015.0  # J/kg.K, own, mean of flue gas at 200 degC
T_PER_H = 1.0 / 3.6


@dataclass(frozen=True)
class Boiler(Station):
    """All boilers together, on bagasse."""

    tandem: Tandem
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
        yield Var("boiler.stack.temperature", "degC", 100.0, 400.0, self.stack, trade="degC",
                  text="flue gas at the stack")  # fmt: skip
        yield Var("boiler.air_ratio", "1", 1.0, 4.0, self.air_ratio, trade="1",
                  text="air used over air needed")  # fmt: skip
        yield Var("boiler.unburnt", "1", 0.0, 0.3, self.unburnt, kind="assumed", sigma=0.010,
                  trade="%", text="heat lost unburnt and by radiation, of gross heat",
                  source=COMMON)  # fmt: skip
        yield Var("bagasse.store.flow", "kg/s", -200.0, 200.0, 8.0, trade="t/h",
                  text="bagasse to the store, net")  # fmt: skip

    @property
    def set_values(self) -> dict[str, float]:
        return {"boiler.stack.temperature": self.stack, "boiler.air_ratio": self.air_ratio}

    def steam_enthalpy(self) -> float:
        return float(steam_enthalpy(self.pressure, self.temperature))

    def bagasse(self, q: Quantities) -> Stream:
        return read(q, f"mill.{self.tandem.count}.bagasse", RAW_JUICE)

    def ash(self, q: Quantities) -> Quantity:
        bagasse = self.bagasse(q)
        return (bagasse.insolubles + self.ash_of_fibre * bagasse.fibre) / bagasse.mass

    def efficiency(self, q: Quantities) -> Quantity:
        """Heat to steam on gross heat: less dry gas, water vapour, unburnt and radiation."""
        bagasse, stack = self.bagasse(q), q["boiler.stack.temperature"]
        moisture = bagasse.water / bagasse.mass
        gross = self.gross(q)
        gas = flue_gas(q["boiler.air_ratio"], moisture)
        dry_fuel = 1.0 - moisture
        dry_gas = gas.dry_mass * dry_fuel * DRY_GAS_HEAT * (stack - self.air_temperature)
        water = moisture + 8.937 * BAGASSE["Jenkins1998"].hydrogen * dry_fuel
        vapour = water * 1000.0 * (2442.0 + 1.9 * (stack - 25.0))
        return 1.0 - (dry_gas + vapour) / gross - q["boiler.unburnt"]

    def gross(self, q: Quantities) -> Quantity:
        bagasse = self.bagasse(q)
        return gross_calorific_value(
            bagasse.water / bagasse.mass, self.ash(q), bagasse.dissolved / bagasse.mass
        )

    def equations(self, q: Quantities) -> Iterator[Eq]:
        feed = liquid_enthalpy(self.feed_temperature)
        drum = 962.0e3  # J/kg, saturated water at 2.5 MPa, steam tables
        each = self.steam_enthalpy() - feed + self.blowdown * (drum - feed)
        heat = q["boiler.fuel.flow"] * self.gross(q) * self.efficiency(q)
        yield Eq("boiler: heat", heat - q["boiler.steam.flow"] * each, 1e7,
                 "heat of steam and blowdown by losses on gross heat, common practice")  # fmt: skip
        fuel = self.bagasse(q).mass - self.filters.bagacillo(q).mass
        yield Eq("bagasse: burnt and stored",
                 fuel - q["boiler.fuel.flow"] - q["bagasse.store.flow"], 1.0,
                 "mass balance")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
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
        yield Accounted("fuel stored", "bagasse", "", "bagasse.store.flow")

    def start(self, s: dict[str, float]) -> None:
        s["boiler.fuel.flow"] = 0.75 * self.bagasse(s).mass
        s["bagasse.store.flow"] = 0.20 * self.bagasse(s).mass
        s["boiler.steam.flow"] = 2.27 * s["boiler.fuel.flow"]


@dataclass(frozen=True)
class SteamMain(Station):
    """Drives, alternators, let-down, exhaust main, deaerator and own power."""

    tandem: Tandem
    boiler: Boiler
    users: tuple[str, ...]  # addresses of exhaust flows to the process
    exhaust_pressure: float = 208e3
    exhaust_temperature: float = 132.0
    drop_to_exhaust: float = 523e3
    drop_to_vacuum: float = 960e3
    drive_efficiency: float = 0.56
    back_pressure_efficiency: float = 0.74
    condensing_efficiency: float = 0.78
    back_pressure_power: float = 8.5e6
    condensing_power: float = 12.0e6
    own_power: float = 2.5e6
    own_power_on_cane: float = 14.5 * 3600.0  # J/kg
    other_exhaust: float = 5.0 * T_PER_H
    other_high_pressure: float = 2.0 * T_PER_H
    feed_water: float = 95.0
    name: str = "steam"

    def table(self) -> Iterator[Var]:
        yield Var("exhaust.pressure", "Pa", 110e3, 500e3, self.exhaust_pressure, 1e5,
                  trade="kPa a", text="pressure of the exhaust main")  # fmt: skip
        yield Var("exhaust.temperature", "degC", 100.0, 250.0, self.exhaust_temperature,
                  trade="degC", text="temperature of the exhaust main")  # fmt: skip
        for name, start, text in (
            ("drives.steam.flow", 26.0, "HP steam to the mill drives"),
            ("back_pressure.steam.flow", 23.0, "HP steam to the back-pressure set"),
            ("condensing.steam.flow", 16.7, "HP steam to the condensing set"),
            ("let_down.flow", 1.7, "HP steam let down to exhaust"),
            ("vent.flow", 0.01, "exhaust blown off"),
            ("spray.flow", 1.5, "spray water to the exhaust main"),
            ("deaerator.steam.flow", 1.3, "exhaust to the deaerator"),
        ):  # fmt: skip
            low = -20.0 if name in ("let_down.flow", "spray.flow") else 0.0
            low = -0.1 if name == "vent.flow" else low  # shut, not at a limit
            yield Var(name, "kg/s", low, 1e3, start, trade="t/h", text=text)
        for name, start, text in (
            ("power.back_pressure", self.back_pressure_power, "back-pressure set"),
            ("power.condensing", self.condensing_power, "condensing set"),
            ("power.export", 11.2e6, "power sent out"),
        ):  # fmt: skip
            yield Var(name, "W", -5e7, 2e8, start, 1e6, trade="MW", text=text)
        for name, unit, high, start, sigma, trade, text, source in (
            ("drives.efficiency", "1", 0.95, self.drive_efficiency, 0.04, "%",
             "efficiency of the mill turbines", MEMORY),
            ("back_pressure.efficiency", "1", 0.95, self.back_pressure_efficiency, 0.03, "%",
             "efficiency of the back-pressure turbine", MEMORY),
            ("condensing.efficiency", "1", 0.95, self.condensing_efficiency, 0.03, "%",
             "efficiency of the condensing turbine", MEMORY),
            ("own_power.fixed", "W", 1e8, self.own_power, 0.8e6, "MW",
             "own power that does not follow the cane", COMMON),
            ("own_power.on_cane", "J/kg", 5e5, self.own_power_on_cane, 3600.0, "kWh/t",
             "own power for each tonne of cane", COMMON),
            ("exhaust.other.flow", "kg/s", 1e2, self.other_exhaust, 2.5 * T_PER_H, "t/h",
             "other exhaust", COMMON),
        ):  # fmt: skip
            yield Var(name, unit, -high if unit == "kg/s" else 1e-3, high, start,
                      max(abs(start), 1.0), kind="assumed", sigma=sigma, trade=trade, text=text,
                      source=source)  # fmt: skip
        yield Var("feed_water.temperature", "degC", 20.0, 104.9, self.feed_water, trade="degC",
                  text="feed water before the deaerator")  # fmt: skip

    @property
    def set_values(self) -> dict[str, float]:
        return {
            "exhaust.pressure": self.exhaust_pressure,
            "exhaust.temperature": self.exhaust_temperature,
            "power.back_pressure": self.back_pressure_power,
            "power.condensing": self.condensing_power,
            "feed_water.temperature": self.feed_water,
        }

    def leaving_condensing_set(self, q: Quantities) -> Quantity:
        """Enthalpy of steam that leaves the condensing turbine [J/kg]."""
        return self.boiler.steam_enthalpy() - q["condensing.efficiency"] * self.drop_to_vacuum

    def all_hours(self, q: Quantities) -> Quantity:
        """What runs the whole period, spread over the crushing hours."""
        return q["hours.period"] / q["hours.crushing"]

    def demand(self, q: Quantities) -> Quantity:
        """Exhaust that the works take [kg/s]."""
        process = sum((q[a] for a in self.users), 0.0)
        other = q["exhaust.other.flow"] * self.all_hours(q)
        return process + q["deaerator.steam.flow"] + other

    def equations(self, q: Quantities) -> Iterator[Eq]:
        drive = q["drives.efficiency"] * self.drop_to_exhaust
        set_drop = q["back_pressure.efficiency"] * self.drop_to_exhaust
        vacuum = q["condensing.efficiency"] * self.drop_to_vacuum
        yield Eq("drives: power", q["drives.steam.flow"] * drive - self.tandem.power(q) / 0.97,
                 1e6, "isentropic drop and efficiency, gear 0.97")  # fmt: skip
        yield Eq("back-pressure set: power",
                 q["back_pressure.steam.flow"] * set_drop - q["power.back_pressure"] / 0.96, 1e6,
                 "isentropic drop and efficiency, alternator 0.96")  # fmt: skip
        yield Eq("condensing set: power",
                 q["condensing.steam.flow"] * vacuum - q["power.condensing"] / 0.96, 1e6,
                 "isentropic drop and efficiency, alternator 0.96")  # fmt: skip
        live = (q["drives.steam.flow"] + q["back_pressure.steam.flow"]
                + q["condensing.steam.flow"] + q["let_down.flow"]
                + self.other_high_pressure * self.all_hours(q))  # fmt: skip
        yield Eq("HP main: mass", q["boiler.steam.flow"] - live, 1.0, "mass balance")
        yield from self._exhaust(q, drive, set_drop)
        feed = (1.0 + self.boiler.blowdown) * q["boiler.steam.flow"]
        main = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        hot = liquid_enthalpy(self.boiler.feed_temperature)
        cool = liquid_enthalpy(q["feed_water.temperature"])
        steam = q["deaerator.steam.flow"]
        yield Eq("deaerator: heat", (feed - steam) * cool + steam * main - feed * hot, 1e6,
                 "enthalpy balance")  # fmt: skip
        own = q["own_power.fixed"] * self.all_hours(q)
        own = own + q["own_power.on_cane"] * read(q, "cane", RAW_JUICE).mass
        yield Eq("power: balance",
                 q["power.back_pressure"] + q["power.condensing"] - q["power.export"] - own, 1e6,
                 "power made is used or sent out")  # fmt: skip

    def _exhaust(self, q: Quantities, drive: Quantity, set_drop: Quantity) -> Iterator[Eq]:
        live, down, spray = self.boiler.steam_enthalpy(), q["let_down.flow"], q["spray.flow"]
        leaves = self.demand(q) + q["vent.flow"]
        given = q["drives.steam.flow"] + q["back_pressure.steam.flow"] + down + spray
        yield Eq("exhaust main: mass", given - leaves, 1.0, "mass balance")
        main = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        heat = (q["drives.steam.flow"] * (live - drive)
                + q["back_pressure.steam.flow"] * (live - set_drop) + down * live
                + spray * liquid_enthalpy(self.boiler.feed_temperature))  # fmt: skip
        yield Eq("exhaust main: heat", heat - leaves * main, 1e6, "enthalpy balance")
        yield Eq("exhaust main: let-down or vent",
                 smooth_minimum(down, q["vent.flow"], 1e-3), 1.0,
                 "complementary pair: one of the two is shut", only="solve")  # fmt: skip
        yield Eq("exhaust main: vent shut", q["vent.flow"] - 0.0, 1.0,
                 "nobody reads the vent: what it blew is other exhaust", only="account",
                 )  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        cane = read(q, "cane", RAW_JUICE).mass
        yield Report("process_steam.flow", self.demand(q), "kg/s", "t/h", "exhaust demand")
        yield Report("process_steam.on_cane", self.demand(q) / cane, "kg/kg", "%",
                     "process steam on cane")  # fmt: skip
        yield Report("boiler.steam.on_cane", q["boiler.steam.flow"] / cane, "kg/kg", "%",
                     "HP steam made on cane")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        for key, out, back in (
            ("drives", "Mill drives", "From mill drives"),
            ("back_pressure", "Back-pressure set", "From the back-pressure set"),
            ("condensing", "Condensing set", ""),
        ):
            yield Accounted("steam out", key, out, f"{key}.steam.flow")
            if back:
                yield Accounted("exhaust in", key, back, f"{key}.steam.flow")
        yield Accounted("steam out", "let_down", "Let down to exhaust", "let_down.flow")
        yield Accounted("exhaust in", "let_down", "Let down", "let_down.flow")
        yield Accounted("exhaust in", "spray", "Spray water", "spray.flow")
        yield Accounted("exhaust out", "deaerator", "To the deaerator", "deaerator.steam.flow")
        yield Accounted("exhaust out", "vent", "Blown off", "vent.flow")
        yield Accounted("exhaust demand", "all", "", self.demand)
        for key in ("back_pressure", "condensing"):
            yield Accounted("power made", key, "", f"power.{key}")
        yield Accounted("power sent out", "export", "", "power.export")

    def start(self, s: dict[str, float]) -> None:
        s["drives.steam.flow"] = self.tandem.power(s) / 0.97 / (
            self.drive_efficiency * self.drop_to_exhaust)  # fmt: skip
        s["back_pressure.steam.flow"] = self.back_pressure_power / 0.96 / (
            self.back_pressure_efficiency * self.drop_to_exhaust)  # fmt: skip
        s["condensing.steam.flow"] = self.condensing_power / 0.96 / (
            self.condensing_efficiency * self.drop_to_vacuum)  # fmt: skip
        s["deaerator.steam.flow"] = 0.02 * s["boiler.steam.flow"]
        given = s["drives.steam.flow"] + s["back_pressure.steam.flow"]
        s["let_down.flow"] = max(self.demand(s) - 1.03 * given, 0.5)
        s["power.export"] = self.back_pressure_power + self.condensing_power - self.own_power - (
            self.own_power_on_cane * read(s, "cane", RAW_JUICE).mass)  # fmt: skip
