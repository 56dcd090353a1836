"""What is chosen, not set by degrees: vessels and pans on line, and where bleeds go.

Each is moved one step from the best settings, by itself, with everything else set again; then the
best of them together. A bleed from another effect is another plant, compiled anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property

from ratoon.account.mill import Mill
from ratoon.base.errors import RatoonError
from ratoon.equations.prices import Best
from ratoon.jobs.trial.levers import Lever, levers_of, rerouted, with_vessels
from ratoon.plans.best.asked import Found
from ratoon.plans.best.result import BestChoice
from ratoon.plans.best.search import MillSearch
from ratoon.plant.flowsheet import CRUSHING

Levers = Mapping[str, float]
LEAST = 1.0  # money an hour: a choice that gains less is none


class Choices:
    """Choices beside the best settings of a day.

    Parameters
    ----------
    search, found : the search and the best settings with everything chosen as on the day.
    """

    def __init__(self, search: MillSearch, found: Found) -> None:
        self.search, self.found = search, found
        self._searches: dict[int, MillSearch] = {}

    @cached_property
    def levers(self) -> dict[str, Lever]:
        """What may be chosen, by address."""
        return levers_of(self.search.plant)

    def told(self) -> tuple[BestChoice, ...]:
        """The choices that gain, in the order in which they are best made."""
        alone = {(a, v): self.gain({a: v}) for a, v in self._steps()}
        good = sorted(((g, a, v) for (a, v), g in alone.items() if g > LEAST), reverse=True)
        made: dict[str, float] = {}
        rows, reached = [], 0.0
        for gain, address, value in good:
            if address in made:
                continue
            together = self.gain({**made, address: value}) if made else gain
            if together - reached > LEAST:
                made[address] = value
                rows.append(self._row(address, value, together - reached, gain))
                reached = together
        return tuple(rows)

    def _steps(self) -> Iterator[tuple[str, float]]:
        """One step either way from the day, where vessels are told apart."""
        for address, lever in self.levers.items():
            for value in (lever.day - lever.step, lever.day + lever.step):
                if lever.takes(value) and (lever.counts or lever.step >= 10.0):
                    yield address, value

    def gain(self, levers: Levers) -> float:
        """Money an hour that choices gain, all settings set again; -inf without an answer."""
        best = self._best(levers)
        return -float("inf") if best is None else (best.aim - self.found.best.aim) * 3600.0

    def _best(self, levers: Levers) -> Best | None:
        search, found = self.search, self.found
        given = with_vessels(search.plant, found.given, levers)
        try:
            piped = rerouted(search.mill, levers)
            if piped.works is search.plant:
                return search.again(replace(found, given=given), found.best).best
            other = self._searches.get(id(piped.works))
            if other is None:
                mill = Mill(piped.works.settings)
                mill.__dict__["plant"] = piped.works
                other = MillSearch(mill, search.stated, solver=search.solver)
                self._searches[id(piped.works)] = other
            asked = replace(
                found, given=piped.forth(given),
                limits={a: b for a, b in found.limits.items() if a in other.limits},
            )  # fmt: skip
            return other.again(asked, piped.forth(found.best.values)).best
        except RatoonError:
            return None  # nothing holds with this choice, or nobody may make it

    def _row(self, address: str, value: float, gain: float, alone: float) -> BestChoice:
        lever, hours = self.levers[address], self.found.today.values[CRUSHING] / 3600.0
        return BestChoice(address, lever.name, lever.day, value, lever.unit, gain * hours,
                          alone * hours)  # fmt: skip
