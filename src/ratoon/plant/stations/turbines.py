"""Turbines by the steam table: drops, efficiencies, exhaust states, steam rates, power and heat.

The steam balance takes isentropic drops as the mill file states them. Here they follow from the
pressures, so that a rising exhaust pressure shows what it costs. Isentropic ends are wet; one that
is not is carried on in a straight line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.steam import SteamMain
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_temperature,
    steam_enthalpy,
    steam_entropy,
    vapour_enthalpy_saturated,
    water_entropy,
)

TABLE = "[IF97]: isentropic from live steam, wet end by quality"
MACHINES = (("drives", "the mill turbines"), ("back_pressure", "the back-pressure set"),
            ("condensing", "the condensing set"))  # fmt: skip


@dataclass(frozen=True)
class Turbines(Downstream):
    """Drives, back-pressure set and condensing set, and what power and heat come of the fuel."""

    steam: SteamMain
    vacuum: float = 10e3  # Pa, condensing set
    name: str = "turbines"

    def stated(self) -> Iterator[Var]:
        yield Var("condensing.pressure", "Pa", 2e3, 9e4, self.vacuum, 1e4, "assumed",
                  "pressure behind the condensing set", "kPa a", 1e3,
                  "common practice, no source")  # fmt: skip
        for machine, what in MACHINES[:2]:
            yield Var(f"{machine}.exhaust.temperature", "degC", start=200.0, scale=100.0,
                      text=f"steam leaving {what}", trade="degC",
                      source="[IF97]: temperature at exhaust pressure and enthalpy")  # fmt: skip

    @property
    def rows(self) -> Iterator[Row]:
        for machine, end in (("drives", "the exhaust main"), ("condensing", "the condenser")):
            yield Row(f"{machine}.drop", "J/kg", "kJ/kg", f"isentropic drop to {end}", TABLE,
                      1e6)  # fmt: skip
        for machine, what in MACHINES:
            yield Row(f"{machine}.efficiency_by_table", "1", "%",
                      f"efficiency of {what}, drop by steam table",
                      "work done over isentropic drop")  # fmt: skip
            yield Row(f"{machine}.exhaust.enthalpy", "J/kg", "kJ/kg", f"steam leaving {what}",
                      "live steam less work done", 1e6)  # fmt: skip
            yield Row(f"{machine}.steam_rate", "J/kg", "kWh/t",
                      f"power for each tonne of steam, {what}",
                      "power at shaft or terminals over steam", 1e5)  # fmt: skip
        yield Row("condensing.exhaust.dryness", "1", "%", "dry steam behind the condensing set",
                  "[IF97]: enthalpy above water over heat of evaporation")  # fmt: skip
        yield Row("exhaust.superheat", "K", "K", "exhaust main above saturation",
                  "temperature less saturation temperature")  # fmt: skip
        yield Row("exhaust.live_share", "1", "%", "let-down in the exhaust demand",
                  "let-down over process steam")  # fmt: skip
        yield Row("power.generated", "W", "MW", "power made by both sets",
                  "sum of the terminals", 1e7)  # fmt: skip
        yield Row("power.own", "W", "MW", "power used in the works", "made less sent out",
                  1e7)  # fmt: skip
        for name, text in (("generated", "power made"), ("own", "power used"),
                           ("export", "power sent out")):  # fmt: skip
            yield Row(f"power.{name}_on_cane", "J/kg", "kWh/t", f"{text} for each tonne of cane",
                      "power over cane", 1e5)  # fmt: skip
        yield Row("process_steam.heat", "W", "MW", "heat that process steam gives",
                  "exhaust condensed to water at saturation", 1e8)  # fmt: skip
        yield Row("power.on_process_heat", "1", "%", "power and work made on process heat",
                  "power made and shaft work over heat of process steam")  # fmt: skip
        yield Row("power.fuel_use", "1", "%", "power, work and process heat out of the fuel's",
                  "sum over gross heat fired")  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        super().start(s)
        for machine, _ in MACHINES[:2]:
            saturated = saturation_temperature(s["exhaust.pressure"])
            above = s[f"{machine}.exhaust.enthalpy"] - vapour_enthalpy_saturated(saturated)
            s[f"{machine}.exhaust.temperature"] = saturated + above / 2.1e3

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from super().equations(q)
        for machine, what in MACHINES[:2]:
            hot = steam_enthalpy(q["exhaust.pressure"], q[f"{machine}.exhaust.temperature"])
            yield Eq(f"{what}: temperature of exhaust",
                     hot - q[f"{machine}.exhaust.enthalpy"], 1e6,
                     "[IF97]: temperature at exhaust pressure and enthalpy")  # fmt: skip

    def _isentropic_drop(self, pressure: Quantity) -> Quantity:
        """From live steam to wet steam of a pressure [J/kg]."""
        b = self.steam.boiler
        entropy, live = steam_entropy(b.pressure, b.temperature), b.steam_enthalpy()
        t = saturation_temperature(pressure)
        water = water_entropy(pressure, t)
        quality = (entropy - water) / (steam_entropy(pressure, t) - water)
        low = liquid_enthalpy(t)
        return live - low - quality * (vapour_enthalpy_saturated(t) - low)

    def values(self, q: Quantities) -> Iterator[Quantity]:
        main, live = self.steam, self.steam.boiler.steam_enthalpy()
        yield self._isentropic_drop(q["exhaust.pressure"])
        yield self._isentropic_drop(q["condensing.pressure"])
        shaft = main.tandem.power(q)
        for machine, _ in MACHINES:
            stated = main.drop_to_vacuum if machine == "condensing" else main.drop_to_exhaust
            work = q[f"{machine}.efficiency"] * stated
            drop = q["condensing.drop"] if machine == "condensing" else q["drives.drop"]
            yield work / drop
            yield live - work
            power = shaft if machine == "drives" else q[f"power.{machine}"]
            yield power / q[f"{machine}.steam.flow"]
        t = saturation_temperature(q["condensing.pressure"])
        low = liquid_enthalpy(t)
        yield (q["condensing.exhaust.enthalpy"] - low) / (vapour_enthalpy_saturated(t) - low)
        saturated = saturation_temperature(q["exhaust.pressure"])
        yield q["exhaust.temperature"] - saturated
        yield q["let_down.flow"] / main.demand(q)
        yield q["power.back_pressure"] + q["power.condensing"]
        yield q["power.generated"] - q["power.export"]
        cane = read(q, "cane", RAW_JUICE).mass
        for name in ("generated", "own", "export"):
            yield q[f"power.{name}"] / cane
        exhaust = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        yield main.demand(q) * (exhaust - liquid_enthalpy(saturated))
        yield (q["power.generated"] + shaft) / q["process_steam.heat"]
        fired = q["boiler.fuel.flow"] * main.boiler.gross(q)
        yield (q["power.generated"] + shaft + q["process_steam.heat"]) / fired
