"""Turbines by the steam table: drops, efficiencies, exhaust states, steam rates, power and heat.

The steam balance takes isentropic drops as the mill file states them. Here they follow from the
pressures, so that a rising exhaust pressure shows what it costs. Isentropic ends are wet; one that
is not is carried on in a straight line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Var
from ratoon.plant.station import Downstream, Follows
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

    def follows(self) -> Iterator[Follows]:
        for machine, end in (("drives", "the exhaust main"), ("condensing", "the condenser")):
            yield self._drop(machine, end)
        for machine, what in MACHINES:
            yield from self._machine(machine, what)
        yield from self._exhaust()
        yield from self._power()
        yield Follows("process_steam.heat", "W", "MW", "heat that process steam gives",
                      "exhaust condensed to water at saturation", self._process_heat,
                      1e8)  # fmt: skip
        yield Follows("power.on_process_heat", "1", "%", "power and work made on process heat",
                      "power made and shaft work over heat of process steam",
                      lambda q: (q["power.generated"] + self.steam.tandem.power(q))
                      / q["process_steam.heat"])  # fmt: skip
        yield Follows("power.fuel_use", "1", "%", "power, work and process heat out of the fuel's",
                      "sum over gross heat fired", self._fuel_use)  # fmt: skip

    def _drop(self, machine: str, end: str) -> Follows:
        behind = "condensing.pressure" if machine == "condensing" else "exhaust.pressure"
        return Follows(f"{machine}.drop", "J/kg", "kJ/kg", f"isentropic drop to {end}", TABLE,
                       lambda q: self._isentropic_drop(q[behind]), 1e6)  # fmt: skip

    def _machine(self, machine: str, what: str) -> Iterator[Follows]:
        drop = "condensing.drop" if machine == "condensing" else "drives.drop"
        stated = (self.steam.drop_to_vacuum if machine == "condensing"
                  else self.steam.drop_to_exhaust)  # fmt: skip

        def power(q: Quantities) -> Quantity:
            return self.steam.tandem.power(q) if machine == "drives" else q[f"power.{machine}"]

        yield Follows(f"{machine}.efficiency_by_table", "1", "%",
                      f"efficiency of {what}, drop by steam table",
                      "work done over isentropic drop",
                      lambda q: q[f"{machine}.efficiency"] * stated / q[drop])  # fmt: skip
        yield Follows(f"{machine}.exhaust.enthalpy", "J/kg", "kJ/kg", f"steam leaving {what}",
                      "live steam less work done",
                      lambda q: self.steam.boiler.steam_enthalpy()
                      - q[f"{machine}.efficiency"] * stated, 1e6)  # fmt: skip
        yield Follows(f"{machine}.steam_rate", "J/kg", "kWh/t",
                      f"power for each tonne of steam, {what}",
                      "power at shaft or terminals over steam",
                      lambda q: power(q) / q[f"{machine}.steam.flow"], 1e5)  # fmt: skip

    def _exhaust(self) -> Iterator[Follows]:
        yield Follows("condensing.exhaust.dryness", "1", "%",
                      "dry steam behind the condensing set",
                      "[IF97]: enthalpy above water over heat of evaporation",
                      self._dryness)  # fmt: skip
        yield Follows("exhaust.superheat", "K", "K", "exhaust main above saturation",
                      "temperature less saturation temperature",
                      lambda q: q["exhaust.temperature"]
                      - saturation_temperature(q["exhaust.pressure"]))  # fmt: skip
        yield Follows("exhaust.live_share", "1", "%", "let-down in the exhaust demand",
                      "let-down over process steam",
                      lambda q: q["let_down.flow"] / self.steam.demand(q))  # fmt: skip

    def _power(self) -> Iterator[Follows]:
        yield Follows("power.generated", "W", "MW", "power made by both sets",
                      "sum of the terminals",
                      lambda q: q["power.back_pressure"] + q["power.condensing"],
                      1e7)  # fmt: skip
        yield Follows("power.own", "W", "MW", "power used in the works", "made less sent out",
                      lambda q: q["power.generated"] - q["power.export"], 1e7)  # fmt: skip
        for name, text in (("generated", "power made"), ("own", "power used"),
                           ("export", "power sent out")):  # fmt: skip
            yield _on_cane(name, text)

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

    def _dryness(self, q: Quantities) -> Quantity:
        t = saturation_temperature(q["condensing.pressure"])
        low = liquid_enthalpy(t)
        return (q["condensing.exhaust.enthalpy"] - low) / (vapour_enthalpy_saturated(t) - low)

    def _process_heat(self, q: Quantities) -> Quantity:
        water = liquid_enthalpy(saturation_temperature(q["exhaust.pressure"]))
        exhaust = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        return self.steam.demand(q) * (exhaust - water)

    def _fuel_use(self, q: Quantities) -> Quantity:
        fired = q["boiler.fuel.flow"] * self.steam.boiler.gross(q)
        work = q["power.generated"] + self.steam.tandem.power(q)
        return (work + q["process_steam.heat"]) / fired


def _on_cane(name: str, text: str) -> Follows:
    return Follows(f"power.{name}_on_cane", "J/kg", "kWh/t", f"{text} for each tonne of cane",
                   "power over cane",
                   lambda q: q[f"power.{name}"] / read(q, "cane", RAW_JUICE).mass, 1e5)  # fmt: skip
