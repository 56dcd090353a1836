"""Plain records of seasons, shared by all rooms: a mill day in short form, a zone as it was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


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
