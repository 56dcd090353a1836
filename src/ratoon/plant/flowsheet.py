"""The flowsheet: stations joined into one set of equations, with hand-made starts and scales."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

from ratoon.base.errors import BadInput, UnknownName
from ratoon.equations import Eq, Equations, Report, Var
from ratoon.equations.records import ReportsOf
from ratoon.plant.laws import day_known
from ratoon.plant.roles import Roles
from ratoon.plant.station import Downstream, Station
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.extraction import Extraction
from ratoon.plant.stations.filters import Filters
from ratoon.plant.stations.magma import Magma
from ratoon.plant.stations.pans import PanStage
from ratoon.plant.stations.steam import SteamMain
from ratoon.plant.stations.stocks import Stocks
from ratoon.plant.streams import Quantities, Stream

S = TypeVar("S", bound=Station)
CRUSHING, EVAPORATING, PERIOD = "hours.crushing", "hours.evaporator", "hours.period"
HOURS = {
    CRUSHING: "crushing",
    EVAPORATING: "evaporators at work",
    PERIOD: "the whole period",
}


@dataclass(frozen=True)
class Hours(Station):
    """How long the period, and each station's own work in it, lasted."""

    name: str = "hours"

    def table(self) -> Iterator[Var]:
        for name, text in HOURS.items():
            yield Var(name, "s", 1.0, 1e9, 3600.0, 3600.0, "constant", f"time: {text}", "h")
        yield day_known()


@dataclass(frozen=True)
class Works:
    """The stations of a plant in the order of flow, whatever their number."""

    stations: tuple[Station, ...]

    def all(self, kind: type[S]) -> tuple[S, ...]:
        """The stations of a kind, in the order of flow."""
        return tuple(s for s in self.stations if isinstance(s, kind))

    def one(self, kind: type[S]) -> S:
        """The one station of a kind."""
        (found,) = self.all(kind)
        return found

    @cached_property
    def extraction(self) -> Extraction:
        return self.one(Extraction)

    @cached_property
    def filters(self) -> Filters:
        return self.one(Filters)

    @cached_property
    def evaporator(self) -> Evaporator:
        return self.one(Evaporator)

    @cached_property
    def pans(self) -> PanStage:
        return self.one(PanStage)

    @cached_property
    def steam(self) -> SteamMain:
        return self.one(SteamMain)

    @cached_property
    def magma(self) -> Magma | None:
        """The mingler, where some sugar is not shipped."""
        return next(iter(self.all(Magma)), None)

    @property
    def stocks(self) -> tuple[str, ...]:
        return self.one(Stocks).names

    @property
    def final_bagasse(self) -> str:
        return self.extraction.final_bagasse

    @property
    def letters(self) -> tuple[str, ...]:
        return tuple(g.letter for g in self.pans.grades)

    @cached_property
    def roles(self) -> Roles:
        """What the stations are in the account."""
        return Roles(self.stations)

    def bagacillo(self, q: Quantities) -> Stream:
        return self.filters.bagacillo(q)


@dataclass(frozen=True)
class Default:
    """A mill's own value and uncertainty for a quantity, inside units."""

    value: float | None = None
    sigma: float | None = None
    source: str = ""


def assemble(
    stations: Iterable[Station],
    defaults: Mapping[str, Default] | None = None,
    more_reports: ReportsOf | None = None,
) -> tuple[Equations, dict[str, float]]:
    """Join stations into one set of equations.

    Parameters
    ----------
    stations : in the order of flow, in which the hand calculation goes.
    defaults : the mill's own values of assumed quantities, by address.
    more_reports : function of the symbols that yields further reports.

    Returns
    -------
    The equations, and what a simulation sets by default.
    """
    flowing = list(stations)
    kept = sorted(flowing, key=_listed_at)
    variables = [_with_default(v, defaults or {}) for s in kept for v in s.table()]
    known = {v.name for v in variables}
    starts = {v.name: v.start for v in variables}
    own = {a: d.value for a, d in (defaults or {}).items() if d.value is not None}
    for station in flowing:
        station.start(starts)
        starts.update(own)  # a hand calculation does not overrule what the mill file states
    for name in starts:
        if name not in known:
            raise BadInput("a start is written for a variable that is not in the flowsheet",
                           where=name)  # fmt: skip
    variables = [_started(v, starts[v.name]) for v in variables]

    def equations(q: Quantities) -> Iterator[Eq]:
        for station in kept:
            yield from station.equations(q)

    def reports(q: Quantities) -> Iterator[Report]:
        for station in kept:
            yield from station.reports(q)
        if more_reports is not None:
            yield from more_reports(q)

    set_values: dict[str, float] = {}
    for station in kept:
        set_values.update(station.set_values)
    system = Equations(variables, equations, reports)
    for address in defaults or {}:
        if address not in known and address not in system.reports:
            raise UnknownName("address", address, system.addresses, where="mill.toml")
    return system, set_values


LISTED = ("hours", "cane", "clarifier", "crystalliser", "molasses", "magma", "dryer", "boiler",
          "stocks", "mills", "heater", "filter", "evaporator", "pans", "centrifugal",
          "steam")  # fmt: skip
"""In which order tables are listed, what is not named before what hangs downstream. Where little is
read, it decides which of equal columns is held: kept, so that accounts stay what they were."""


def _listed_at(station: Station) -> int:
    if isinstance(station, Downstream):
        return len(LISTED) + 1
    stem = station.name.partition(".")[0]
    return LISTED.index(stem) if stem in LISTED else len(LISTED)


def _with_default(var: Var, defaults: Mapping[str, Default]) -> Var:
    default = defaults.get(var.name)
    if default is None:
        return var
    value = var.start if default.value is None else default.value
    if not var.low <= value <= var.high:
        raise BadInput("is outside its limits", where=f"mill.toml: {var.name}", value=value,
                       allowed=f"{var.low:g} to {var.high:g} {var.unit}")  # fmt: skip
    usual = value if var.kind == "free" else None  # its start is the stations' to find
    return replace(var, start=value, usual=usual, sigma=default.sigma or var.sigma,
                   source=default.source or var.source)  # fmt: skip


def _started(var: Var, start: float) -> Var:
    """Place the start inside the limits and scale by it, or by how unsure it is."""
    start = min(max(start, var.low), var.high)
    scale = max(abs(start), var.scale if var.scale != 1.0 else 1e-3, var.sigma or 0.0)
    if var.unit in ("m3", "kg"):
        scale = max(scale, 10.0)
    return replace(var, start=start, scale=scale)
