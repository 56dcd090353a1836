"""Hours of crushing with the pools of the account in each, and whose cane came in it.

The pools are those of the accounts of the days; a day without one goes by the nearest. Cane of an
hour is that of the consignments whose juice came then.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.jobs.cane.days import JUICE
from ratoon.jobs.cane.days import KIND as CANE_DAY
from ratoon.jobs.files.stops import GROUPS, station_key
from ratoon.plans.recall.residence import Residence, Shares, residence
from ratoon.plant.build import stations_of
from ratoon.plant.pools import CANE, Pool, pools_of
from ratoon.store.answers import newest_parts, newest_results
from ratoon.store.entries import stops_in

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

HOUR = timedelta(hours=1)
STALE = timedelta(days=3)
"""How far from an accounted day the pools are still taken to be as on it; beyond, and before the
season, nothing is taken to flow."""
STAGES = 4
"""In series that each pool is split into for the other bound of its residence (mill's choice)."""
MILLS = GROUPS[0]
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hours:
    """Hours of crushing, what the pools made of each, and whose cane came in it [kg]."""

    first: datetime
    count: int
    pools: tuple[Pool, ...]
    mixed: Residence
    staged: Residence
    cane: dict[str, dict[int, float]]
    growers: dict[str, str]

    def moment(self, hour: int) -> datetime:
        return self.first + hour * HOUR

    def hour(self, moment: datetime) -> int:
        """The hour in which a moment lies."""
        return int(np.clip((moment - self.first) // HOUR, 0, self.count - 1))

    def window(self, start: datetime, end: datetime) -> Array:
        """Share of each hour that lies between two moments."""
        edges = [(t - self.first) / HOUR for t in (start, max(end, start + timedelta(minutes=1)))]
        hour = np.arange(self.count)
        within = np.minimum(hour + 1, edges[1]) - np.maximum(hour, edges[0])
        return np.asarray(np.clip(within, 0.0, 1.0))

    def of_cane(self, shares: Shares) -> list[tuple[str, float]]:
        """Consignments with their shares; "" for hours whose cane is not known."""
        whole = np.zeros(self.count)
        for came in self.cane.values():
            for hour, kg in came.items():
                whole[hour] += kg
        a_kg = np.divide(shares.by_hour, whole, out=np.zeros(self.count), where=whole > 0.0)
        found = [(name, float(sum(kg * a_kg[hour] for hour, kg in came.items())))
                 for name, came in self.cane.items()]  # fmt: skip
        unknown = float(shares.by_hour[whole <= 0.0].sum())
        return [(name, share) for name, share in [*found, ("", unknown)] if share > 0.0]


def hours_between(opened: OpenMill, start: datetime, end: datetime) -> Hours:
    """The pools and the cane of each hour between two moments."""
    first = start.replace(minute=0, second=0, microsecond=0)
    count = int(np.ceil((end - first) / HOUR)) + 1
    calendar, ask = opened.mill.calendar, opened.store.ask
    moments = [first + n * HOUR for n in range(count)]
    ever = Period(calendar.period(calendar.day_of(first - STALE)).start,
                  calendar.period(calendar.day_of(end + STALE)).end)  # fmt: skip
    days = _days_of(opened, ever)
    run = _running(ask(stops_in, ever), first, count)
    which = [_nearest(days, moment) for moment in moments]
    begun = calendar.period(calendar.first_of_season(calendar.day_of(end))).start
    for hour, (moment, n) in enumerate(zip(moments, which)):
        if moment < begun or _away(days[n], moment) > STALE:
            run[hour] = 0.0  # nobody knows of cane then: what was in the pools is older
    pools = [days[n][1] for n in which]
    flows = {CANE: run * np.array([p[0].flow for p in pools])}
    stocks: dict[str, Array] = {}
    for n, pool in enumerate(pools[0]):
        flows[pool.name] = run * np.array([p[n].flow for p in pools])
        stocks[pool.name] = np.array([_stock(days[d], n, moment)
                                      for d, moment in zip(which, moments)])  # fmt: skip
    joins: list[Any] = [(CANE, pools[0][0].name, 1.0)]
    for n, pool in enumerate(pools[0]):
        for k, (to, _) in enumerate(pool.goes):
            joins.append((pool.name, to, np.array([p[n].goes[k][1] for p in pools])))
    cane, growers = _cane(opened, ever, first, count)
    staged = residence(stocks, flows, joins, stages=STAGES)
    return Hours(first, count, pools[0], residence(stocks, flows, joins), staged, cane, growers)


Day = tuple[Period, tuple[Pool, ...], dict[str, float]]


def _days_of(opened: OpenMill, within: Period) -> list[Day]:
    """Each accounted day with cane: its pools, and what they held at its ends [t]."""
    ask = opened.store.ask
    states = {p: q for p, _, q in ask(newest_parts, "works", "state", within) if q}
    made: list[Day] = []
    for period, _, figures in ask(newest_parts, "works", "figures", within):
        if period not in states:
            continue
        works = stations_of(opened.mill_on(opened.mill.calendar.day_of(period.start)).settings)
        pools = pools_of(works, states[period])
        held = {end: float(figures[end][0]) for pool in pools for end in pool.ends
                if figures.get(end) and figures[end][0] is not None}  # fmt: skip
        if not made or [p.name for p in made[0][1]] == [p.name for p in pools]:
            made.append((period, pools, held))
    if not made:
        raise BadInput("no mill day of these hours is accounted",
                       where=f"{within.start:%Y-%m-%d} to {within.end:%Y-%m-%d}",
                       todo="Account the days: ratoon day DATE.")  # fmt: skip
    return made


def _nearest(days: Sequence[Day], moment: datetime) -> int:
    """The day of a moment, else the one that is nearest."""
    return min(range(len(days)), key=lambda n: _away(days[n], moment))


def _away(day: Day, moment: datetime) -> timedelta:
    """How far a moment is from a day; not above zero inside it."""
    return max(day[0].start - moment, moment - day[0].end)


def _stock(day: Day, pool: int, moment: datetime) -> float:
    """What a pool held at a moment, between the ends of its day; zero where nobody takes stock."""
    period, pools, held = day
    ends = [max(held[a], 0.0) for a in pools[pool].ends if a in held]
    if len(ends) < 2:
        return 0.0
    part = (moment + HOUR / 2 - period.start) / (period.end - period.start)
    return float(np.interp(part, [0.0, 1.0], ends))


def _running(stops: Sequence[Any], first: datetime, count: int) -> Array:
    """Share of each hour in which the mills ran."""
    run = np.ones(count)
    for stop in stops:
        if station_key(stop.station) != MILLS:
            continue
        begin, end = ((t - first) / HOUR for t in (stop.start, stop.end))
        hour = np.arange(count)
        run -= np.clip(np.minimum(hour + 1, end) - np.maximum(hour, begin), 0.0, 1.0)
    return np.clip(run, 0.0, 1.0)


def _cane(
    opened: OpenMill, within: Period, first: datetime, count: int
) -> tuple[dict[str, dict[int, float]], dict[str, str]]:
    """Kilograms of each consignment by the hour in which its juice came, and whose it was."""
    ask = opened.store.ask
    kilograms: dict[str, float] = {}
    growers: dict[str, str] = {}
    for _, _, rows in ask(newest_parts, CANE_DAY, "consignments", within):
        for c in rows or ():
            kilograms[c["consignment"]] = kilograms.get(c["consignment"], 0.0) + c["kilograms"]
            growers[c["consignment"]] = c["grower"]
    seen: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    zero = first.timestamp()
    for result in ask(newest_results, JUICE, within):
        for name, points in result.answer.items():
            for moment, share in points:
                seen[name][int((moment - zero) // 3600)] += share
    made = {}
    for name, hours in seen.items():
        whole = sum(hours.values())
        kg = kilograms.get(name, 0.0)
        inside = {h: kg * s / whole for h, s in hours.items() if 0 <= h < count and s > 0.0}
        if inside and kg > 0.0:
            made[name] = inside
    return made, growers
