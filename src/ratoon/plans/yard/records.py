"""The yard of a mill day as records: what its plan rests on, what is foreseen, what is to be done.

Moments are seconds since the epoch, UTC; masses [t], rates [t/h], shares as fractions. As JSON they
are what is kept of a day and what pages answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ratoon.cane.yard import Turn, YardHour
from ratoon.plans.yard.allotment import Allotted, Limit, Supplier
from ratoon.plans.yard.supply import Ageing


@dataclass(frozen=True, slots=True)
class PastHour(YardHour):
    """The yard at one hour of the records; `way`: cane cut and not yet weighed."""

    way: float


@dataclass(frozen=True, slots=True)
class PlanHour(PastHour):
    """The same with its 95 % interval; `to_come`: not on record yet."""

    low: float
    high: float
    to_come: bool


@dataclass(frozen=True, slots=True)
class FullBin:
    """A full bin in the yard since `came`; `cut`: None when no note says so."""

    tag: str
    consignment: str
    grower: str
    siding: str
    t: float
    burnt: bool
    cut: float | None
    came: float


@dataclass(frozen=True, slots=True)
class OnWay:
    """Cane of a note that was cut and not yet weighed; `travel`: hours from farm to yard."""

    consignment: str
    grower: str
    bins: int
    siding: str
    t: float
    cut: float
    travel: float


@dataclass(frozen=True, slots=True)
class Shift:
    """A harvesting group at work, by its roster."""

    group: str
    start: float
    end: float
    rate: float


@dataclass(frozen=True, slots=True)
class Basis:
    """All that the yard's plan of a mill day rests on.

    Attributes
    ----------
    now : the end of the mill day, or its last record. hours : the yard till then.
    rate, rate_sigma : of the last hour in which the mills ran, and its spread from hour to hour;
        rates : of the hours before now, the last first, None where the mills stood.
    standing : full bins, those weighed first first. empties : when each bin that is empty at the
        mill was tipped; None without records of empties sent out. leads : hours that late parcels
        were on their way. share, share_sigma, share_common : cane that came of cane rostered, its
        spread between groups and days. unmade, made : mill days whose cane was not, and was worked
        out. without : records of which there are none. travel : hours from each siding to the yard.
        sidings : where each grower's cane was filled.
    """

    date: str
    now: float
    hours: tuple[PastHour, ...]
    fleet: int
    payload_t: float
    weighed: bool
    unread: int
    rate: float
    rate_sigma: float
    rates: tuple[float | None, ...]
    standing: tuple[FullBin, ...]
    empties: tuple[float, ...] | None
    on_way: tuple[OnWay, ...]
    leads: tuple[float, ...]
    rosters: tuple[Shift, ...]
    share: float
    share_sigma: float
    share_common: float
    turns: tuple[Turn, ...]
    suppliers: tuple[Supplier, ...]
    unmade: int
    made: int
    without: tuple[str, ...]
    travel: Mapping[str, float]
    sidings: Mapping[str, tuple[str, ...]]

    @property
    def whole_turn(self) -> Turn | None:
        """Turn-round of the bins of all sidings together."""
        return next((t for t in self.turns if t.siding == ""), None)


@dataclass(frozen=True, slots=True)
class Missing:
    """Why no `hour` is foreseen and no `allotment` made: which record is missing, in words."""

    hour: tuple[str, ...]
    allotment: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is foreseen of a yard: hours past and to come, when it runs out, what grows old.

    `runs_out`, `early`, `late`: when, and its 95 % interval, None beyond the hours looked at or
    where records are missing; `chance`: share of draws in which it does; `slower`: the rate at
    which it lasts. `in_yard`, `bins`: what stands in it; `needed`: bins that the rate asks for;
    `band`: the equity limit; `wet`: hours without cutting of each group.
    """

    date: str
    now: float
    missing: Missing
    hours: tuple[PlanHour, ...]
    runs_out: float | None
    early: float | None
    late: float | None
    chance: float
    slower: float
    rate: float
    rate_sigma: float
    rates: tuple[float | None, ...]
    fleet: int
    payload_t: float
    unread: int
    unmade: int
    weighed: bool
    in_yard: float
    bins: int
    on_way: float
    ageing: tuple[Ageing, ...]
    old_hours: float
    needed: int | None
    turns: tuple[Turn, ...]
    sidings: Mapping[str, tuple[str, ...]]
    share: float
    band: float
    wet: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A consignment in the yard: bins, cane, sucrose that it loses [kg/h], hours since cutting."""

    consignment: str
    grower: str
    siding: str
    burnt: bool
    bins: int
    t: float
    loss: float
    age_h: float | None


@dataclass(frozen=True, slots=True)
class Queue:
    """Consignments in the order in which the yard loses least, and what it loses then [kg]."""

    status: str
    rows: tuple[Waiting, ...]
    loss: float | None


@dataclass(frozen=True, slots=True)
class GroupPart:
    """A harvesting group: its growers' season, what it is allotted and can cut, and the price."""

    group: str
    estimate: float
    delivered: float
    share: float | None
    t: float
    left: float
    capacity: float
    price: float


@dataclass(frozen=True, slots=True)
class AllotmentOf:
    """Allotment of the coming day or week; see `ratoon.plans.yard.allotment.Allotment`.

    `behind` is None for a grower. `district`: share of its estimate that it has delivered.
    """

    need: float
    total: float
    short: float
    behind: float | None
    target: float
    district: float | None
    covered_days: int
    rows: tuple[Allotted, ...]
    groups: tuple[GroupPart, ...]
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class YardPlan:
    """The whole plan. `dry`: the plan as rostered, where this one is for wet ground."""

    outlook: Outlook
    parcels: Queue
    today: AllotmentOf
    week: AllotmentOf
    dry: YardPlan | None = None


@dataclass(frozen=True, slots=True)
class YardOfDay:
    """What is kept of a day's yard. `form`: of this record; one of another form is made anew."""

    form: int
    given: Basis
    outlook: Outlook
