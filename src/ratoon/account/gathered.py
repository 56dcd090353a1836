"""A period's records made ready for the plant: what gathering hands to the account."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from ratoon.base.records import Period, Reading


@dataclass
class Gathered:
    """A period's records made ready for the plant.

    Attributes
    ----------
    readings : for the reconciliation, inside units.
    origins : the rows behind each plant reading's address.
    constants : hours and other exact figures. crushing, whole : seconds.
    shown : readings kept but not used, with the reason. notes : words on coverage.
    stood : stretches in which the mills stood. amounts : on a day without cane, what flowed all the
    same, by address: amount, its random and its common standard uncertainty. lost : hours lost by
    cause, where no clock times were kept. recorded : something was read or a stop was written down;
    without it nobody knows whether cane was crushed. unrecorded : seconds of a stretch's days of
    which nothing was.
    """

    period: Period
    crushing: float
    evaporator: float
    readings: list[Reading] = field(default_factory=list)
    origins: dict[str, list[Reading]] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)
    shown: list[tuple[Reading, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    stood: list[tuple[datetime, datetime]] = field(default_factory=list)
    amounts: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    lost: dict[str, float] = field(default_factory=dict)
    recorded: bool = True
    unrecorded: float = 0.0

    @property
    def whole(self) -> float:
        """Gross time [s]: the period without its days that nobody recorded."""
        return self.period.seconds - self.unrecorded

    def crushed_within(self, begin: datetime, end: datetime) -> float:
        """Crushing time inside a stretch [s]."""
        begin, end = max(begin, self.period.start), min(end, self.period.end)
        length = max((end - begin).total_seconds(), 0.0)
        for a, b in self.stood:
            length -= max((min(b, end) - max(a, begin)).total_seconds(), 0.0)
        return max(length, 0.0)
