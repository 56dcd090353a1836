"""Plain records of seasons, shared by all rooms: a mill day in short form, a zone as it was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

RAIN = "rain"
"""Address of the rain in a mill day: decades of it are on record, and make no mill day."""
HOURS = ("planned", "rain_lost", "no_cane")


@dataclass(frozen=True, slots=True)
class MillDay:
    """One mill day of a season in short form; a figure that nobody kept is None.

    Parameters
    ----------
    rain : [mm]. cane, sugar : [t]. ccs : [% cane], a record and never a reading of the balance.
    planned, rain_lost, no_cane : hours stopped as planned, lost to wet ground, lost for want of
        cane otherwise [h].
    """

    date: date
    rain: float | None = None
    cane: float | None = None
    ccs: float | None = None
    sugar: float | None = None
    planned: float | None = None
    rain_lost: float | None = None
    no_cane: float | None = None

    LIMITS: ClassVar = (
        ("rain", 1000.0, "mm"), ("cane", 1e6, "t"), ("ccs", 30.0, "%"), ("sugar", 1e6, "t"),
        ("planned", 25.0, "h"), ("rain_lost", 25.0, "h"), ("no_cane", 25.0, "h"),
    )  # fmt: skip
    """Largest that each can be, and its unit; the smallest is zero."""
    LONGEST: ClassVar = 25.01
    """Hours of a day on which the clocks are put back, and a bit."""


@dataclass(frozen=True, slots=True)
class ZoneRow:
    """A zone of the district as it was known on the day `as_of`.

    Parameters
    ----------
    area, area_cut : [ha]. estimate, cut : [t]. sigma : of the estimate [% of it].
    """

    zone: str
    as_of: date
    area: float
    estimate: float
    sigma: float | None = None
    area_cut: float | None = None
    cut: float | None = None

    OVER: ClassVar = 1.05
    """A zone may be cut by this much of its area: areas are measured; beyond it is a slip."""

    def fault(self) -> tuple[str, str]:
        """The column that cannot be, and why; two empty texts where all can."""
        for name in ("area", "estimate"):
            if not getattr(self, name) > 0.0:
                return name, "is not above zero"
        if (self.area_cut or 0.0) > self.OVER * self.area:
            return "area_cut", f"more is cut than the zone has, {self.area:g} ha (and 5 %)"
        for name in ("sigma", "area_cut", "cut"):
            if (getattr(self, name) or 0.0) < 0.0:
                return name, "is below zero"
        return "", ""
