"""Cane to date: equity of supply, farms, blocks and varieties side by side, held cane, instruments.

A day in short has what such questions need of it, so that a season is read at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from ratoon.cane.bias import cusum
from ratoon.cane.comparison import equity
from ratoon.cane.day_result import BinResult, NearInfraredResult, PathResult
from ratoon.cane.records import Block
from ratoon.cane.sums import Sums
from ratoon.cane.unmix import QUANTITIES

LABELS = ("grower", "farm", "block", "variety", "harvest")
GROUPS = {"farms": "farm", "blocks": "block", "varieties": "variety", "harvest": "harvest"}
Group = tuple[str, str, str, str, str, Sums]
"""Grower, farm, block, variety and harvest of some cane, and its sums."""
_WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class HeldReason:
    """Why a whole consignment is held; `exchange`: what might have been taken for each other."""

    code: str
    text: str
    exchange: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HeldCane:
    """A consignment with cane whose payment waits. `whole`: reasons that hold all of it;
    `bins`: those held by themselves; `note`: grower, farm, block and variety."""

    consignment: str
    grower: str
    kilograms: int
    held_kg: int
    age_hours: float | None
    bins: tuple[BinResult, ...]
    source: str
    date: str
    note: Mapping[str, str]
    whole: tuple[HeldReason, ...]


@dataclass(frozen=True, slots=True)
class DaySums:
    """A mill day's cane in short. `pol_in_cane`: mean of the parcels [kg/kg]; `pay`: by grower,
    kilograms to be paid and the mark of all that they rest on."""

    date: str
    groups: tuple[Group, ...]
    held: tuple[HeldCane, ...] = ()
    near_infrared: NearInfraredResult | None = None
    path: PathResult | None = None
    received_kg: int = 0
    pol_in_cane: float | None = None
    pay: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    weighed: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class GrowerShare:
    """A grower's estimate and what came of it; `ahead_kg`: beyond the district's share."""

    grower: str
    estimate_kg: int
    delivered_kg: int
    share: float | None
    ahead_kg: int


@dataclass(frozen=True, slots=True)
class GroupSupply:
    """Cane of one farm, block, variety or harvest; CCS and fibre in per cent."""

    name: str
    consignments: int
    kilograms: int
    ccs: float | None
    sigma_ccs: float | None
    fibre: float | None
    age_hours: float | None
    oldest_hours: float | None


@dataclass(frozen=True, slots=True)
class SupplyToDate:
    """Shares of estimate delivered against the district's, and cane by farm, block, variety and
    harvest, to date and in the last seven days."""

    until: str
    days: int
    district: float | None
    equity: tuple[GrowerShare, ...]
    to_date: Mapping[str, tuple[GroupSupply, ...]]
    week: Mapping[str, tuple[GroupSupply, ...]]


@dataclass(frozen=True, slots=True)
class RunningSum:
    """The two sides of a running sum, in standard deviations of the days."""

    high: float
    low: float


@dataclass(frozen=True, slots=True)
class InstrumentDay:
    """Laboratory less near-infrared of a day with the running sums, by constituent, to it."""

    date: str
    near_infrared: NearInfraredResult
    path: PathResult | None
    runs: Mapping[str, RunningSum]


def supply_to_date(days: Sequence[DaySums], blocks: Iterable[Block]) -> SupplyToDate:
    """Supply over some days, oldest first, beside the estimates of the register."""
    delivered: dict[str, int] = defaultdict(int)
    for day in days:
        for grower, _, _, _, _, sums in day.groups:
            if grower:
                delivered[grower] += sums.kilograms
    shares = equity(blocks, delivered)
    last = days[-1].date if days else ""
    week = [d for d in days if last and d.date > str(date.fromisoformat(last) - _WEEK)]
    return SupplyToDate(
        last, len(days), shares[0].district if shares else None,
        tuple(GrowerShare(s.grower, s.estimate_kg, s.delivered_kg, s.share, s.ahead_kg)
              for s in shares),
        {name: grouped(days, label) for name, label in GROUPS.items()},
        {name: grouped(week, label) for name, label in GROUPS.items()},
    )  # fmt: skip


def grouped(days: Iterable[DaySums], label: str) -> tuple[GroupSupply, ...]:
    """Cane of some days by one label of its notes, heaviest first."""
    place, by = LABELS.index(label), defaultdict[str, Sums](Sums)
    for day in days:
        for group in day.groups:
            by[str(group[place]) or "not noted"].add(group[-1])
    found = (_group(name, sums) for name, sums in by.items())
    return tuple(sorted(found, key=lambda g: (-g.kilograms, g.name)))


def _group(name: str, sums: Sums) -> GroupSupply:
    def percent(value: float | None) -> float | None:
        return None if value is None else 100.0 * value

    return GroupSupply(
        name, sums.consignments, sums.kilograms, percent(sums.mean_ccs), percent(sums.sigma_ccs),
        percent(sums.mean_fibre), sums.age_hours, sums.oldest if sums.aged else None,
    )  # fmt: skip


def instruments_of(days: Iterable[DaySums]) -> tuple[InstrumentDay, ...]:
    """Day by day: laboratory less near-infrared with its running sum, and the path's lag.

    The running sum is the usual two-sided one in standard deviations of the days, by constituent.
    """
    compared = [(d, d.near_infrared) for d in days if d.near_infrared is not None]
    runs = {name: cusum([getattr(near, name).value for _, near in compared])
            for name in QUANTITIES}  # fmt: skip
    return tuple(
        InstrumentDay(d.date, near, d.path, {name: RunningSum(*runs[name][i]) for name in runs})
        for i, (d, near) in enumerate(compared)
    )
