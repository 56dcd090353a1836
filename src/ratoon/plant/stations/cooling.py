"""Condensers and cooling water: evaporator, pans and condensing set on one cooling circuit.

Each condenser gives its vapour's heat to water that comes at one temperature and leaves some
kelvin below the vapour. What the tower evaporates has to be made up. Flows are means over
crushing hours, like all others, though pans and turbines run through stops. In a trial what the
pumps take more than on the day is taken from the power sent out: a deeper vacuum is not free.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_maximum
from ratoon.equations import Var
from ratoon.plant.declared import Setting
from ratoon.plant.laws import from_the_day, on_the_day
from ratoon.plant.station import Downstream, Follows, shared
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.steam import CONDENSING, SteamMain
from ratoon.plant.streams import Quantities, Quantity
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_temperature,
    vapour_enthalpy_saturated,
)

COMMON = "common practice, no source"
GRAVITY = 9.80665  # m/s2
PUMPS = "cooling_water.pump.power"
BALANCE = "[Kern] Ex. 14.2, seen: W = V (H - h out)/(h out - h in)"
LATENT_SHARE = 0.85  # of the heat a tower gives off by evaporation, the rest warms air
LATENT = 2.43e6  # J/kg at about 30 degC, steam tables
Vapour = Callable[[Quantities], tuple[Quantity, Quantity, Quantity]]


@dataclass(frozen=True)
class Cooling(Downstream):
    """All condensers on the cooling circuit."""

    evaporator: Evaporator
    letters: tuple[str, ...]
    steam: SteamMain
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
        if CONDENSING in self.steam.sets:
            yield "condensing.condenser", "the condensing set"

    def stated(self) -> Iterator[Var]:
        yield Var("cooling_water.temperature", "degC", 0.0, 60.0, self.water_temperature, 10.0,
                  "assumed", "cooling water to the condensers", "degC", 1.0, COMMON)  # fmt: skip
        yield Var("condenser.approach", "K", 0.5, 40.0, self.approach, 10.0, "assumed",
                  "vapour above water leaving its condenser", "K", 2.0, COMMON)  # fmt: skip
        yield on_the_day(PUMPS, "W", "MW", "power of the cooling-water pumps")

    def settings(self) -> Iterator[Setting]:
        yield from_the_day(PUMPS)

    def follows(self) -> Iterator[Follows]:
        for (stem, what), vapour in zip(self.condensers, self._vapours(), strict=True):
            yield from self._condenser(stem, what, vapour)
        stems = [stem for stem, _ in self.condensers]
        yield Follows("cooling_water.flow", "kg/s", "t/h", "cooling water, all condensers",
                      "sum of the condensers",
                      lambda q: sum(q[f"{stem}.water.flow"] for stem in stems), 1000.0)  # fmt: skip
        yield Follows("cooling_water.heat", "W", "MW", "heat to be cooled away",
                      "sum of the condensers",
                      lambda q: sum(q[f"{stem}.heat"] for stem in stems), 1e7)  # fmt: skip
        yield Follows("cooling_water.return_temperature", "degC", "degC",
                      "cooling water coming back", "heat over circulation",
                      lambda q: q["cooling_water.temperature"]
                      + q["cooling_water.heat"] / (4187.0 * q["cooling_water.flow"]))  # fmt: skip
        yield Follows("cooling_water.evaporated.flow", "kg/s", "t/h", "water evaporated in cooling",
                      "85 % of the heat goes by evaporation, " + COMMON,
                      lambda q: LATENT_SHARE * q["cooling_water.heat"] / LATENT)  # fmt: skip
        yield Follows("cooling_water.make_up.flow", "kg/s", "t/h",
                      "fresh water to the cooling circuit, negative where it overflows",
                      "evaporated and let go, less vapour condensed into it; " + COMMON,
                      lambda q: q["cooling_water.evaporated.flow"]
                      + self.losses * q["cooling_water.flow"] - self._condensed(q))  # fmt: skip
        yield Follows(PUMPS, "W", "MW", "power of the cooling-water pumps",
                      "flow times head over efficiency, " + COMMON,
                      lambda q: q["cooling_water.flow"] * GRAVITY * self.head / self.pump,
                      )  # fmt: skip

    def _condenser(self, stem: str, what: str, vapour: Vapour) -> Iterator[Follows]:
        def heat(q: Quantities) -> Quantity:
            flow, _, enthalpy = vapour(q)
            return flow * (enthalpy - self._leaves(q, stem))

        def water(q: Quantities) -> Quantity:
            leaves = self._leaves(q, stem)
            comes = self._comes(q)
            return q[f"{stem}.heat"] / smooth_maximum(leaves - comes, 2e3, 1e3)

        yield Follows(f"{stem}.water.temperature", "degC", "degC",
                      f"water leaving the condenser of {what}", "vapour temperature less approach",
                      lambda q: vapour(q)[1] - q["condenser.approach"])  # fmt: skip
        yield Follows(f"{stem}.heat", "W", "MW", f"heat given off in the condenser of {what}",
                      "vapour to water leaving", heat, 1e7)  # fmt: skip
        yield Follows(f"{stem}.water.flow", "kg/s", "t/h",
                      f"cooling water to the condenser of {what}", BALANCE, water,
                      100.0)  # fmt: skip

    @shared
    def _comes(self, q: Quantities) -> Quantity:
        return liquid_enthalpy(q["cooling_water.temperature"])

    @shared
    def _leaves(self, q: Quantities, stem: str) -> Quantity:
        return liquid_enthalpy(q[f"{stem}.water.temperature"])

    def _vapours(self) -> Iterator[Vapour]:
        """Vapour [kg/s], its saturation temperature and its enthalpy, condenser by condenser."""
        yield self._last_vapour
        for letter in self.letters:
            yield self._of_pans(letter)
        if CONDENSING in self.steam.sets:
            yield self._behind_the_set

    def _of_pans(self, letter: str) -> Vapour:
        return lambda q: self._pan_vapour(q, letter)

    @shared
    def _last_vapour(self, q: Quantities) -> tuple[Quantity, Quantity, Quantity]:
        e, n = self.evaporator, self.evaporator.last
        return e.net(q, n), q[f"effect.{n}.vapour.temperature"], e.vapour_enthalpy(q, n)

    @shared
    def _pan_vapour(self, q: Quantities, letter: str) -> tuple[Quantity, Quantity, Quantity]:
        t = q[f"pan.{letter}.vapour.temperature"]
        rise = q[f"pan.{letter}.massecuite.temperature"] - t
        enthalpy = vapour_enthalpy_saturated(t) + self.evaporator.superheat * rise
        return q[f"pan.{letter}.evaporation"], t, enthalpy

    @shared
    def _behind_the_set(self, q: Quantities) -> tuple[Quantity, Quantity, Quantity]:
        return (q["condensing.steam.flow"], saturation_temperature(q["condensing.pressure"]),
                self.steam.leaving(q, CONDENSING))  # fmt: skip

    def _condensed(self, q: Quantities) -> Quantity:
        """Vapour that mixes with its water: a surface condenser's comes back clean."""
        mixing = list(self._vapours())[: 1 + len(self.letters)]
        return sum((vapour(q)[0] for vapour in mixing), 0.0)
