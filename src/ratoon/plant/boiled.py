"""What stations declare of the exhaustion of molasses: steps, feeds, curing, cooling."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """A step on the way of a grade's mother liquor: by how much it lowers its purity.

    Parameters
    ----------
    before, after : addresses of the purity. moved, by : what changes the step where a unit of it is
        priced, and how far [inside unit]. look : what to look at where the step has lost.
    """

    grade: str
    what: str
    before: str
    after: str
    moved: str
    by: float
    look: str

    @property
    def name(self) -> str:
        return f"{self.grade} {self.what}"


@dataclass(frozen=True, slots=True)
class Curing:
    """Addresses of a grade's curing: massecuite, sugar that it gives, wash, crystal lost."""

    grade: str
    volume: str
    purity: str
    pol: str
    wash: str
    lost: str


@dataclass(frozen=True, slots=True)
class Cools:
    """Addresses of the cooling of a massecuite: temperatures, time, fall in an hour."""

    dropped: str
    leaves: str
    time: str
    in_an_hour: str


@dataclass(frozen=True, slots=True)
class Feed:
    """What goes into a grade's massecuite: dry substance [kg/s] and purity [kg/kg]."""

    grade: str
    name: str
    dry: float
    purity: float
