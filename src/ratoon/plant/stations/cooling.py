"""Condensers and cooling water: evaporator, pans and condensing set on one cooling circuit.

Each condenser gives its vapour's heat to water that comes at one temperature and leaves some
kelvin below the vapour. What the tower evaporates has to be made up. Flows are means over
crushing hours, like all others, though pans and turbines run through stops.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_maximum
from ratoon.equations import Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.streams import Quantities, Quantity
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_temperature,
    vapour_enthalpy_saturated,
)

COMMON = "common practice, no source"
GRAVITY = 9.80665  # m/s2
BALANCE = "[Kern] Ex. 14.2, seen: W = V (H - h out)/(h out - h in)"
LATENT_SHARE = 0.85  # of the heat a tower gives off by evaporation, the rest warms air
LATENT = 2.43e6  # J/kg at about 30 degC, steam tables


@dataclass(frozen=True)
class Cooling(Downstream):
    """All condensers on the cooling circuit."""

    evaporator: Evaporator
    letters: tuple[str, ...]
    exhaust_of_set: Quantity  # function of the symbols: enthalpy leaving the condensing set [J/kg]
    vacuum: float = 10e3  # Pa, condensing set
    water_temperature: float = 30.0
    approach: float = 8.0
    head: float = 14.0  # m
    pump: float = 0.75
    losses: float = 0.008  # of the circulation: blowdown and drift
    name: str = "cooling"

    @property
    def condensers(self) -> Iterator[tuple[str, str]]:
        """Stem and words of each condenser."""
        yield "condenser", "the evaporator"
        for letter in self.letters:
            yield f"pan.{letter}.condenser", f"{letter} pans"
        yield "condensing.condenser", "the condensing set"

    def stated(self) -> Iterator[Var]:
        yield Var("cooling_water.temperature", "degC", 0.0, 60.0, self.water_temperature, 10.0,
                  "assumed", "cooling water to the condensers", "degC", 1.0, COMMON)  # fmt: skip
        yield Var("condenser.approach", "K", 0.5, 40.0, self.approach, 10.0, "assumed",
                  "vapour above water leaving its condenser", "K", 2.0, COMMON)  # fmt: skip

    @property
    def rows(self) -> Iterator[Row]:
        for stem, what in self.condensers:
            yield Row(f"{stem}.water.temperature", "degC", "degC",
                      f"water leaving the condenser of {what}",
                      "vapour temperature less approach")  # fmt: skip
            yield Row(f"{stem}.heat", "W", "MW", f"heat given off in the condenser of {what}",
                      "vapour to water leaving", 1e7)  # fmt: skip
            yield Row(f"{stem}.water.flow", "kg/s", "t/h",
                      f"cooling water to the condenser of {what}", BALANCE, 100.0)  # fmt: skip
        yield Row("cooling_water.flow", "kg/s", "t/h", "cooling water, all condensers",
                  "sum of the condensers", 1000.0)  # fmt: skip
        yield Row("cooling_water.heat", "W", "MW", "heat to be cooled away",
                  "sum of the condensers", 1e7)  # fmt: skip
        yield Row("cooling_water.return_temperature", "degC", "degC",
                  "cooling water coming back", "heat over circulation")  # fmt: skip
        yield Row("cooling_water.evaporated.flow", "kg/s", "t/h", "water evaporated in cooling",
                  "85 % of the heat goes by evaporation, " + COMMON)  # fmt: skip
        yield Row("cooling_water.make_up.flow", "kg/s", "t/h",
                  "fresh water to the cooling circuit, negative where it overflows",
                  "evaporated and let go, less vapour condensed into it; " + COMMON)  # fmt: skip
        yield Row("cooling_water.pump.power", "W", "MW", "power of the cooling-water pumps",
                  "flow times head over efficiency, " + COMMON)  # fmt: skip

    def _vapours(self, q: Quantities) -> Iterator[tuple[Quantity, Quantity, Quantity]]:
        """Vapour [kg/s], its saturation temperature and its enthalpy, condenser by condenser."""
        e, n = self.evaporator, self.evaporator.count
        yield e.net(q, n), q[f"effect.{n}.vapour.temperature"], e.vapour_enthalpy(q, n)
        for letter in self.letters:
            t = q[f"pan.{letter}.vapour.temperature"]
            rise = q[f"pan.{letter}.massecuite.temperature"] - t
            yield (q[f"pan.{letter}.evaporation"], t,
                   vapour_enthalpy_saturated(t) + e.superheat * rise)  # fmt: skip
        vacuum = q.get("condensing.pressure", self.vacuum)
        yield (q["condensing.steam.flow"], saturation_temperature(vacuum),
               self.exhaust_of_set(q))  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        comes, condensed = q["cooling_water.temperature"], 0.0
        stems = [stem for stem, _ in self.condensers]
        for stem, (vapour, saturated, enthalpy) in zip(stems, self._vapours(q), strict=True):
            yield saturated - q["condenser.approach"]
            leaves = liquid_enthalpy(q[f"{stem}.water.temperature"])
            yield vapour * (enthalpy - leaves)
            rise = smooth_maximum(leaves - liquid_enthalpy(comes), 2e3, 1e3)
            yield q[f"{stem}.heat"] / rise
            if stem != "condensing.condenser":  # a surface condenser: its water comes back clean
                condensed = condensed + vapour
        yield sum(q[f"{stem}.water.flow"] for stem in stems)
        yield sum(q[f"{stem}.heat"] for stem in stems)
        yield comes + q["cooling_water.heat"] / (4187.0 * q["cooling_water.flow"])
        yield LATENT_SHARE * q["cooling_water.heat"] / LATENT
        yield (q["cooling_water.evaporated.flow"] + self.losses * q["cooling_water.flow"]
               - condensed)  # fmt: skip
        yield q["cooling_water.flow"] * GRAVITY * self.head / self.pump
