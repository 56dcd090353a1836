"""One period accounted: readings of the period through the plant's equations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ratoon.account.mill import Mill
from ratoon.account.readings.gathered import Gathered, NoteKind
from ratoon.account.readings.levels import about_usual
from ratoon.account.trust.set_aside import CANNOT_BE, PAST, Settled, Settling
from ratoon.base import units
from ratoon.base.records import Figure, FigureKind, Reading
from ratoon.base.words import capital
from ratoon.equations import Reconciled
from ratoon.equations.records import Suspect
from ratoon.plant.stations.stocks import WEIGHED, called_of, without_end

Z95 = 1.959964  # standard normal, 97.5 %
SOUND = 0.01
"""Probability of the global test below which the readings contradict one another.

Then every uncertainty is told wider, by the root of the statistic over its degrees of freedom."""
LOOSE = 10.0
"""Times its stated uncertainty with which an assumption counts whose set is left out."""
FAR = 3.0
"""Times the most, and part of the least, of a usual range beyond which no reading can be."""
RESTS = 0.5  # share of variance from assumptions above which a figure rests on them


@dataclass
class PeriodAccount:
    """A period with its answer; `answer` is None where no cane was crushed."""

    mill: Mill
    gathered: Gathered
    answer: Reconciled | None
    settled: Settled | None = None

    @property
    def aside(self) -> Mapping[str, Suspect | None]:
        """What is set aside, by address, and as which suspect; None by a person's word."""
        return self.settled.aside if self.settled else {}

    @cached_property
    def with_all(self) -> PeriodAccount | None:
        """The account with every reading; None where they have no answer together."""
        if not self.aside or self.settled is None or self.settled.whole is None:
            return None
        return PeriodAccount(self.mill, self.gathered, self.settled.whole)

    @property
    def charted(self) -> Reconciled | None:
        """The answer that charts follow: with every reading, unless one of them bends it all."""
        whole = self.settled.whole if self.settled else None
        if whole is None or whole.forced or not self.aside:
            return self.answer
        far = max((abs(r.standardised or 0.0) for r in whole.readings), default=0.0)
        return whole if far < CANNOT_BE else self.answer

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """What the others speak against: what is set aside for it first, then what still counts."""
        aside = {id(s): s for s in self.aside.values() if s is not None}
        return (*aside.values(), *(self.answer.suspects if self.answer else ()))

    def figure(self, address: str) -> Figure:
        """A figure in the trade's unit; value None when the readings do not determine it."""
        info = self.mill.addresses.get(address)
        short = address.removeprefix("account.")
        if info is None:
            lacking = self.mill.figures.get(address)
            name, unit = (
                (lacking.text, lacking.trade) if lacking else (short.replace("_", " "), "%")
            )
            return Figure(address, name, None, None, unit, "not determined")
        hours = self._hours(address)
        if hours is not None:
            return Figure(address, info.name, hours, None, info.unit, "set")
        if self.answer is None or not self.answer.determined(address):
            return Figure(address, info.name, None, None, info.unit, "not determined")
        spread_over = self.seconds_of(address, info.unit)
        value = units.from_inside(self.answer.value(address) * spread_over, info.unit)
        sigma = self.answer.sigma(address)
        spread = None
        if sigma is not None:
            spread = units.spread_from_inside(sigma * spread_over, info.unit)
        return Figure(address, info.name, value, spread, info.unit, self._kind(address))

    @property
    def found_aside(self) -> dict[str, tuple[float, float] | None]:
        """What the account finds at each reading set aside, and its sigma [inside units]."""
        read = {r.address for r in self.gathered.readings if r.kind == "measured"}
        return {a: (self.answer.value(a), self.answer.sigma(a) or 0.0)
                if self.answer is not None and self.answer.determined(a) else None
                for a in self.aside if a in read}  # fmt: skip

    def seconds_of(self, address: str, unit: str) -> float:
        """What turns a mean over the crushing hours into a total, where `unit` is that of one."""
        total = units.is_total_of(self.mill.plant.equations.unit_of(address), unit)
        return self.gathered.crushing if total else 1.0

    def _hours(self, address: str) -> float | None:
        if address == "account.hours":
            return self.gathered.crushing / 3600.0
        if address == "account.lost_time":
            return (self.gathered.whole - self.gathered.crushing) / 3600.0
        if address == "account.time_efficiency":
            return 100.0 * self.gathered.crushing / self.gathered.whole
        if address == "account.lost_on_available":
            available = max(self.gathered.whole - self.gathered.unavailable, 1.0)
            return 100.0 * max(1.0 - self.gathered.crushing / available, 0.0)
        return None

    def _kind(self, address: str) -> FigureKind:
        assert self.answer is not None
        if self.rests_on_assumptions(address):
            return "assumed"
        known = self.mill.figures.get(address)
        read = known is not None and known.reading in self.read_addresses
        return "measured" if read else "found"

    @cached_property
    def read_addresses(self) -> frozenset[str]:
        return frozenset(r.address for r in self.gathered.readings
                         if r.kind == "measured" and r.address not in self.aside)  # fmt: skip

    @cached_property
    def assumed_addresses(self) -> frozenset[str]:
        if self.answer is None:
            return frozenset()
        return frozenset(r.address for r in self.answer.readings if r.kind == "assumed")

    def rests_on_assumptions(self, address: str) -> bool:
        """True when more than half of the figure's variance comes from assumptions."""
        if self.answer is None:
            return False
        return self.answer.assumed_share(address) > RESTS


