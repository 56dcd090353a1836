"""Plain records shared by all rooms: readings, periods, stops and figures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Literal

ReadingKind = Literal["measured", "assumed"]
JobKind = Literal["safety", "quality", "loss", "reading"]
FigureKind = Literal["measured", "found", "assumed", "set", "not determined"]


@dataclass(frozen=True, slots=True)
class Period:
    """A stretch of time, in UTC; `end` is not part of it."""

    start: datetime
    end: datetime

    @property
    def seconds(self) -> float:
        """Length of the period [s]."""
        return (self.end - self.start).total_seconds()

    @property
    def hours(self) -> float:
        """Length of the period [h]."""
        return self.seconds / 3600.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure read, or assumed, with its uncertainty.

    Parameters
    ----------
    address : quantity address, such as ``mixed_juice.flow``.
    value : value in inside units (SI, fractions, degC).
    sigma : standard uncertainty, new each time; None when it is not stated (kept, not used).
    common : standard uncertainty that is the same until the instrument is next calibrated.
    instrument : the instrument read; readings of one instrument share its common error.
    kind : "measured", or "assumed" for a figure a mill seldom reads.
    start, end : period in UTC; `end` None for an instant, such as a level.
    unit, given : unit and value as they were written down.
    source : where it came from: file and row, tag or person.
    check : what a person should look at when this reading is suspect.
    entered, entered_by : when, by the machine's clock, and by whose login it came into the records;
        no part of what makes two readings equal.
    """

    address: str
    value: float
    sigma: float | None
    common: float = 0.0
    instrument: str = ""
    kind: ReadingKind = "measured"
    start: datetime | None = None
    end: datetime | None = None
    unit: str = ""
    given: float | None = None
    source: str = ""
    note: str = ""
    check: str = ""
    entered: datetime | None = field(default=None, compare=False)
    entered_by: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Decision:
    """A person's word on a reading of a period: it is set aside, or kept whatever others say."""

    start: datetime
    end: datetime
    address: str
    set_aside: bool
    why: str
    by: str


RUNNING = datetime(9999, 1, 1, tzinfo=UTC)
"""The end of a stop that is not over."""
PART = " > "
"""Between a cause, the equipment below it and its fault: mechanical > carrier 2 > chain broken."""


def main_cause(cause: str) -> str:
    """The cause by which lost time is added up, without the equipment and fault below it."""
    return cause.partition(PART)[0].strip()


@dataclass(frozen=True, slots=True)
class Stop:
    """A stretch of time during which a station stood still; `end` is `RUNNING` until it is over."""

    start: datetime
    end: datetime
    station: str
    cause: str
    note: str = ""

    @property
    def hours(self) -> float:
        """Length of the stop [h]."""
        return (self.end - self.start).total_seconds() / 3600.0

    @property
    def running(self) -> bool:
        """Whether it is not over."""
        return self.end >= RUNNING

    @property
    def parts(self) -> tuple[str, str, str]:
        """Cause, equipment and fault; "" for what is not told."""
        cause, _, rest = self.cause.partition(PART)
        equipment, _, fault = rest.partition(PART)
        return cause.strip(), equipment.strip(), fault.strip()

    def until(self, period: Period, now: datetime) -> Stop:
        """The stop with an end: one that is running counts as far as it has run.

        Where the clock is behind its start it tells nothing: the stop counts for a day at most.
        """
        if not self.running:
            return self
        told = now if now > self.start else self.start + timedelta(days=1)
        return replace(self, end=max(min(told, period.end), self.start))


StopKind = Literal["no cane", "planned", "stop"]
NOT_THE_MILLS = ("no cane", "rain", "foreign matter")


def kind_of_stop(cause: str, station: str = "") -> StopKind:
    """Whether a mill stood for want of cane (or of clean cane), as planned, or by its own fault."""
    text = f"{cause} {station}".lower()
    if any(words in text for words in NOT_THE_MILLS):
        return "no cane"
    planned = "planned" in text and "unplanned" not in text
    return "planned" if planned or "scheduled" in text else "stop"


def joined(stops: Iterable[Stop]) -> list[Stop]:
    """Stops in order, those of one station and cause that follow one another made one.

    Records kept by mill days cut a stop at each day's end; it is one stop all the same.
    """
    made: list[Stop] = []
    open_: dict[tuple[str, str], int] = {}
    for stop in sorted(stops, key=lambda s: (s.start, s.end)):
        key = (stop.station.strip().lower(), stop.cause.strip().lower())
        at = open_.get(key)
        if at is not None and made[at].start < stop.start <= made[at].end:
            made[at] = replace(made[at], end=max(made[at].end, stop.end),
                               note=made[at].note or stop.note)  # fmt: skip
            continue
        open_[key] = len(made)
        made.append(stop)
    return made


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure on a sheet: value and standard uncertainty in the trade's unit, and its origin.

    `value` is None when the readings do not determine it; `sigma` is None when it has no
    uncertainty of its own (a setting) or is not determined.
    """

    address: str
    name: str
    value: float | None
    sigma: float | None
    unit: str
    kind: FigureKind
    notes: tuple[str, ...] = field(default=())
