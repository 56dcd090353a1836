"""Turbines, exhaust main and feed water as one steam balance.

The exhaust main is desuperheated: drives, back-pressure set and let-down give steam, spray water
fills it up to its temperature. Let-down and vent are a complementary pair in a simulation; in an
account the vent is taken as shut, and what it blew stands with the other exhaust. Own power is
fixed or goes with the cane. Drives and sets work on the steam table's drop from live steam to the
exhaust main or the condenser as they are, so that a higher exhaust pressure and a worse vacuum cost
power. In a trial, what pumps and fans take more than in step with the cane is
added, so that neither vacuum nor air is free.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from ratoon.base.words import capital
from ratoon.equations import Eq, Report, Var, either
from ratoon.plant.cautions import PRESSURE, ROTATING
from ratoon.plant.declared import (
    SMALL_FLOW,
    Accounted,
    Flow,
    Miss,
    Named,
    Place,
    Range,
    Regime,
    Setting,
    Slider,
)
from ratoon.plant.headers import Takes
from ratoon.plant.laws import over_the_day, then
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.stations.boiler import Boiler
from ratoon.plant.stations.extraction import Extraction
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read
from ratoon.properties.water import isentropic_drop, liquid_enthalpy, steam_enthalpy

COMMON = "common practice, no source"
MEMORY = "from memory, not verified against print; a default to be replaced"
T_PER_H = 1.0 / 3.6


@dataclass(frozen=True)
class Machine:
    """Turbines of one kind: drives of the mills, or a set that makes power."""

    key: str
    text: str
    steam: float  # kg/s, where a start begins
    efficiency: float
    sigma: float
    kind: str
    condenses: bool = False
    drop: str = "drives.drop"  # to the exhaust main, whatever turns there
    most: float = 0.0  # MW, that a mill would try
    reach: float = 0.0  # MW, on both sides of the day

    @property
    def flow(self) -> str:
        return f"{self.key}.steam.flow"


DRIVES = Machine("drives", "mill drives", 26.0, 0.56, 0.04, "mill turbines")
BACK_PRESSURE = Machine("back_pressure", "back-pressure set", 23.0, 0.74, 0.03,
                        "back-pressure turbine", most=12.0, reach=3.0)  # fmt: skip
CONDENSING = Machine("condensing", "condensing set", 16.7, 0.78, 0.03, "condensing turbine",
                     condenses=True, drop="condensing.drop", most=18.0, reach=6.0)  # fmt: skip
PUMPS_AND_FANS = ("cooling_water.pump.power", "boiler.feed_pump.power",
                  "boiler.forced_draught.power", "boiler.induced_draught.power")  # fmt: skip
GEAR, ALTERNATOR = 0.97, 0.96  # of shaft power, common practice
BEHIND = "condensing.pressure"
VACUUM = 10e3  # Pa, behind a condensing set, common practice
TABLE = "[IF97]: isentropic from live steam, wet end by quality"
MOTORS, MOTORS_SIGMA = 0.90, 0.03  # motors with their drives and gears, common practice


@dataclass(frozen=True)
class SteamMain(Station):
    """Drives, alternators, let-down, exhaust main, deaerator and own power.

    `drives` is "steam" or "electric"; a set whose power is None is not there.
    """

    extraction: Extraction
    boiler: Boiler
    users: tuple[Takes, ...]  # exhaust to the process
    exhaust_pressure: float = 208e3
    exhaust_temperature: float = 132.0
    vacuum: float = VACUUM
    back_pressure_power: float | None = 8.5e6
    condensing_power: float | None = 12.0e6
    drives: str = "steam"
    own_power: float = 2.5e6
    own_power_on_cane: float = 14.5 * 3600.0  # J/kg
    other_exhaust: float = 5.0 * T_PER_H
    other_high_pressure: float = 2.0 * T_PER_H
    feed_water: float = 95.0
    name: str = "steam"

    @cached_property
    def sets(self) -> dict[Machine, float]:
        """The sets that make power, with their usual power [W]."""
        both = ((BACK_PRESSURE, self.back_pressure_power), (CONDENSING, self.condensing_power))
        return {machine: power for machine, power in both if power is not None}

    @cached_property
    def machines(self) -> tuple[Machine, ...]:
        """All turbines."""
        return (DRIVES, *self.sets) if self.drives == "steam" else tuple(self.sets)

    @property
    def _to_exhaust(self) -> tuple[Machine, ...]:
        return tuple(m for m in self.machines if not m.condenses)

    @cached_property
    def drops(self) -> dict[str, tuple[str, str]]:
        """Addresses of the isentropic drops there are, with the pressure behind each and words."""
        wanted = {m.drop for m in self.machines}
        both = {DRIVES.drop: ("exhaust.pressure", "the exhaust main"),
                CONDENSING.drop: (BEHIND, "the condenser")}  # fmt: skip
        return {a: both[a] for a in both if a in wanted}

    def table(self) -> Iterator[Var]:
        yield usually("exhaust.pressure", "Pa", self.exhaust_pressure, 0.08 * self.exhaust_pressure,
                      "kPa a", "pressure of the exhaust main", 8e4, 1.5e6)  # fmt: skip
        yield usually("exhaust.temperature", "degC", self.exhaust_temperature, 10.0, "degC",
                      "temperature of the exhaust main", 90.0, 350.0)  # fmt: skip
        for m in self.machines:
            yield Var(m.flow, "kg/s", 0.0, 1e3, m.steam, trade="t/h",
                      text=f"HP steam to the {m.text}")  # fmt: skip
        for name, low, start, text in (
            ("let_down.flow", -20.0, 1.7, "HP steam let down to exhaust"),
            ("vent.flow", -0.1, 0.01, "exhaust blown off"),  # shut, not at a limit
            ("spray.flow", -20.0, 1.5, "spray water to the exhaust main"),
            ("deaerator.steam.flow", 0.0, 1.3, "exhaust to the deaerator"),
        ):
            # what opens and shuts is of no size by where it happens to begin
            yield Var(name, "kg/s", low, 1e3, start, 5.0, trade="t/h", text=text)
        for m, power in self.sets.items():
            yield Var(f"power.{m.key}", "W", -5e7, 2e8, power, 1e6, trade="MW", text=m.text)
        yield Var("power.export", "W", -5e7, 2e8, 11.2e6, 1e6, trade="MW", text="power sent out")
        for address, (_, end) in self.drops.items():
            yield Var(address, "J/kg", 0.0, 4e6, 5e5, 1e6, trade="kJ/kg",
                      text=f"isentropic drop to {end}", source=TABLE)  # fmt: skip
        yield from self._assumed()
        yield usually("feed_water.temperature", "degC", self.feed_water, 6.0, "degC",
                      "feed water before the deaerator", 0.0, 180.0)  # fmt: skip

    def _assumed(self) -> Iterator[Var]:
        if self.drives == "electric":
            yield Var("drives.efficiency", "1", 1e-3, 0.99, MOTORS, 1.0, "assumed",
                      "efficiency of the mill motors, with drive and gear", "%", MOTORS_SIGMA,
                      COMMON)  # fmt: skip
        for m in self.machines:
            yield Var(f"{m.key}.efficiency", "1", 1e-3, 0.95, m.efficiency, 1.0, "assumed",
                      f"efficiency of the {m.kind}", "%", m.sigma, MEMORY)  # fmt: skip
        if self.drives == "steam":
            yield assumed("drives.gear", "1", GEAR, 0.01, "%", "efficiency of the drives' gears",
                          0.5, 1.0)  # fmt: skip
        for m in self.sets:
            yield assumed(
                f"{m.key}.alternator",
                "1",
                ALTERNATOR,
                0.01,
                "%",
                f"efficiency of the alternator and gear, {m.text}",
                0.5,
                1.0,
            )
        if CONDENSING in self.sets:
            yield assumed(BEHIND, "Pa", self.vacuum, 1e3, "kPa a",
                          "pressure behind the condensing set", 2e3, 9e4)  # fmt: skip
        for name, unit, low, high, start, sigma, trade, text in (
            ("own_power.fixed", "W", 1e-3, 1e8, self.own_power, 0.8e6, "MW",
             "own power that does not follow the cane"),
            ("own_power.on_cane", "J/kg", 1e-3, 5e5, self.own_power_on_cane, 3600.0, "kWh/t",
             "own power for each tonne of cane"),
            ("exhaust.other.flow", "kg/s", -1e2, 1e2, self.other_exhaust, 2.5 * T_PER_H, "t/h",
             "other exhaust"),
            ("high_pressure.other.flow", "kg/s", -1e2, 1e2, self.other_high_pressure,
             1.5 * T_PER_H, "t/h", "other HP steam"),
        ):  # fmt: skip
            yield Var(name, unit, low, high, start, max(abs(start), 1.0), "assumed", text, trade,
                      sigma, COMMON)  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        yield Setting("exhaust.pressure", self.exhaust_pressure, Range(170.0, 250.0),
                      Slider("Steam and power", "Exhaust pressure", 40.0, 0.5))  # fmt: skip
        yield Setting("exhaust.temperature", self.exhaust_temperature, Range(128.0, 160.0))
        for m, power in self.sets.items():
            yield Setting(f"power.{m.key}", power, Range(4.0, m.most),
                          Slider("Steam and power", capital(m.text), m.reach, 0.05))  # fmt: skip
        yield Setting("feed_water.temperature", self.feed_water, Range(80.0, 102.0))

    def work(self, q: Quantities, m: Machine) -> Quantity:
        """Work of a kilogram of steam in a machine [J/kg]."""
        return q[f"{m.key}.efficiency"] * q[m.drop]

    def drop(self, q: Quantities, behind: str) -> Quantity:
        """Isentropic drop from live steam to the pressure of an address [J/kg]."""
        live = q["boiler.steam.pressure"], q["boiler.steam.temperature"]
        return isentropic_drop(*live, q[behind])

    def leaving(self, q: Quantities, m: Machine) -> Quantity:
        """Enthalpy of the steam that leaves a machine [J/kg]."""
        return self.boiler.steam_enthalpy(q) - self.work(q, m)

    def motors(self, q: Quantities) -> Quantity:
        """Power of the mill motors [W]; zero where turbines drive the mills."""
        if self.drives == "steam":
            return 0.0
        return self.extraction.power(q) / q["drives.efficiency"]

    def all_hours(self, q: Quantities) -> Quantity:
        """What runs the whole period, spread over the crushing hours."""
        return q["hours.period"] / q["hours.crushing"]

    def demand(self, q: Quantities) -> Quantity:
        """Exhaust that the plant takes [kg/s]."""
        process = sum((q[t.flow] for t in self.users), 0.0)
        other = q["exhaust.other.flow"] * self.all_hours(q)
        return process + q["deaerator.steam.flow"] + other

    def equations(self, q: Quantities) -> Iterator[Eq]:
        for address, (behind, end) in self.drops.items():
            yield Eq(f"isentropic drop to {end}", q[address] - self.drop(q, behind), 1e6, TABLE)
        if self.drives == "steam":
            yield Eq("drives: power",
                     q[DRIVES.flow] * self.work(q, DRIVES)
                     - self.extraction.power(q) / q["drives.gear"],
                     1e6, "isentropic drop and efficiency, gear")  # fmt: skip
        for m in self.sets:
            yield Eq(f"{m.text}: power",
                     q[m.flow] * self.work(q, m) - q[f"power.{m.key}"] / q[f"{m.key}.alternator"],
                     1e6, "isentropic drop and efficiency, alternator")  # fmt: skip
        live = sum((q[m.flow] for m in self.machines), 0.0) + q["let_down.flow"]
        live = live + q["high_pressure.other.flow"] * self.all_hours(q)
        yield Eq("HP main: mass", q["boiler.steam.flow"] - live, 1.0, "mass balance")
        yield from self._exhaust(q)
        feed = self.boiler.feed_water(q)
        main = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        hot = self.boiler.feed_enthalpy(q)
        cool = liquid_enthalpy(q["feed_water.temperature"])
        steam = q["deaerator.steam.flow"]
        yield Eq("deaerator: heat", (feed - steam) * cool + steam * main - feed * hot, 1e6,
                 "enthalpy balance")  # fmt: skip
        own = q["own_power.fixed"] * self.all_hours(q)
        own = own + q["own_power.on_cane"] * read(q, "cane", RAW_JUICE).mass + self.motors(q)
        own = own + self.pumps_and_fans(q)
        yield Eq("power: balance", self.made(q) - q["power.export"] - own, 1e6,
                 "power made is used or sent out")  # fmt: skip

    def pumps_and_fans(self, q: Quantities) -> Quantity:
        """Power that pumps and fans take beyond the day's in step with the cane [W].

        What a mill's file does not describe takes none.
        """
        cane = over_the_day(q, "cane.rate", read(q, "cane", RAW_JUICE).mass)
        powers = ((a, q[a]) for a in PUMPS_AND_FANS if a in q)
        return sum((now - then(q, a, now) * cane for a, now in powers), 0.0)

    def made(self, q: Quantities) -> Quantity:
        """Power made by all sets [W]."""
        return sum((q[f"power.{m.key}"] for m in self.sets), 0.0)

    def _exhaust(self, q: Quantities) -> Iterator[Eq]:
        live, down, spray = self.boiler.steam_enthalpy(q), q["let_down.flow"], q["spray.flow"]
        leaves = self.demand(q) + q["vent.flow"]
        given = sum((q[m.flow] for m in self._to_exhaust), 0.0) + down + spray
        yield Eq("exhaust main: mass", given - leaves, 1.0, "mass balance")
        main = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        heat = sum((q[m.flow] * self.leaving(q, m) for m in self._to_exhaust), 0.0)
        heat = heat + down * live + spray * self.boiler.feed_enthalpy(q)
        yield Eq("exhaust main: heat", heat - leaves * main, 1e6, "enthalpy balance")
        yield either("exhaust main: let-down or vent", down, q["vent.flow"], 1e-6,
                     "complementary pair: one of the two is shut")  # fmt: skip
        yield Eq("exhaust main: vent shut", q["vent.flow"] - 0.0, 1.0,
                 "the vent is not read: what it blew is other exhaust", only="account",
                 )  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        cane = read(q, "cane", RAW_JUICE).mass
        if self._to_exhaust:
            yield Report("exhaust.turbines.flow", sum(q[m.flow] for m in self._to_exhaust),
                         "kg/s", "t/h", "exhaust of turbines")  # fmt: skip
        yield Report("process_steam.flow", self.demand(q), "kg/s", "t/h", "exhaust demand")
        yield Report("process_steam.on_cane", self.demand(q) / cane, "kg/kg", "%",
                     "process steam on cane")  # fmt: skip
        yield Report("boiler.steam.on_cane", q["boiler.steam.flow"] / cane, "kg/kg", "%",
                     "HP steam made on cane")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        for m in self.machines:
            yield Accounted("steam out", m.key, m.text.capitalize(), m.flow)
            if not m.condenses:
                called = m.text if m is DRIVES else f"the {m.text}"
                yield Accounted("exhaust in", m.key, f"From {called}", m.flow)
        yield Accounted("steam out", "let_down", "Let down to exhaust", "let_down.flow")
        yield Accounted("exhaust in", "let_down", "Let down", "let_down.flow")
        yield Accounted("exhaust in", "spray", "Spray water", "spray.flow")
        yield Accounted("exhaust out", "deaerator", "To the deaerator", "deaerator.steam.flow")
        yield Accounted("exhaust out", "vent", "Blown off", "vent.flow")
        yield Accounted("exhaust demand", "all", "", self.demand, "process_steam.flow")
        for m in self.sets:
            yield Accounted("power made", m.key, m.key.replace("_", "-"), f"power.{m.key}")
        yield Accounted("power sent out", "export", "", "power.export")

    def named(self) -> Iterator[Named]:
        yield Named("exhaust pressure", "exhaust.pressure")
        yield Named("exhaust to process", "process_steam.flow")

    def regimes(self) -> Iterator[Regime]:
        yield Regime(
            "Exhaust steam",
            (Miss("vent.flow", "", "above", SMALL_FLOW,
                  "more than is used: {figure} t/h blown off"),
             Miss("let_down.flow", "", "above", SMALL_FLOW,
                  "short: let-down adds {figure} t/h of HP steam", binds=False)),
            "turbines and drives give just what is used",
        )  # fmt: skip

    def picture(self) -> Iterator[Place]:
        drives = (("mill drives", DRIVES.flow),) if DRIVES in self.machines else ()
        yield Place(
            "steam", "turbines", "Turbines and power",
            ("power", "condensing", "back_pressure", "drives", "cooling_water", "own_power",
             "high_pressure"),
            (*((m.key.replace("_", "-"), f"power.{m.key}") for m in self.sets),
             ("sent out", "power.export"), *drives),
            stream=Flow("boiler.steam", "HP steam", "steam"),
            goes=tuple(Flow(m.flow.removesuffix(".flow"), m.text, "steam")
                       for m in self.machines if m.condenses),
            cautions=(PRESSURE, ROTATING),
        )  # fmt: skip
        yield Place(
            "steam", "exhaust", "Exhaust main",
            ("exhaust", "let_down", "vent", "spray", "deaerator", "process_steam"),
            (("pressure", "exhaust.pressure"), ("temperature", "exhaust.temperature")),
            stream=Flow("exhaust.turbines", "from turbines", "steam") if self._to_exhaust else None,
            leaves=Flow("process_steam", "process steam", "steam"),
            comes=(Flow("let_down", "let-down", "steam"), Flow("spray", "spray", "water")),
            goes=(Flow("vent", "blown off", "steam"),
                  Flow("deaerator.steam", "deaerator", "steam")),
            cautions=(PRESSURE,),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        for address, (behind, _) in self.drops.items():
            s[address] = float(self.drop(s, behind))
        usual = s | {f"{m.key}.efficiency": m.efficiency for m in self.machines}
        if self.drives == "steam":
            s[DRIVES.flow] = self.extraction.power(s) / GEAR / self.work(usual, DRIVES)
        for m, power in self.sets.items():
            s[m.flow] = power / ALTERNATOR / self.work(usual, m)
        s["deaerator.steam.flow"] = 0.02 * s["boiler.steam.flow"]
        given = sum(s[m.flow] for m in self._to_exhaust)
        s["let_down.flow"] = max(self.demand(s) - 1.03 * given, 0.5)
        cane = read(s, "cane", RAW_JUICE).mass
        own = self.own_power + self.own_power_on_cane * cane
        s["power.export"] = sum(self.sets.values()) - own
