"""Plain records of seasons, shared by all rooms: a mill day in short form, a zone as it was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

RAIN = "rain"
"""Address of the rain in a mill day: decades of it are on record, and make no mill day."""
UNDATED = date.min
"""When a plan was made whose rows do not say it."""
HOURS = ("planned", "rain_lost", "no_cane")


@dataclass(frozen=True, slots=True)
class MillDay:
    """One mill day of a season in short form; a figure that was not kept is None.

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


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFigures:
    """What a plan can set; a figure that it does not set is None.

    Parameters
    ----------
    cane, sugar : [t]. ccs, fibre : [% cane]. rate : [t/h]. hours : of crushing [h].
        extraction, recovery : of pol, by mills and boiling house [%]. sugar_price : [money/t
        sugar]. cane_price : [money/t cane]. other_cost : [money].
    """

    cane: float | None = None
    ccs: float | None = None
    fibre: float | None = None
    rate: float | None = None
    hours: float | None = None
    extraction: float | None = None
    recovery: float | None = None
    sugar: float | None = None
    sugar_price: float | None = None
    cane_price: float | None = None
    other_cost: float | None = None


@dataclass(frozen=True, slots=True)
class PlanWeek(PlanFigures):
    """One mill week of a plan (a budget) as it was made.

    Parameters
    ----------
    made : the day on which the plan was made; its weeks together are the plan of that day.
    week : first mill day of the week.
    """

    made: date
    week: date
    source: str = ""

    LIMITS: ClassVar = (
        ("cane", 0.0, 1e6, "t"), ("ccs", 1.0, 30.0, "%"), ("fibre", 5.0, 40.0, "%"),
        ("rate", 1.0, 5000.0, "t/h"), ("hours", 0.0, 169.0, "h"),
        ("extraction", 50.0, 100.0, "%"), ("recovery", 50.0, 100.0, "%"),
        ("sugar", 0.0, 1e6, "t"), ("sugar_price", 0.0, 1e7, "money/t"),
        ("cane_price", 0.0, 1e7, "money/t"), ("other_cost", -1e12, 1e12, "money"),
    )  # fmt: skip
    """Least and largest that each can be, and its unit: a share of one for per cent is a slip."""


@dataclass(frozen=True, slots=True)
class CostRow:
    """What the mill booked to an account for a mill week.

    Parameters
    ----------
    week : first mill day of the week. amount : in `unit`: "money", or "money/t" of cane crushed.
    """

    week: date
    account: str
    amount: float
    unit: str = "money"
    note: str = ""
