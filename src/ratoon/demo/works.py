"""The true plant: the mill's flowsheet with closures that the account does not know.

Each law here has another form than the model's, with figures of its own. They go by the mill's
usual running, never by a day: mixing falls as more fibre or more imbibition goes through; wash
water passes three well-mixed stages; juice inverts by heat and time; coefficients of heat transfer
fall as juice thickens; a turbine's drop goes with the logarithm of the pressures; pumps and fans
take more than in step with what they move. All figures are invented for the demonstration.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

from ratoon.account.figures.all_figures import of_stations, reports
from ratoon.base.maths import exp, log
from ratoon.equations import Eq, Equations, Var
from ratoon.plant.build import assumed_by, join, stations_of
from ratoon.plant.declared import Setting
from ratoon.plant.flowsheet import Works
from ratoon.plant.station import Downstream, assumed
from ratoon.plant.stations.cane import Cane
from ratoon.plant.stations.clarifier import Clarifier
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.filters import Filters
from ratoon.plant.stations.mills import Tandem
from ratoon.plant.stations.steam import BEHIND, SteamMain
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, Stream, read
from ratoon.settings.records import Settings

FALL_WITH_BRIX = 0.35
"""Exponent of (reference brix / brix) in a coefficient of heat transfer."""
USUAL_BRIX = "htc_at_usual_brix"
REFERENCE_BRIX = (0.224, 0.283, 0.343, 0.447, 0.68)
FIBRE, IMBIBITION = 18.7, 2.25  # kg/s, kg/kg fibre
FALL_WITH_FIBRE, FALL_WITH_IMBIBITION = 0.42, 0.18
OF_BRIX, OF_POL = "first_juice.brix_allowance", "first_juice.pol_allowance"
LET_THROUGH = 0.4  # of the share that a mill is said to let through
WATER, STAGES = 1.95, 3  # wash for each part of liquid in the cake, usually
HEATS = (109.0, 101.0, 93.5, 82.0, 58.0)  # degC in the effects
FLOWS = (119.0, 89.0, 67.0, 49.0, 33.0)  # kg/s of juice from them
FOLD = 13.0  # K for which inversion grows by e
LIMED, CLEAR = 160.0, 96.5  # kg/s, degC
LIVE, LIVE_HEAT, EXHAUST = 2.5e6, 350.0, 208e3  # Pa, degC, Pa
DROP, DROP_WITH_PRESSURE, TO_VACUUM = 523e3, 205e3, 960e3  # J/kg
CANE, VAPOUR, VACUUM, RISE = 130.56, 17.0, 54.0, 17.0  # kg/s, kg/s, degC, K
PUMPS, PUMPS_POWER = 150e3, 1.6  # W, of the evaporator's cooling water; exponent on its flow
FUEL, AIR, FANS, FANS_POWER = 29.9, 1.5, 700e3, 2.2  # kg/s, 1, W, exponent on the air moved


@dataclass(frozen=True)
class OwnCane(Cane):
    """Cane whose first juice lacks the units of brix and of pol of the CCS convention."""

    def table(self) -> Iterator[Var]:
        own = {v.name: v for v in (
            assumed(OF_BRIX, "kg/kg", 0.030, 0.004, "%", "units of brix in first juice", 0.0, 0.08),
            assumed(OF_POL, "kg/kg", 0.050, 0.005, "%", "units of pol in first juice", 0.0, 0.10),
        )}  # fmt: skip
        instead = {"first_juice.brix_free": own[OF_BRIX], "first_juice.purity_ratio": own[OF_POL]}
        yield from (instead.get(v.name, v) for v in super().table())

    def free_juice(self, q: Quantities, cane: Stream) -> Quantity:
        return cane.juice - q[OF_BRIX] * cane.mass

    def first_juice_pol(self, q: Quantities) -> Quantity:
        cane = read(q, "cane", RAW_JUICE)
        return cane.sucrose / (cane.juice - q[OF_POL] * cane.mass)


@dataclass(frozen=True)
class OwnTandem(Tandem):
    """Mills that mix worse as they are fed more, by an exponential and a hyperbola."""

    def table(self) -> Iterator[Var]:
        for v in super().table():
            if v.name in ("mills.fines", "mills.insolubles_to_juice"):
                yield replace(v, kind="constant", sigma=None)
            elif v.name.endswith((".fines", ".insolubles_to_juice")):
                yield replace(v, sigma=LET_THROUGH * max(v.start, 1e-3))
            else:
                yield v

    def mixing(self, q: Quantities, i: int) -> Quantity:
        more = read(q, "cane", RAW_JUICE).fibre / FIBRE - 1.0
        water = q["imbibition.on_fibre"] / IMBIBITION - 1.0
        still = q["mills.mixing"] + q[f"mill.{i}.mixing_apart"]
        return still * exp(-FALL_WITH_FIBRE * more) / (1.0 + FALL_WITH_IMBIBITION * water)


@dataclass(frozen=True)
class OwnClarifier(Clarifier):
    """A clarifier in which juice inverts faster when hotter, and longer when it goes slowly."""

    def inverts(self, q: Quantities) -> Quantity:
        heat = exp((q["clear_juice.temperature"] - CLEAR) / FOLD)
        return q["clarifier.inversion"] * heat * LIMED / read(q, "limed_juice", RAW_JUICE).mass


@dataclass(frozen=True)
class OwnFilters(Filters):
    """Filters whose wash water passes well-mixed stages."""

    def unwashed(self, q: Quantities) -> Quantity:
        each = (1.0 - q["filter.washing"]) ** (-1.0 / STAGES) - 1.0
        return (1.0 + each * q["filter.water_on_liquid"] / WATER) ** -STAGES


@dataclass(frozen=True)
class OwnEvaporator(Evaporator):
    """An evaporator whose coefficients fall with the brix in the effect."""

    def table(self) -> Iterator[Var]:
        yield from super().table()
        for i, effect in enumerate(self.effects, 1):
            yield Var(reference_htc(i), "W/m2.K", 10.0, 9000.0, effect.htc, trade="kW/m2.K",
                      text=f"coefficient of effect {i} at its usual brix")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        for one in super().settings():
            stem, _, last = one.address.rpartition(".")
            yield replace(one, address=f"{stem}.{USUAL_BRIX}") if last == "htc_set" else one

    @property
    def _usual(self) -> bool:
        """Whether it is the evaporator whose usual running the figures above are."""
        return self.count == len(REFERENCE_BRIX)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from super().equations(q)
        for i in range(1, self.count + 1):
            usual = REFERENCE_BRIX[i - 1] if self._usual else 0.4
            thin = usual / read(q, f"effect.{i}.juice").brix
            yield Eq(f"effect {i}: coefficient at its brix",
                     q[f"effect.{i}.htc"] - q[reference_htc(i)] * thin**FALL_WITH_BRIX,
                     1e3, "invented for the demonstration")  # fmt: skip

    def inverts(self, q: Quantities, i: int) -> Quantity:
        if not self._usual:
            return super().inverts(q, i)
        heat = exp((q[f"effect.{i}.temperature"] - HEATS[i - 1]) / FOLD)
        time = FLOWS[i - 1] / read(q, f"effect.{i}.juice").mass
        return q[f"effect.{i}.inversion"] * heat * time

    def start(self, s: dict[str, float]) -> None:
        super().start(s)
        for i, effect in enumerate(self.effects, 1):
            s[reference_htc(i)] = effect.htc


@dataclass(frozen=True)
class OwnSteam(SteamMain):
    """A steam main with drops, pumps and fans of its own; the vacuum behind the set stands."""

    last: int = len(HEATS)  # effect whose vapour goes to the condenser

    def table(self) -> Iterator[Var]:
        yield from (v for v in super().table() if v.name != BEHIND)

    def drop(self, q: Quantities, behind: str) -> Quantity:
        heat = (q["boiler.steam.temperature"] + 273.15) / (LIVE_HEAT + 273.15)
        live = q["boiler.steam.pressure"] / LIVE
        if behind == BEHIND:
            return TO_VACUUM * heat + DROP_WITH_PRESSURE * log(live)
        return DROP * heat + DROP_WITH_PRESSURE * log(live * EXHAUST / q[behind])

    def pumps_and_fans(self, q: Quantities) -> Quantity:
        last = f"effect.{self.last}.vapour"
        rise = RISE + q[f"{last}.temperature"] - VACUUM
        water = q[f"{last}.flow"] / VAPOUR * RISE / rise
        air = q["boiler.fuel.flow"] / FUEL * q["boiler.air_ratio"] / AIR
        in_step = read(q, "cane", RAW_JUICE).mass / CANE
        return PUMPS * (water**PUMPS_POWER - in_step) + FANS * (air**FANS_POWER - in_step)


OWN: dict[type, type] = {
    Cane: OwnCane, Tandem: OwnTandem, Clarifier: OwnClarifier, Filters: OwnFilters,
    Evaporator: OwnEvaporator, SteamMain: OwnSteam,
}  # fmt: skip


def reference_htc(effect: int) -> str:
    """Address of an effect's coefficient at its usual brix."""
    return f"effect.{effect}.{USUAL_BRIX}"


def true_works(settings: Settings) -> tuple[Equations, dict[str, float], Works]:
    """Equations of the true plant, what an hour of it sets, and its stations."""
    works = stations_of(settings)
    more: dict[type, dict[str, Any]] = {SteamMain: {"last": works.evaporator.last}}
    own = Works(tuple(
        OWN[type(s)](**_parts(s), **more.get(type(s), {})) if type(s) in OWN else s
        for s in works.stations
        # What only hangs downstream moves nothing in the truth; what the balances lean on stays.
        if not isinstance(s, Downstream) or s.closes
    ))  # fmt: skip
    system, set_values = join(
        own, assumed_by(settings, own), lambda w, q: reports(of_stations(w.roles), q)
    )
    # The back-pressure set follows the exhaust demand: its governor leaves a little let-down.
    del set_values["power.back_pressure"]
    set_values["let_down.flow"] = 6.2 / 3.6
    return system, set_values, own


def _parts(station: Any) -> dict[str, Any]:
    return {f.name: getattr(station, f.name) for f in fields(station) if f.init}
