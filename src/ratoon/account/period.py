"""One period accounted: readings of the period through the plant's equations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from ratoon.account.gathered import Gathered, NoteKind
from ratoon.account.mill import Mill
from ratoon.base import units
from ratoon.base.errors import RatoonError
from ratoon.base.records import Figure, FigureKind
from ratoon.equations import Reconciled

Z95 = 1.959964  # standard normal, 97.5 %
LITTLE_READ = (
    "Too little was read for an account that stands on readings alone: what nothing tells was held "
    "near its usual level, and figures that lean on that are not determined."
)
RESTS = 0.5  # share of variance from assumptions above which a figure rests on them


@dataclass
class PeriodAccount:
    """A period with its answer; `answer` is None where no cane was crushed."""

    mill: Mill
    gathered: Gathered
    answer: Reconciled | None

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

    def seconds_of(self, address: str, unit: str) -> float:
        """What turns a mean over the crushing hours into a total, where `unit` is that of one."""
        total = units.is_total_of(self.mill.plant.equations.unit_of(address), unit)
        return self.gathered.crushing if total else 1.0

    def _hours(self, address: str) -> float | None:
        if address == "account.hours":
            return self.gathered.crushing / 3600.0
        if address == "account.lost_time":
            return (self.gathered.whole - self.gathered.crushing) / 3600.0
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
        return frozenset(r.address for r in self.gathered.readings if r.kind == "measured")

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
    plant = mill.plant
    try:
        answer = plant.reconcile(gathered.readings, gathered.constants, start or plant.start)
    except RatoonError:
        answer = plant.reconcile(gathered.readings, gathered.constants, None)
    else:
        if answer.is_drawn:
            # Little was read: what it leans on shall be the works as they usually run.
            answer = plant.reconcile(gathered.readings, gathered.constants, None)
    if answer.is_drawn:
        gathered.note(NoteKind.LITTLE_READ, LITTLE_READ)
    return PeriodAccount(mill, gathered, answer)
