"""What the yard's plan rests on beside receival: sidings, rosters of harvesting, empties sent.

Moments are `datetime` in UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class FarmHarvest:
    """Who cuts a farm, and where its bins are filled.

    `travel_h`: usual time from the siding to the mill's yard [h].
    """

    farm: str
    group: str
    siding: str
    travel_h: float


@dataclass(frozen=True, slots=True)
class RosterShift:
    """One shift in which a harvesting group is to cut; `rate_tph`: cane that it cuts [t/h]."""

    group: str
    start: datetime
    end: datetime
    rate_tph: float


@dataclass(frozen=True, slots=True)
class Dispatch:
    """Empty bins sent from the mill to a siding, together."""

    rake: str
    siding: str
    left: datetime
    tags: tuple[str, ...]
