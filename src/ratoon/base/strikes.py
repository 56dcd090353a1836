"""Plain records of strikes: what was done to a pan and read of it, and traces against time.

A strike is told row by row, one quantity of one event each. What each event can tell, and the unit
in which a mill writes it, stands in one table.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from ratoon.base import units

Kind = Literal["measured", "found", "assumed"]
FIGURES: dict[str, tuple[str, float, float]] = {
    "volume": ("m3", 0.0, 1000.0), "brix": ("%", 0.0, 100.0), "purity": ("%", 0.0, 100.0),
    "temperature": ("degC", 0.0, 150.0), "crystal": ("%", 0.0, 100.0), "ma": ("mm", 0.0, 10.0),
    "cv": ("%", 0.0, 300.0), "mass": ("kg", 0.0, 1e5), "size": ("um", 0.0, 1e4),
    "flow": ("t/h", 0.0, 1000.0), "pressure": ("kPa a", 0.0, 200.0),
    "steam_pressure": ("kPa a", 0.0, 1000.0), "count": ("", 0.0, 1e9), "fines": ("%", 0.0, 100.0),
    "cycles": ("", 0.0, 1e6), "wash": ("%", 0.0, 1000.0), "charge": ("kg", 0.0, 1e6),
    "level": ("m3", 0.0, 1000.0), "density": ("kg/m3", 500.0, 2000.0),
    "steam_flow": ("t/h", 0.0, 1000.0), "feed_flow": ("t/h", 0.0, 1000.0),
}  # fmt: skip
"""Each quantity's usual unit, and the least and most that it can be in it."""
SIEVE = "retained@"
EVENTS: dict[str, tuple[str, ...]] = {
    "start": ("volume", "brix", "purity", "temperature"),
    "footing": ("volume", "crystal", "ma", "cv", "brix", "purity"),
    "seed": ("mass", "size", "cv"),
    "feed": ("flow", "brix", "purity", "temperature"),
    "cut": ("volume",),
    "set": ("pressure", "steam_pressure"),
    "slide": ("ma", "cv", "count", "fines"),
    "nutsch": ("purity", "brix", "temperature"),
    "runoff": ("purity", "brix", "temperature"),
    "drop": ("volume", "brix", "purity", "temperature", "ma", "cv"),
    "sieve": (SIEVE,),
    "cure": ("cycles", "wash", "charge", "purity"),
}
"""What each event can tell; a sieve's quantity names its aperture in mm: retained@0.85."""
ONCE = ("start", "drop")
"""Events that a strike has once: another time for one is a correction, not a second event."""
TOLD_APART = {"footing": "from", "feed": "of", "cut": "to", "slide": "basis", "cure": "machine"}
"""What in the note makes two events of one moment two."""
TRACED = ("level", "brix", "density", "pressure", "temperature", "steam_flow", "feed_flow")
"""What a trace can follow."""
_TAG = re.compile(r"(?:^|[\s;,])(\w+)=(\S+)")


def usual_unit(quantity: str) -> str:
    """The unit in which a quantity is written where nothing else is said."""
    return "%" if quantity.startswith(SIEVE) else FIGURES[quantity][0]


def limits(quantity: str) -> tuple[float, float]:
    """Least and most that a quantity can be, in its usual unit."""
    return (0.0, 100.0) if quantity.startswith(SIEVE) else FIGURES[quantity][1:]


def aperture(quantity: str) -> float | None:
    """Aperture of a sieve's quantity [mm]; None where it names none above zero."""
    try:
        found = float(quantity.removeprefix(SIEVE))
    except ValueError:
        return None
    return found if 0.0 < found <= 10.0 else None


@dataclass(frozen=True, slots=True)
class StrikeRow:
    """One quantity of one event of a strike.

    Parameters
    ----------
    value, sigma : inside units. unit, given : as it was written. source : file and row.
    """

    strike: str
    pan: str
    grade: str
    event: str
    time: datetime
    quantity: str
    value: float
    sigma: float | None = None
    unit: str = ""
    given: float | None = None
    note: str = ""
    source: str = ""

    @property
    def tags(self) -> dict[str, str]:
        """What the note says in the form ``name=value``."""
        return dict(_TAG.findall(self.note))

    @property
    def key(self) -> str:
        """What makes it one row and no other: a start and a drop are one, whenever."""
        if self.event in ONCE:
            return f"{self.strike} {self.event} {self.quantity}"
        tag = self.tags.get(TOLD_APART.get(self.event, ""), "")
        at = f"{self.time.isoformat()[:19]}Z"
        return f"{self.strike} {self.event} {at} {self.quantity} {tag}".rstrip()


@dataclass(frozen=True, slots=True)
class TraceRow:
    """What the instruments of a pan showed at one moment of a strike, by name, inside units."""

    strike: str
    time: datetime
    values: tuple[tuple[str, float], ...]
    source: str = ""

    @property
    def key(self) -> str:
        return f"{self.strike} {self.time.isoformat()[:19]}Z"


@dataclass(frozen=True, slots=True)
class StrikeFigure:
    """A figure of a strike in its usual unit: read, found from what was read, or assumed."""

    value: float
    sigma: float | None
    unit: str
    kind: Kind


def strike_figure(
    quantity: str, value: float, sigma: float | None, kind: Kind = "measured"
) -> StrikeFigure:
    """A figure as people read it, from inside units."""
    unit = usual_unit(quantity)
    spread = None if sigma is None else units.spread_from_inside(sigma, unit)
    return StrikeFigure(units.from_inside(value, unit), spread, unit, kind)
