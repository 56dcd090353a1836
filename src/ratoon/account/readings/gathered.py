"""A period's records made ready for the plant: what gathering hands to the account."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from ratoon.base.records import Decision, Period, Reading


class NoteKind(StrEnum):
    """What a note of the account tells."""

    UNREAD = "unread"  # a stock that was not read at an end of the period
    COVERAGE = "coverage"  # a reading that covers less than the period
    WEEKLY = "weekly"  # an analysis of the week stands for the day's
    UNRECORDED = "unrecorded"  # days of which nothing was recorded
    SET_ASIDE = "set aside"  # readings that a day set aside enter with what its account found
    UNSETTLED = "not accounted"  # days whose own account is not made, so enter as they were read
    DRIFT = "drift"  # a reading that a week or season saw drift counts with that much more error
    AT_BOUND = "at a limit"  # a quantity that the readings ask to be more than it can be
    REFUSED = "refused"  # a stretch that cannot be accounted


class WhyNot(StrEnum):
    """Why a row is kept and not used."""

    UNCERTAIN = "no uncertainty"  # none is stated
    COVERAGE = "coverage"  # it covers too little of the period
    NO_CANE = "no cane"  # no cane was crushed
    TWICE = "twice"  # a row over a longer time, or of the stock itself, is used
    INCOMPLETE = "incomplete"  # another tank of the stock was not read
    NOTED = "noted"  # it carries no weight in a balance
    SET_ASIDE = "set aside"  # the other readings speak against it, or a person does


@dataclass(frozen=True, slots=True)
class Note:
    """Words on how a period was read; `about` is the address that they are about."""

    kind: NoteKind
    words: str
    about: str = ""


@dataclass(frozen=True, slots=True)
class NotUsed:
    """A row that is kept and not used, and why: as a kind and in words."""

    row: Reading
    kind: WhyNot
    why: str


UNDOUBTED = "no sigma is stated, in the row or in the mill file"
"""Why a row without uncertainty is not used, in words."""


@dataclass
class Gathered:
    """A period's records made ready for the plant.

    Attributes
    ----------
    readings : for the reconciliation, inside units.
    origins : the rows behind each plant reading's address.
    constants : hours and other exact figures. crushing, whole : seconds.
    shown : readings kept but not used, with the reason. notes : how it was read.
    stood : stretches in which the mills stood. amounts : on a day without cane, what flowed all the
    same, by address: amount, its random and its common standard uncertainty. lost : hours lost by
    cause, where no clock times were kept. recorded : something was read or a stop was written down;
    without it nobody knows whether cane was crushed. unrecorded : seconds of a stretch's days of
    which nothing was. unavailable : seconds stood as planned, or for want of cane.
    """

    period: Period
    crushing: float
    evaporator: float
    readings: list[Reading] = field(default_factory=list)
    origins: dict[str, list[Reading]] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)
    shown: list[NotUsed] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    stood: list[tuple[datetime, datetime]] = field(default_factory=list)
    amounts: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    lost: dict[str, float] = field(default_factory=dict)
    recorded: bool = True
    unrecorded: float = 0.0
    unavailable: float = 0.0
    decisions: dict[str, Decision] = field(default_factory=dict)
    settled: frozenset[str] = frozenset()
    unsettled: bool = False

    def note(self, kind: NoteKind, words: str, about: str = "") -> None:
        """Add a note."""
        self.notes.append(Note(kind, words, about))

    def keep(self, kind: WhyNot, why: str, *rows: Reading) -> None:
        """Keep rows that are not used."""
        self.shown += [NotUsed(row, kind, why) for row in rows]

    @property
    def whole(self) -> float:
        """Gross time [s]: the period without its days that were not recorded."""
        return self.period.seconds - self.unrecorded

    def seconds(self, hours: str) -> float:
        """How long a station ran, by what the mill file calls the hours of its readings [s]."""
        return {"crushing": self.crushing, "evaporator": self.evaporator, "period": self.whole}[
            hours
        ]

    def crushed_within(self, begin: datetime, end: datetime) -> float:
        """Crushing time inside a stretch [s]."""
        begin, end = max(begin, self.period.start), min(end, self.period.end)
        length = max((end - begin).total_seconds(), 0.0)
        for a, b in self.stood:
            length -= max((min(b, end) - max(a, begin)).total_seconds(), 0.0)
        return max(length, 0.0)
