"""`Plant`: the plant of one mill, asked what would happen and what did happen."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import cached_property

from ratoon.base.addresses import AddressInfo
from ratoon.base.errors import BadInput, NotSolved, UnknownName
from ratoon.base.records import Reading
from ratoon.base.units import (
    dimension,
    from_inside,
    is_total_of,
    spread_from_inside,
    to_inside,
)
from ratoon.equations import Equations, Reconciled, Solution, Var
from ratoon.plant.build import MoreReports, assumed_by, join, stations_of
from ratoon.plant.declared import LABORATORY, TECHNICIAN, Setting
from ratoon.plant.flowsheet import Works
from ratoon.plant.laws import DAY, KNOWN
from ratoon.plant.stations import stocks
from ratoon.plant.walk import walk, why_not
from ratoon.settings.records import Settings

UNDETERMINED = (
    "undetermined.juice_end",
    "undetermined.evaporators",
    "undetermined.sugar_end",
)


def _reads(info: AddressInfo) -> str:
    """Who reads a quantity of its kind where it is not said: analyses, or meters and gauges."""
    return LABORATORY if info.dimension == "fraction" or info.kind == "noted" else TECHNICIAN


def _unread(var: Var, unit: str) -> tuple[float, float] | None:
    """What an account takes a quantity for where it was not read, and how sure that is."""
    if not var.sigma:
        return None
    return from_inside(var.expected, unit), spread_from_inside(var.sigma, unit)


class Plant:
    """A mill's works.

    Attributes
    ----------
    equations : the set of equations. set_values : what a simulation sets [inside units].
    works : the stations.
    addresses : every address with its name, unit and limits.
    """

    def __init__(self, settings: Settings, more_reports: MoreReports | None = None) -> None:
        self.settings = settings
        self.works: Works
        self.equations, self.set_values, self.works = self._build(more_reports)
        # A noted quantity that a described station knows is read like any other.
        self.noted = {a: u for a, u in settings.noted.items() if a not in self.equations.variables}
        self.addresses = self._addresses()
        self._check_names()

    @cached_property
    def start(self) -> dict[str, float]:
        """The stations' hand calculation at the mill file's own settings: where accounts begin.

        An account finds its way from there as well as from a solved plant, and a day's sheet is
        spared the compiling of a simulation.
        """
        return {name: var.start for name, var in self.equations.variables.items()}

    def _build(self, more: MoreReports | None) -> tuple[Equations, dict[str, float], Works]:
        works = stations_of(self.settings)
        return *join(works, assumed_by(self.settings, works), more), works

    def _addresses(self) -> dict[str, AddressInfo]:
        found: dict[str, AddressInfo] = {}
        for var in self.equations.variables.values():
            unit = var.trade or var.unit or "1"
            low, high = (
                from_inside(x, unit) if abs(x) < 1e12 else None for x in (var.low, var.high)
            )
            if is_total_of(var.unit, unit):
                # Limits of a rate tell nothing of a period's total but its sign.
                low, high = (0.0 if var.low >= 0.0 else None), None
            found[var.name] = AddressInfo(var.name, var.text or var.name, unit, var.kind, low, high,
                                          readable=not var.name.startswith(("hours.", DAY)),
                                         unread=_unread(var, unit))  # fmt: skip
        for report in self.equations.reports.values():
            unit = report.trade or report.unit or "1"
            found[report.name] = AddressInfo(
                report.name, report.text or report.name, unit, "report",
                readable=not report.name.startswith("account."),
            )  # fmt: skip
        for called in self.settings.stocks:
            stock = stocks.KNOWN[called]
            found[f"stock.{called}"] = AddressInfo(
                f"stock.{called}", f"stock of {stock.text}", stock.trade, "stock", 0.0, None,
                level=True,
            )  # fmt: skip
        for address, unit in self.noted.items():
            found[address] = AddressInfo(
                address, address.replace(".", " ").replace("_", " "), unit, "noted"
            )
        for address in ("hours.evaporator", "hours.crushing"):
            found[address] = replace(found[address], readable=True)
        for usual in (one for station in self.works.stations for one in station.usual()):
            if (info := found.get(usual.address)) and dimension(usual.unit) == info.dimension:
                low, high = (round(from_inside(to_inside(x, usual.unit), info.unit), 9)
                             for x in (usual.low, usual.high))  # fmt: skip
                found[usual.address] = replace(info, usual=(low, high))
        for check in (one for station in self.works.stations for one in station.checks()):
            if info := found.get(check.address):
                found[check.address] = replace(info, check=check.words, owner=check.who)
        return {a: self._with_settings(i) for a, i in found.items()}

    def _with_settings(self, info: AddressInfo) -> AddressInfo:
        setting = self.settings.readings.get(info.address)
        info = replace(info, owner=(setting and setting.owner) or info.owner or _reads(info))
        if setting is None:
            return replace(info, sigma_known=False)
        known = setting.sigma is not None or setting.relative is not None
        return replace(
            info,
            low=info.low if setting.low is None else setting.low,
            high=info.high if setting.high is None else setting.high,
            sigma_known=known,
            check=setting.check or info.check,
        )

    def _check_names(self) -> None:
        for address, setting in self.settings.readings.items():
            if address not in self.addresses:
                raise UnknownName("address", address, self.addresses,
                                  where="mill.toml: readings")  # fmt: skip
            if setting.instrument and setting.instrument not in self.settings.instruments:
                raise UnknownName("instrument", setting.instrument, self.settings.instruments,
                                  where=f"mill.toml: readings.{address}")  # fmt: skip
            if setting.hours not in ("crushing", "evaporator", "period"):
                raise BadInput("unknown hours", where=f"mill.toml: readings.{address}.hours",
                               value=setting.hours, allowed="crushing, evaporator, period",
                               )  # fmt: skip
        for address, chemical in self.settings.chemicals.items():
            where = f"mill.toml: chemicals.{address}"
            if address not in self.addresses or not address.endswith(".used"):
                known = [a for a in self.addresses if a.endswith(".used")]
                raise UnknownName("chemical", address, known, where=where)
            if chemical.on not in ("cane", "juice", "steam", "none"):
                raise BadInput("what it is dosed on", where=f"{where}.on", value=chemical.on,
                               allowed="cane, juice, steam, none")  # fmt: skip
        for address in self.settings.targets:
            if address not in self.addresses:
                raise UnknownName("address", address, self.addresses, where="mill.toml: targets")

    @cached_property
    def usual(self) -> Solution:
        """The plant at the mill file's own settings."""
        return self.equations.solve(self.set_values)

    def day_of(self, figure: Callable[[str], float]) -> dict[str, float]:
        """What the laws take of the day from which a solve goes, of its figures [inside units]."""
        stands = {a: s.still for a, s in self.declared.items() if a.startswith(DAY)}
        return {KNOWN: 1.0, **{a: figure(still) for a, still in stands.items()}}

    def solve(
        self, given: Mapping[str, float] | None = None, start: Mapping[str, float] | None = None
    ) -> Solution:
        """What would happen with `given` [inside units] instead of what the mill file sets.

        A figure that has a set point (liquor brix, a heater's outlet, a massecuite's purity) is
        given as its set point: the answer says where it could not be held. Laws go by the day
        whose figures are given with it (`day_of`), else by the mill file's own settings.
        """
        if not given:
            return self.usual
        wanted = {self.set_point_of(a): v for a, v in given.items()}
        day = {} if KNOWN in wanted else self.day_of(self.usual.__getitem__)
        whole = {**self.set_values, **day, **wanted}
        try:
            return self.equations.solve(whole, start)
        except NotSolved as first:
            if start is not None:
                try:
                    return self.equations.solve(whole)
                except NotSolved:
                    pass
            found = walk(self.equations, self._begin(whole), whole)
            if found.arrived is None:
                raise why_not(self.equations, found, first) from None
            return found.arrived

    def _begin(self, whole: Mapping[str, float]) -> Solution:
        """The usual works, with the day by which the laws of a solve go."""
        day = {a: v for a, v in whole.items() if a.startswith(DAY)}
        return replace(self.usual, values={**self.usual.values, **day})

    @cached_property
    def declared(self) -> dict[str, Setting]:
        """What can be set, by address, in the order of the stations."""
        return {s.address: s for station in self.works.stations for s in station.settings()}

    @cached_property
    def _points(self) -> dict[str, str]:
        return {s.holds: s.address for s in self.declared.values() if s.holds}

    def set_point_of(self, address: str) -> str:
        """The set point by which a figure is set, or the address itself."""
        return self._points.get(address, address)

    def held_by(self, point: str) -> str:
        """The figure that a set point holds, or that a law takes from the day; else the address."""
        found = self.declared.get(point)
        if found and point.startswith(DAY):
            return found.still
        return found.holds or point if found else point

    def settable(self) -> list[str]:
        """What a trial can set: settings, the figures that set points hold, what is assumed."""
        assumed = [v.name for v in self.equations.variables.values() if v.kind == "assumed"]
        return [a for a in (*self.set_values, *self._points, *assumed)
                if a not in self.declared or not self.declared[a].still]  # fmt: skip

    def reconcile(
        self,
        readings: Iterable[Reading],
        constants: Mapping[str, float] | None = None,
        start: Mapping[str, float] | None = None,
    ) -> Reconciled:
        """What did happen: `readings` in inside units, flows as means over crushing hours.

        It begins at `start`; by default at the stations' hand calculation.
        """
        return self.equations.reconcile(readings, start, constants, leaks=UNDETERMINED, sizes=True)
