"""The true plant: the mill's flowsheet with closures that the account does not know.

Heat-transfer coefficients fall as the juice in the effect thickens, so that they move within the
day, where the account finds one figure for the day; turbines know one drop of enthalpy each.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

from ratoon.account.figures import of_stations, reports
from ratoon.equations import Eq, Equations, Var
from ratoon.plant.build import assumed_by, join, stations_of
from ratoon.plant.declared import Setting
from ratoon.plant.flowsheet import Works
from ratoon.plant.station import Downstream
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.steam import BEHIND, SteamMain
from ratoon.plant.streams import Quantities, read
from ratoon.settings.records import Settings

FALL_WITH_BRIX = 0.35
"""Exponent of (reference brix / brix) in a coefficient of heat transfer; invented."""
USUAL_BRIX = "htc_at_usual_brix"
REFERENCE_BRIX = (0.224, 0.283, 0.343, 0.447, 0.68)


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

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from super().equations(q)
        for i in range(1, self.count + 1):
            usual = REFERENCE_BRIX[i - 1] if self.count == len(REFERENCE_BRIX) else 0.4
            thin = usual / read(q, f"effect.{i}.juice").brix
            yield Eq(f"effect {i}: coefficient at its brix",
                     q[f"effect.{i}.htc"] - q[reference_htc(i)] * thin**FALL_WITH_BRIX,
                     1e3, "invented for the demonstration")  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        super().start(s)
        for i, effect in enumerate(self.effects, 1):
            s[reference_htc(i)] = effect.htc


@dataclass(frozen=True)
class OwnSteam(SteamMain):
    """A steam main whose drives and sets know one drop each, whatever the pressures are."""

    to_exhaust: float = 523e3  # J/kg
    to_vacuum: float = 960e3

    def table(self) -> Iterator[Var]:
        yield from (v for v in super().table() if v.name != BEHIND)

    def drop(self, q: Quantities, behind: str) -> float:
        return self.to_vacuum if behind == BEHIND else self.to_exhaust


def reference_htc(effect: int) -> str:
    """Address of an effect's coefficient at its usual brix."""
    return f"effect.{effect}.{USUAL_BRIX}"


def true_works(settings: Settings) -> tuple[Equations, dict[str, float], Works]:
    """Equations of the true plant, what an hour of it sets, and its stations."""
    works = stations_of(settings)
    own = Works(tuple(
        OwnEvaporator(**_parts(s)) if type(s) is Evaporator
        else OwnSteam(**_parts(s)) if type(s) is SteamMain else s
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