def account(
    mill: Mill, gathered: Gathered, start: Mapping[str, float] | None = None
) -> PeriodAccount:
    """Account a period.

    Parameters
    ----------
    start : where to begin; by default at the hand calculation of the plant.

    Raises
    ------
    RatoonError : the readings have no answer together; the line names them.
    """
    if gathered.crushing <= 0.0 or not any(r.kind == "measured" for r in gathered.readings):
        return PeriodAccount(mill, gathered, None)
    said = gathered.decisions.values()
    settled = Settling(
        gathered.readings,
        lambda readings, begin: _reconciled(mill, gathered, readings, begin or start),
        lambda readings: _first_look(mill, gathered, readings),
        lambda readings: _from_usual(mill, readings),
        lambda address: _instead(mill, gathered, address),
        tuple(a for a in mill.always if a in mill.plant.addresses),
        frozenset(d.address for d in said if not d.set_aside),
        frozenset(d.address for d in said if d.set_aside),
        _impossible(mill, gathered),
    ).settle()
    for address in settled.answer.at_bound:
        gathered.note(NoteKind.AT_BOUND, _at_bound(mill, settled.answer, address), address)
    for answer in (settled.answer, settled.whole):
        if answer is not None and (test := answer.global_test).p < SOUND:
            answer.widened = max(1.0, (test.statistic / test.dof) ** 0.5)
    return PeriodAccount(mill, gathered, settled.answer, settled)


def _reconciled(
    mill: Mill, gathered: Gathered, readings: list[Reading], start: Mapping[str, float] | None
) -> Reconciled:
    return mill.plant.reconcile(readings, gathered.constants, start)


def _instead(mill: Mill, gathered: Gathered, address: str) -> Reading | None:
    """What stands in the place of what is left out: a stock's usual level, a loose assumption."""
    if without_end(address) != address:
        return None if called_of(address) in WEIGHED else about_usual(mill, gathered, address)
    var = mill.plant.equations.variables.get(address)
    if var is None or not var.sigma or address in {r.address for r in gathered.readings}:
        return None
    return Reading(address, var.expected, LOOSE * var.sigma, kind="assumed", source=var.source)


def _at_bound(mill: Mill, answer: Reconciled, address: str) -> str:
    """Words on a quantity that would go beyond what its station's table lets it be."""
    info = mill.addresses[address]
    var, at = mill.plant.equations.variables[address], answer.state[address]
    limit = var.low if at - var.low < var.high - at else var.high
    value = units.from_inside(limit, info.unit)
    return (f"{capital(info.name)} stands at its limit of {value:g} {info.unit}: the "
            "readings ask for more; what hangs on it is less sure than it looks.")  # fmt: skip


def _impossible(mill: Mill, gathered: Gathered) -> frozenset[str]:
    """Readings surely outside what their quantity can be."""
    variables = mill.plant.equations.variables
    found = set()
    for r in gathered.readings:
        var, slack = variables.get(r.address), PAST * float(np.hypot(r.sigma or 0.0, r.common))
        if var is not None and not var.low - slack <= r.value <= var.high + slack:
            found.add(r.address)
        info = mill.addresses.get(r.address)
        if info is not None and info.usual is not None:
            low, high = (units.to_inside(x, info.unit) for x in info.usual)
            if not low / FAR - slack <= r.value <= FAR * high + slack:
                found.add(r.address)
    return frozenset(found)


def _first_look(mill: Mill, gathered: Gathered, readings: list[Reading]) -> tuple[Suspect, ...]:
    equations = mill.plant.equations
    usual = mill.plant.usual.values
    return equations.first_look(readings, usual, gathered.constants)


def _from_usual(mill: Mill, readings: list[Reading]) -> Iterator[Suspect]:
    """How far each reading stands off the usual plant, in its own standard uncertainties."""
    usual = mill.plant.usual.values
    for r in readings:
        if r.address in usual and r.sigma:
            off = r.value - usual[r.address]
            score = off / float(np.hypot(r.sigma, r.common))
            yield Suspect(r.address, score, off, (), score**2, 0.0)
