"""The yard's plan from what it rests on: hours to come, parcels growing old, order, allotments.

Works from a `Basis` and the mill file alone, so a morning is planned again for wet ground without
reading anything.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from math import isfinite, nan
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput, UnknownName
from ratoon.cane.yard import bins_needed
from ratoon.plans.yard.allotment import Allotment, Supplier, allot
from ratoon.plans.yard.lots import Lot, order_lots
from ratoon.plans.yard.records import (
    AllotmentOf,
    Basis,
    FullBin,
    GroupPart,
    Missing,
    Outlook,
    PlanHour,
    Queue,
    Shift,
    Waiting,
    YardPlan,
)
from ratoon.plans.yard.supply import Cutting, Forecast, Given, Parcel, ageing, forecast

if TYPE_CHECKING:
    from ratoon.settings import Settings

DAY, WEEK = 24.0, 168.0  # h
IDLE = 2.0  # h from tip to sending out, where no empties are recorded
AHEAD = 24
"""Hours looked ahead."""
MOST_WET = 168.0
Wet = Mapping[str, float]
MISSING = {
    "tips": "no tips are on record (layout tips), so what was crushed is not known",
    "consignments": "no notes are on record (layout consignments), so cane on the way is not known",
    "rosters": "no rosters from then on are on record (layout rosters), so cane still to be cut "
               "is not known",
    "harvest": "no harvesting groups are on record (layout harvest), so who cuts what is not known",
    "blocks": "no estimates are on record (layout blocks), so what is left is not known",
}  # fmt: skip
HOUR = ("tips", "consignments", "rosters")
"""Records without which no hour is given at which the yard runs out."""
ALLOTMENT = ("tips", "rosters", "harvest", "blocks")
"""Records without which nobody is allotted any cane."""


def wet_of(text: str, groups: Sequence[str]) -> dict[str, float]:
    """Hours that each group cannot cut, from ``5`` (all of them) or ``Tern=4,Heron=2.5``.

    Raises
    ------
    BadInput, UnknownName : no such hours or group.
    """
    found: dict[str, float] = {}
    for part in (p.strip() for p in text.split(",")):
        if not part:
            continue
        name, sign, hours = part.rpartition("=")
        try:
            wet = float(hours)
        except ValueError:
            wet = nan
        if not 0.0 <= wet <= MOST_WET:
            raise BadInput("no hours that ground can be wet", where="wet", value=part[:60],
                           allowed=f"hours, 0 to {MOST_WET:g}, as 5 or as GROUP=5")  # fmt: skip
        if sign and name.strip() not in groups:
            raise UnknownName("harvesting group", name.strip()[:60], groups, where="wet")
        found |= {name.strip(): wet} if sign else dict.fromkeys(groups, wet)
    return found


def groups_of(given: Basis) -> list[str]:
    """Harvesting groups that are rostered or have cane."""
    return sorted({s.group for s in given.rosters} | {s.group for s in given.suppliers if s.group})


def missing_of(given: Basis) -> Missing:
    """Why no hour is foreseen, and no allotment made."""
    hour, allotment = (
        tuple(MISSING[name] for name in needed if name in given.without)
        for needed in (HOUR, ALLOTMENT)
    )
    return Missing(hour, allotment)


def plan_of(
    given: Basis, settings: Settings, wet: Wet | None = None, outlook: Outlook | None = None
) -> YardPlan:
    """The whole plan; its `outlook` is not made again where it is known."""
    rosters = _rosters(given, wet)
    return YardPlan(
        outlook or outlook_of(given, settings, wet), _parcels(given, settings),
        _allotted(given, settings, rosters, DAY), _allotted(given, settings, rosters, WEEK),
    )  # fmt: skip


def _rosters(given: Basis, wet: Wet | None) -> list[Shift]:
    return [r for s in given.rosters if (r := _dry(s, given.now, wet or {}))]


def outlook_of(given: Basis, settings: Settings, wet: Wet | None = None) -> Outlook:
    """What is foreseen: the hours to come, when the yard runs out, what grows old."""
    rules = settings.yard
    supply = _supply(given, _rosters(given, wet))
    missing = missing_of(given)
    found = None if missing.hour else forecast(supply, AHEAD)
    past = [PlanHour(h.at, h.full, h.empty, h.out, h.tonnes, h.oldest_h, h.way, low=h.tonnes,
                     high=h.tonnes, to_come=False) for h in given.hours]  # fmt: skip
    coming = [] if found is None else _coming(given, found, supply.cutting)
    growers = {b.consignment: b.grower for b in reversed(given.standing)}
    return Outlook(
        date=given.date, now=given.now, missing=missing, hours=(*past, *coming),
        runs_out=None if found is None else _moment(found.runs_out),
        early=None if found is None else _moment(found.early),
        late=None if found is None else _moment(found.late),
        chance=0.0 if found is None else found.chance,
        slower=given.rate if found is None else found.slower,
        rate=given.rate, rate_sigma=given.rate_sigma, rates=given.rates,
        fleet=given.fleet, payload_t=given.payload_t, unread=given.unread, unmade=given.unmade,
        weighed=given.weighed, in_yard=sum(b.t for b in given.standing), bins=len(given.standing),
        on_way=sum(p.t for p in given.on_way),
        ageing=tuple(replace(a, grower=growers.get(a.name, ""))
                     for a in ageing(supply, rules.old_hours)),
        old_hours=rules.old_hours, needed=_needed(given), turns=given.turns,
        sidings=given.sidings, share=given.share, band=rules.equity_band, wet=dict(wet or {}),
    )  # fmt: skip


def _moment(at: float) -> float | None:
    return at if isfinite(at) else None


def _dry(shift: Shift, now: float, wet: Wet) -> Shift | None:
    """What is left of a shift from now on and after wet ground; None for nothing."""
    start = max(shift.start, now + 3600.0 * wet.get(shift.group, 0.0))
    return None if start >= shift.end else replace(shift, start=start)


def _supply(given: Basis, rosters: Sequence[Shift]) -> Given:
    together: dict[str, list[FullBin]] = defaultdict(list)
    for one in given.standing:
        together[one.consignment or one.tag].append(one)
    standing = [
        Parcel(name, sum(b.t for b in bins), nan if bins[0].cut is None else bins[0].cut,
               bins[0].came)
        for name, bins in together.items()
    ]  # fmt: skip
    way = [Parcel(p.consignment, p.t, p.cut, None, p.travel) for p in given.on_way]
    last = given.now + 3600.0 * AHEAD
    cutting = [Cutting(s.group, s.start, min(s.end, last), s.rate)
               for s in rosters if s.start < last]  # fmt: skip
    return Given(
        given.now, standing, way, cutting, given.rate, given.rate_sigma, given.leads,
        given.share, given.share_sigma, given.share_common,
    )  # fmt: skip


def _coming(given: Basis, found: Forecast, cutting: Sequence[Cutting]) -> list[PlanHour]:
    """Hours to come: the bins add up to the fleet, where empties are recorded."""
    started = sum(p.t for p in given.on_way)
    payload, whole = given.payload_t, given.whole_turn
    idle = 3600.0 * (IDLE if whole is None or whole.idle is None else whole.idle)
    rows = []
    for k, at in enumerate(found.marks[1:], start=1):
        full = round(found.tonnes[k] / payload)
        empty = out = None
        if given.empties is not None:
            standing = sum(1 for tipped in given.empties if tipped + idle > at)
            before = max(at - idle - found.marks[0], 0.0) / 3600.0
            low = int(min(before, len(found.crushed) - 1))
            part = before - low
            high = min(low + 1, len(found.crushed) - 1)
            earlier = (1.0 - part) * found.crushed[low] + part * found.crushed[high]
            empty = standing + round((found.crushed[k] - earlier) / payload)
            full = min(full, given.fleet)
            empty = min(empty, given.fleet - full)
            out = given.fleet - full - empty
        cut = sum(c.rate * max(min(c.end, at) - c.start, 0.0) / 3600.0 for c in cutting)
        way = max(started + given.share * cut - found.arrived[k], 0.0)
        rows.append(PlanHour(at, full, empty, out, found.tonnes[k], found.oldest_h[k], way,
                             found.low[k], found.high[k], to_come=True))  # fmt: skip
    return rows


def _needed(given: Basis) -> int | None:
    """Bins that the rate of the hour asks for at the turn-round of these days; None unknown."""
    whole = given.whole_turn
    if whole is None or whole.whole is None:
        return None
    return round(bins_needed(given.rate, whole.whole, given.payload_t))


def _parcels(given: Basis, settings: Settings) -> Queue:
    """Consignments waiting, in the order in which they lose least; see `ratoon.plans.yard.lots`.

    Each full bin is a lot: bins are alike enough that each takes one slot of its tippler.
    """
    rules, payload = settings.yard, given.payload_t
    bins = sorted(given.standing,
                  key=lambda b: (b.cut is None, b.cut or 0.0, b.consignment, b.came))  # fmt: skip
    if not bins or not given.rate > 0.0:
        return Queue("optimal", (), 0.0)
    lines = max(rules.tipplers, 1)
    slot = Fraction(lines * payload / given.rate)
    kilograms = {b: Fraction(1000.0 * payload * share)
                 for b, share in ((True, rules.loss_burnt), (False, rules.loss_green))}  # fmt: skip

    def age(b: FullBin) -> float | None:
        return None if b.cut is None else (given.now - b.cut) / 3600.0

    lots = [Lot(str(i), kilograms[b.burnt], Fraction(max(rules.dead_hours - (age(b) or 0.0), 0.0)))
            for i, b in enumerate(bins)]  # fmt: skip
    found = order_lots(lots, lines, slot)
    ranks = [int(p.lot) for p in found.placed] or list(range(len(bins)))
    together: dict[str, list[FullBin]] = defaultdict(list)
    for i in ranks:
        together[bins[i].consignment or bins[i].tag].append(bins[i])
    rows = tuple(
        Waiting(own[0].consignment, own[0].grower, own[0].siding, own[0].burnt, len(own),
                sum((b.t for b in own), 0.0), sum((float(kilograms[b.burnt]) for b in own), 0.0),
                age(own[0]))
        for own in together.values()
    )  # fmt: skip
    return Queue(found.status, rows, None if found.loss is None else float(found.loss))


def _allotted(
    given: Basis, settings: Settings, rosters: Sequence[Shift], hours: float
) -> AllotmentOf:
    """Allotment of the coming day or week, by grower and by group, with the price of each limit."""
    capacity, covered = _capacities(given, rosters, hours)
    suppliers = () if missing_of(given).allotment else given.suppliers
    need = 3.6 * settings.cane.rate * settings.yard.week_hours * hours / WEEK
    whole = given.whole_turn
    bins = None
    if whole and whole.whole and given.fleet:
        bins = given.fleet * given.payload_t * hours / whole.whole
    found = allot(suppliers, capacity, need, settings.yard.equity_band, bins)
    return AllotmentOf(
        found.need, found.total, found.short, found.behind, found.target, _district(suppliers),
        covered, found.rows, _by_group(found, suppliers, capacity),
        tuple(x for x in found.limits if isfinite(x.limit)),
    )  # fmt: skip


def _district(suppliers: Sequence[Supplier]) -> float | None:
    whole = sum(s.estimate for s in suppliers)
    known = {s.grower for s in suppliers if s.estimate > 0.0}
    came = sum(s.delivered for s in suppliers if s.grower in known)
    return came / whole if whole else None


def _capacities(
    given: Basis, rosters: Sequence[Shift], hours: float
) -> tuple[dict[str, float], int]:
    """Cane that each group can cut on its roster in the coming hours [t], and the days it covers.

    Days of a week without any roster yet are taken as the days that have one.
    """
    now, groups = given.now, {s.group for s in given.suppliers}
    end = now + 3600.0 * hours
    # a day has a roster also when wet ground leaves nothing of it
    starts = {int((max(s.start, now) - now) // 86400.0) for s in given.rosters if s.start < end}
    sums: dict[str, float] = dict.fromkeys(groups, 0.0)
    for s in rosters:
        length = (min(s.end, end) - s.start) / 3600.0
        if length > 0.0:
            sums[s.group] = sums.get(s.group, 0.0) + s.rate * length
    days = max(round(hours / DAY), 1)
    scale = days / len(starts) if starts else 1.0
    return {group: t * scale for group, t in sums.items()}, len(starts)


def _by_group(
    found: Allotment, suppliers: Sequence[Supplier], capacity: Mapping[str, float]
) -> tuple[GroupPart, ...]:
    prices = {x.name: x.price for x in found.limits if x.kind == "group"}
    rows = []
    for group in sorted({s.group for s in suppliers}):
        mine = [s for s in suppliers if s.group == group]
        estimate, delivered = (sum(getattr(s, k) for s in mine) for k in ("estimate", "delivered"))
        tonnes = sum(r.tonnes for r in found.rows if r.group == group)
        rows.append(GroupPart(
            group, estimate, delivered, delivered / estimate if estimate else None, tonnes,
            sum(s.left for s in mine), capacity.get(group, 0.0), prices.get(group, 0.0),
        ))  # fmt: skip
    return tuple(rows)
