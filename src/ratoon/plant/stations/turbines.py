"""Turbines by the steam table: exhaust states, steam rates, power and heat."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Var
from ratoon.plant.station import Downstream, Follows
from ratoon.plant.stations.steam import DRIVES, Machine, SteamMain
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_temperature,
    steam_enthalpy,
    vapour_enthalpy_saturated,
)


def _called(m: Machine) -> str:
    return f"the {m.kind}" if m is DRIVES else f"the {m.text}"


@dataclass(frozen=True)
class Turbines(Downstream):
    """Drives, back-pressure set and condensing set, and what power and heat come of the fuel."""

    steam: SteamMain
    name: str = "turbines"

    @property
    def _machines(self) -> tuple[Machine, ...]:
        return self.steam.machines

    @property
    def _to_exhaust(self) -> tuple[Machine, ...]:
        return tuple(m for m in self._machines if not m.condenses)

    @property
    def _condenses(self) -> bool:
        return any(m.condenses for m in self._machines)

    def stated(self) -> Iterator[Var]:
        for m in self._to_exhaust:
            yield Var(f"{m.key}.exhaust.temperature", "degC", start=200.0, scale=100.0,
                      text=f"steam leaving {_called(m)}", trade="degC",
                      source="[IF97]: temperature at exhaust pressure and enthalpy")  # fmt: skip

    def follows(self) -> Iterator[Follows]:
        for machine in self._machines:
            yield from self._machine(machine)
        yield from self._exhaust()
        yield from self._power()
        yield Follows("process_steam.heat", "W", "MW", "heat that process steam gives",
                      "exhaust condensed to water at saturation", self._process_heat,
                      1e8)  # fmt: skip
        yield Follows("power.on_process_heat", "1", "%", "power and work made on process heat",
                      "power made and shaft work over heat of process steam",
                      lambda q: (q["power.generated"] + self._shaft(q))
                      / q["process_steam.heat"])  # fmt: skip
        yield Follows("power.fuel_use", "1", "%", "power, work and process heat out of the fuel's",
                      "sum over gross heat fired", self._fuel_use)  # fmt: skip

    def _machine(self, m: Machine) -> Iterator[Follows]:
        machine, what = m.key, _called(m)

        def power(q: Quantities) -> Quantity:
            return self._shaft(q) if m is DRIVES else q[f"power.{machine}"]

        yield Follows(f"{machine}.exhaust.enthalpy", "J/kg", "kJ/kg", f"steam leaving {what}",
                      "live steam less work done",
                      lambda q: self.steam.leaving(q, m), 1e6)  # fmt: skip
        yield Follows(f"{machine}.steam_rate", "J/kg", "kWh/t",
                      f"power for each tonne of steam, {what}",
                      "power at shaft or terminals over steam",
                      lambda q: power(q) / q[f"{machine}.steam.flow"], 1e5)  # fmt: skip

    def _exhaust(self) -> Iterator[Follows]:
        if self._condenses:
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
        yield Follows("power.generated", "W", "MW", "power made by all sets",
                      "sum of the terminals", self.steam.made, 1e7)  # fmt: skip
        yield Follows("power.own", "W", "MW", "power used in the plant", "made less sent out",
                      lambda q: q["power.generated"] - q["power.export"], 1e7)  # fmt: skip
        for name, text in (("generated", "power made"), ("own", "power used"),
                           ("export", "power sent out")):  # fmt: skip
            yield _on_cane(name, text)

    def start(self, s: dict[str, float]) -> None:
        super().start(s)
        for m in self._to_exhaust:
            machine = m.key
            saturated = saturation_temperature(s["exhaust.pressure"])
            above = s[f"{machine}.exhaust.enthalpy"] - vapour_enthalpy_saturated(saturated)
            s[f"{machine}.exhaust.temperature"] = saturated + above / 2.1e3

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from super().equations(q)
        for m in self._to_exhaust:
            machine, what = m.key, _called(m)
            hot = steam_enthalpy(q["exhaust.pressure"], q[f"{machine}.exhaust.temperature"])
            yield Eq(f"{what}: temperature of exhaust",
                     hot - q[f"{machine}.exhaust.enthalpy"], 1e6,
                     "[IF97]: temperature at exhaust pressure and enthalpy")  # fmt: skip

    def _shaft(self, q: Quantities) -> Quantity:
        """Work that turbines do at the mills [W]."""
        return self.steam.extraction.power(q) if DRIVES in self._machines else 0.0

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
        work = q["power.generated"] + self._shaft(q)
        return (work + q["process_steam.heat"]) / fired


def _on_cane(name: str, text: str) -> Follows:
    return Follows(f"power.{name}_on_cane", "J/kg", "kWh/t", f"{text} for each tonne of cane",
                   "power over cane",
                   lambda q: q[f"power.{name}"] / read(q, "cane", RAW_JUICE).mass, 1e5)  # fmt: skip
