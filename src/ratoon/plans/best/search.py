"""The settings of a day's plant that earn the most under every limit, and what each limit costs.

What may be set, and how far, is what the mill file says under ``[best.free]`` and nothing else. The
day itself is always allowed: a range is widened to hold its value, a limit raised to what was run.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ratoon.account.money.earned import Term, costs, earned, terms
from ratoon.account.results.moves import RegimeName
from ratoon.base import units
from ratoon.base.errors import BadInput, UnknownName
from ratoon.equations.best import Search
from ratoon.equations.elastic import Elastic
from ratoon.equations.prices import Best, NoneFound
from ratoon.equations.reduced import Reduced
from ratoon.plans.best.asked import AN_HOUR, ROOM, Aim, Bound, Found, Numbers, Rate, bounds_of
from ratoon.plans.best.result import BestTerm, Blocking, SolverName

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.settings.records import BestSettings, RangeSettings

CLEAR = 0.02  # of its range: a set point so far past its figure is out of the way
BOUND = 1e-9  # $/s for a limit's whole scale: a smaller price is none


class NoBestFound(NoneFound):
    """No best settings near the day; `asked` is the question that `search` was asked."""

    def __init__(self, what: str, search: MillSearch, asked: Found) -> None:
        super().__init__(what)
        self.search, self.asked = search, asked


class MillSearch:
    """The search for the best settings of one mill, compiled once.

    Parameters
    ----------
    stated : ranges and limits, as a mill file has them. more : addresses whose limits a person
        states beside those. solver : which one looks for the best.

    Raises
    ------
    BadInput, UnknownName : a mill file without ranges or prices, an unknown address or
        that cannot be set.
    """

    def __init__(self, mill: Mill, stated: BestSettings, more: tuple[str, ...] = (),
                 solver: SolverName = "ipopt") -> None:  # fmt: skip
        self.mill, self.plant, self.stated, self.solver = mill, mill.plant, stated, solver
        if not stated.free:
            raise BadInput("nothing may be set", where="mill.toml: best.free",
                           todo="State what may be set and how far, and whose word that is; see "
                           "how-to/best.md.")  # fmt: skip
        self.rate = self.mill.roles.at("{cane}.rate")
        self.free = dict(self._ranges("free", stated.free))
        self.limits = {**self._loads(), **dict(self._ranges("limits", stated.limits))}
        self._rate_what_is_free()
        for address in more:
            self._known(address, "--limit")
            self.limits.setdefault(address, Bound(-math.inf, math.inf, -math.inf, math.inf, ""))
        self.hour_cost = mill.settings.season.hour_cost
        self.terms: tuple[Term, ...] = (
            *terms(mill.roles, mill.settings.prices), *costs(mill.roles, mill.settings)
        )  # fmt: skip

    def _rate_what_is_free(self) -> None:
        """A rating of what people set is the end of its range, and no limit beside it."""
        for one in (x for station in self.plant.works.stations for x in station.limits()):
            bound = self.free.get(one.address)
            if bound is not None and isinstance(one.at, float) and one.side == "at most":
                high = min(bound.high, one.at)
                self.free[one.address] = replace(bound, high=high, rated_high=high)
                self.limits.pop(f"{one.address}.load", None)

    def _known(self, address: str, where: str) -> str:
        if address not in self.plant.addresses or address not in {*self.plant.equations.addresses}:
            raise UnknownName("address", address, self.plant.equations.addresses, where=where)
        return address

    def _ranges(self, key: str, stated: Mapping[str, RangeSettings]) -> Iterator[tuple[str, Bound]]:
        can = set(self.plant.settable())
        for address, one in stated.items():
            where = f"mill.toml: best.{key}.{address}"
            figure = self.figure(self._known(address, where))
            if key == "free" and address not in can:
                raise UnknownName("address to set", address, can, where=where)
            if key == "free" and (one.low is None or one.high is None):
                raise BadInput("needs low and high", where=where)
            low, high = self.inside(figure, one.low, one.high, where)
            yield figure, Bound(low, high, low, high, one.source)

    def inside(
        self, address: str, low: float | None, high: float | None, where: str
    ) -> tuple[float, float]:
        """A range in the address's trade unit, as limits in the inside unit."""
        unit = self.plant.addresses[address].unit
        found = (-math.inf if low is None else units.to_inside(low, unit),
                 math.inf if high is None else units.to_inside(high, unit))  # fmt: skip
        if not found[0] <= found[1]:
            raise BadInput(f"low {low:g} is above high {high:g}", where=where)
        return found

    def _loads(self) -> dict[str, Bound]:
        """A station's load is at most 1, and bagasse does not run out."""
        found = {
            one.address: Bound(-math.inf, 1.0, -math.inf, 1.0, "rating of the mill file", True)
            for station in self.plant.works.stations for one in station.limits()
            if one.is_load
        }  # fmt: skip
        for address in self.plant.works.roles.named("bagasse stored"):
            found[address] = Bound(0.0, math.inf, 0.0, math.inf, "fuel for tomorrow", True)
        return found

    @property
    def curved(self) -> set[str]:
        """Settings whose curve of money people look at: rate, imbibition, wash, exhaust."""
        roles = self.mill.roles
        return {self.rate, *roles.named("imbibition on fibre"),
                *roles.named("wash of filter cake"), *roles.named("exhaust pressure")}  # fmt: skip

    def figure(self, address: str) -> str:
        """The figure by which a setting is told: what its set point holds, or itself."""
        return self.plant.held_by(self.plant.set_point_of(address))

    def held_at(self, address: str, value: float) -> Bound:
        """The range of a setting that people leave at a value: it may only fall short of it."""
        known = self.free[address]
        if self._sides.get(self.plant.set_point_of(address)) == "below":
            return replace(known, low=min(known.low, value), high=value)
        return known.at(value)

    @cached_property
    def _reduced(self) -> Reduced:
        """The same search, by the solver that looks at what is free alone."""
        return Reduced(self.search, [*self.free])

    @cached_property
    def search(self) -> Search:
        """The compiled search. A control that holds nothing but what is free becomes limits."""
        plant = self.plant
        opened = [name for name, points in self._controls.items()
                  if all(self.figure(p) in self.free for p in points)]  # fmt: skip
        fixed = {*plant.set_values} - {*self.free}
        return Search(
            plant.equations, self._aimed, given=fixed, numbers=("crop", "cost"),
            free=[a for a in self.free if plant.set_point_of(a) == a],
            limited=[*dict.fromkeys([*self.free, *self.limits])], opened=opened,
        )  # fmt: skip

    @cached_property
    def _controls(self) -> dict[str, list[str]]:
        """The set points in each control, by its equation's name."""
        equations = self.plant.equations
        points = {s.address for s in self.plant.declared.values() if s.holds}
        return {e.name: [p for p in equations.names_in(e) if p in points]
                for e in equations.equations if e.sides}  # fmt: skip

    def _aimed(self, q: Mapping[str, Any], numbers: Mapping[str, Any]) -> Any:
        """The aim of `Aim`, with no crop where that number is zero."""
        hurried = numbers["crop"] / self.crop(q)
        held = numbers["crop"] > 0.0
        return (earned(self.terms, q) - numbers["cost"]) * (held * hurried + (1.0 - held))

    def crop(self, values: Mapping[str, Any]) -> Any:
        """Cane that a state crushes [kg/s]."""
        return self.mill.roles.stream("cane", values).mass

    @cached_property
    def _sides(self) -> dict[str, str]:
        """On which side of its set point a figure is where it is not held."""
        regimes = (one for station in self.plant.works.stations for one in station.regimes())
        return {m.point: m.side for regime in regimes for m in regime.misses if m.point}

    def given(self, given: Numbers) -> dict[str, float]:
        """What is fixed: set points of what is free stand clear of it."""
        fixed = {a: v for a, v in given.items() if a not in self.free}
        for address in self.free:
            point = self.plant.set_point_of(address)
            if point != address:
                var = self.plant.equations.variables[point]
                fixed[point] = var.high if self._sides.get(point) == "below" else var.low
        return fixed

    def ask(
        self,
        given: Numbers,
        state: Numbers,
        rate: Rate = "held",
        free: Mapping[str, Bound] | None = None,
        limits: Mapping[str, Bound] | None = None,
    ) -> Found:
        """The best settings of a day's works.

        Parameters
        ----------
        given, state : of the day's account, inside units. rate : as `Rate` says. free, limits :
            ranges in place of the mill file's.
        """
        today = self.plant.solve(given, state)
        ranges = {a: b.holding(today[a]) for a, b in (self.free | dict(free or {})).items()}
        if rate not in ("free", "crop") and self.rate in ranges:
            at = today[self.rate] if rate == "held" else float(rate)
            ranges[self.rate] = ranges[self.rate].at(at)
        held = {a: b.holding(today[a]) for a, b in (self.limits | dict(limits or {})).items()}
        none, aim = Best({}, 0.0, (), 0, 0.0, 0.0, 0.0), AN_HOUR
        if rate == "crop":
            if not self.hour_cost > 0.0:
                raise BadInput("what an hour of the season costs is not stated",
                               where="mill.toml: season.hour_cost",
                               todo="State it, or ask for another rate.")  # fmt: skip
            aim = Aim(float(self.crop(today.values)), self.hour_cost / 3600.0)
        return self.again(Found(today, none, ranges, held, given, aim))

    def again(self, found: Found, start: Numbers | Best | None = None, **at: Bound) -> Found:
        """The same question with other ranges for some of what is free, or other limits."""
        asked = replace(found, free={a: at.get(a, b) for a, b in found.free.items()},
                        limits={a: at.get(a, b) for a, b in found.limits.items()})  # fmt: skip
        try:
            finder = self.search if self.solver == "ipopt" else self._reduced
            best = finder.best(self.given(found.given), bounds_of(asked),
                               start or found.today.values,
                               found.aim.numbers)  # fmt: skip
        except NoneFound as error:
            raise NoBestFound(str(error), self, asked) from None
        return replace(asked, best=best)

    def in_the_way(self, asked: Found) -> tuple[Blocking, ...]:
        """Limits that cannot all be kept where no best state was found."""
        rows = Elastic(self.search).in_the_way(self.given(asked.given), bounds_of(asked),
                                               asked.today.values)  # fmt: skip
        known = self.plant.addresses
        return tuple(
            Blocking(a, known[a].name, side, float(units.from_inside(at, known[a].unit or "1")),
                     known[a].unit)
            for a, side, at in rows
        )  # fmt: skip

    def trade(self, address: str, value: float) -> float:
        """A value of an address in its trade unit."""
        return float(units.from_inside(value, self.plant.addresses[address].unit or "1"))

    def money(self, values: Mapping[str, Any], aim: Aim = AN_HOUR) -> Any:
        """What a state earns an hour, or an hour's cane of the day; of arrays, an array."""
        return aim.of(earned(self.terms, values), self.crop(values)) * 3600.0

    def told_terms(self, found: Found) -> Iterator[BestTerm]:
        """Each line of the money on the day and at best; they add up to it."""
        hours = {}
        for when, values in (("today", found.today.values), ("best", found.best.values)):
            hours[when] = found.aim.crop / float(self.crop(values)) if found.aim.crop else 1.0
        for one in self.terms:
            today, best = (float(one.price * one.amount(s.values)) * 3600.0
                           for s in (found.today, found.best))  # fmt: skip
            yield BestTerm(one.name, one.price, one.unit, one.source, today * hours["today"],
                           best * hours["best"])  # fmt: skip
        if found.aim.crop:
            yield BestTerm("an hour of the season", -self.hour_cost, "h",
                           "mill.toml: season.hour_cost", -self.hour_cost * hours["today"],
                           -self.hour_cost * hours["best"])  # fmt: skip

    def advised(self, found: Found) -> dict[str, float]:
        """What a simulation sets to stand where the best settings are [inside units]."""
        return {**found.given, **dict(self._set(found, a, False) for a in found.free)}

    def _set(self, found: Found, address: str, told: bool = True) -> tuple[str, float]:
        """Set point and value of a setting; clear of its figure where something else holds that.

        What people are `told` stays in its range; a simulation need not, as the figure does.
        """
        point, value = self.plant.set_point_of(address), found.best[address]
        if any(point in points and name in found.best.met
               for name, points in self._controls.items()):  # fmt: skip
            bound = found.free[address]
            clear = CLEAR * (bound.high - bound.low)
            below = self._sides.get(point) == "below"
            var = self.plant.equations.variables[point]
            low, high = (bound.low, bound.high) if told else (var.low, var.high)
            value = min(value + clear, high) if below else max(value - clear, low)
        return point, value

    def handed_back(self, found: Found) -> dict[str, float]:
        """The set points that a person is to set: not of what is held as the day had it."""
        asked = (a for a, b in found.free.items()
                 if b.high > b.low or not math.isclose(found.best[a], found.today[a],
                                                       rel_tol=ROOM))  # fmt: skip
        return dict(self._set(found, a) for a in asked)

    def regime(self, found: Found, rate: Rate) -> tuple[RegimeName, str]:
        """What holds the plant back."""
        binding = {p.address for p in found.best.prices if p.price * 3600.0 > 0.0 and not p.own}
        fuel = set(self.plant.works.roles.named("bagasse stored")) & binding
        if fuel:
            return "fuel-limited", "bagasse is what there is too little of"
        if rate == "crop":
            return "time-limited", (
                "a crop is to be finished: the most from its cane, less what "
                "each hour costs; money is of the cane of an hour today"
            )
        if rate != "free":
            return "cane-limited", "the rate is held: the most from each tonne of cane"
        return "factory-limited", "cane waits: the most an hour that the stations can take"
