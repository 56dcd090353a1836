"""The ladder of limits: which station holds the rate, what clears it, which holds it next.

Two ladders stand side by side. As run, all settings are held and the rate is raised: each load
passes 1 somewhere. At best, everything that may be set is set again on each rung and the dearest
station is lifted, so that imbibition is not thrown away for rate.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from ratoon.base import units
from ratoon.base.errors import NotSolved, UnknownName
from ratoon.equations.prices import NoneFound
from ratoon.plans.best.asked import Found
from ratoon.plans.best.limits import effects, family, short_of_surface, surfaces
from ratoon.plans.best.result import (
    BestCurve,
    Binding,
    Crossing,
    CurvePoint,
    Equipment,
    LadderResult,
    Lifted,
    Rung,
)
from ratoon.plans.best.search import BOUND, MillSearch

if TYPE_CHECKING:
    from ratoon.settings.records import BestSettings, EquipmentRow

STEP, MOST = 0.02, 1.6  # of the day's rate
MOST_RUNGS = 12
TOGETHER = 1.01  # of a rung's rate: what is lifted below that is one rung
POINTS = 9
FLAT = 0.05  # of the gain


def as_run(search: MillSearch, found: Found) -> Iterator[Crossing]:
    """At which rate each load passes 1 with all settings as on the day, lowest first."""
    plant, address = search.plant, search.rate
    loads = [a for a, b in found.limits.items() if b.station and a.endswith(".load")]
    before, crossed = dict(found.today.values), {}
    for a in loads:
        if before[a] >= 1.0:
            crossed[a] = before[address]
    rate = before[address]
    while rate < MOST * found.today[address] and len(crossed) < len(loads):
        rate += STEP * found.today[address]
        given = {**found.given, plant.set_point_of(address): rate}
        try:
            after = plant.solve(given, before).values
        except NotSolved:
            break
        for a in loads:
            if a not in crossed and after[a] >= 1.0 > before[a]:
                share = (1.0 - before[a]) / (after[a] - before[a])
                crossed[a] = before[address] + share * (after[address] - before[address])
        before = after
    for a, at in sorted(crossed.items(), key=lambda x: x[1]):
        yield Crossing(a, plant.addresses[a].name, units.from_inside(at, "t/h"))


def at_best(search: MillSearch, found: Found, hours: float | None) -> Iterator[Rung]:
    """Rung by rung: the best, the stations that bind, and what lifting the dearest would gain.

    Parameters
    ----------
    hours : crushing hours of a season, by which a gain an hour is told a season.
    """
    lifted: list[str] = []
    for _ in range(MOST_RUNGS):
        binding, above = _binding(search, found), found
        held = _surfaces(search, found)
        rate, money = found.best[search.rate], float(search.money(found.best.values, found.aim))
        rung = Rung(units.from_inside(rate, "t/h"), money, (*binding, *held), tuple(lifted),
                    None, None, None)  # fmt: skip
        told = list(binding)
        while told and above.best[search.rate] <= TOGETHER * rate:
            group = [a for a in found.limits if family(a) == family(told[0].address)]
            free = {a: replace(above.limits[a], high=math.inf) for a in group}
            try:
                above = search.again(above, above.best, **free)
            except NoneFound:
                break
            lifted += group
            told = _binding(search, above)
            binding += [b for b in told if b.address not in {x.address for x in binding}]
        if above is found:
            yield rung
            return
        gain = float(search.money(above.best.values, found.aim)) - money
        dearest = rung.binds[0].address
        more = Lifted(dearest, search.trade(dearest, found.best[dearest]),
                      search.trade(dearest, above.best[dearest]),
                      search.plant.addresses[dearest].unit)  # fmt: skip
        yield replace(rung, binds=(*binding, *held), more=more, gain=gain,
                      gain_a_season=None if hours is None else gain * hours)  # fmt: skip
        found = above


def _surfaces(search: MillSearch, found: Found) -> list[Binding]:
    """A square metre of each effect, where the evaporators hold the plant."""
    if not short_of_surface(search, found):
        return []
    return [Binding(x.address, x.name, x.price, x.per) for x in surfaces(search, found)]


def _binding(search: MillSearch, found: Found) -> list[Binding]:
    """Stations that bind, dearest for a hundredth of their load first; alike ones as one."""
    asked: dict[str, float] = {}
    for price in found.best.prices:
        bound = found.limits.get(price.address)
        if bound is not None and bound.station and price.side == "high" and price.price > BOUND:
            first = next((a for a in asked if family(a) == family(price.address)), price.address)
            asked[first] = asked.get(first, 0.0) + price.price * 3600.0
    rows = [
        Binding(a, search.plant.addresses[a].name,
                p * units.spread_to_inside(1.0, search.plant.addresses[a].unit or "1"),
                search.plant.addresses[a].unit)
        for a, p in asked.items()
    ]  # fmt: skip
    return sorted(rows, key=lambda r: -r.price)


def unlimited(search: MillSearch) -> tuple[str, ...]:
    """Parts of the plant in which nothing has a rating, so that no search is held by them."""
    limited = {a for s in search.plant.works.stations for a in (x.address for x in s.limits())}
    places = [p for s in search.plant.works.stations for p in s.picture()]
    return tuple(dict.fromkeys(
        p.title for p in places if not any(p.hold(a) for a in limited)
    ))  # fmt: skip


def ladder(search: MillSearch, found: Found, day: str, stated: BestSettings) -> LadderResult:
    """Both ladders from a day, and what could be bought."""
    hours = None if stated.season_hours is None else stated.season_hours / 3600.0
    bought = tuple(_bought(search, found, row, hours) for row in stated.equipment)
    return LadderResult(day, tuple(as_run(search, found)), tuple(at_best(search, found, hours)),
                        unlimited(search), bought)  # fmt: skip


def _bought(search: MillSearch, found: Found, row: EquipmentRow, hours: float | None) -> Equipment:
    """The best with one station able to take more."""
    heating = {e.address: e.scales for e in effects(search)}
    if row.lifts in heating:
        setting = heating[row.lifts]
        more = {**found.given, setting: found.given[setting] * (1.0 + row.by)}
        above = search.again(replace(found, given=more), found.best)
    elif row.lifts in found.limits:
        bound = found.limits[row.lifts]
        wider = replace(bound, high=bound.high * (1.0 + row.by))
        above = search.again(found, found.best, **{row.lifts: wider})
    else:
        raise UnknownName("load", row.lifts, [*found.limits, *heating],
                          where="mill.toml: best.equipment")  # fmt: skip
    gain = float(
        search.money(above.best.values, found.aim) - search.money(found.best.values, found.aim)
    )
    return Equipment(row.name, row.cost, gain, None if hours is None else gain * hours,
                     units.from_inside(above.best[search.rate], "t/h"))  # fmt: skip


def curve(search: MillSearch, found: Found, address: str) -> BestCurve | None:
    """The most that can be had with one setting held at each of nine values of its range."""
    bound = found.free[address]
    if not bound.high > bound.low:
        return None
    points = []
    best = found.best[address]
    ats = [bound.low + (bound.high - bound.low) * k / (POINTS - 1) for k in range(POINTS)]
    for side in ([a for a in reversed(ats) if a <= best], [a for a in ats if a > best]):
        start = found.best
        for at in side:  # from the best outwards, until no state holds it
            try:
                start = search.again(found, start, **{address: bound.at(at)}).best
            except NoneFound:
                break
            points.append(_point(search, replace(found, best=start), address))
    points.sort(key=lambda p: p.at)
    if not points:
        return None
    most = float(search.money(found.best.values, found.aim))
    least = most - FLAT * max(most - float(search.money(found.today.values, found.aim)), 0.0)
    unit = search.plant.addresses[address].unit
    flat = _flat(points, search.trade(address, found.best[address]), least)
    return BestCurve(unit, tuple(points), search.trade(address, found.best[address]), flat)


def _flat(points: list[CurvePoint], best: float, least: float) -> tuple[float, float]:
    """How far a setting may stand from its best with money at `least`, linear between points."""
    ends = []
    for side in (
        [p for p in reversed(points) if p.at < best],
        [p for p in points if p.at > best],
    ):
        at, money = best, math.inf
        for p in side:
            if p.money < least:
                if math.isfinite(money):
                    at += (p.at - at) * (money - least) / (money - p.money)
                break
            at, money = p.at, p.money
        ends.append(at)
    return ends[0], ends[1]


def _point(search: MillSearch, found: Found, address: str) -> CurvePoint:
    values, roles = found.best.values, search.mill.roles
    liquor = roles.at("{liquor}.brix")
    return CurvePoint(
        search.trade(address, values[address]), float(search.money(values, found.aim)),
        units.from_inside(roles.stream("sugar", values).mass, "t/h"),
        units.from_inside(sum(values[a] for a in roles.named("exhaust to process")), "t/h"),
        search.trade(liquor, values[liquor]),
        units.from_inside(roles.total("power sent out", values), "MW"),
    )  # fmt: skip
