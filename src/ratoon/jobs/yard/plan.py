"""The yard's plan from what it rests on: hours to come, parcels growing old, order, allotments.

Works from plain data (`yard_load.given_of`) and the mill file alone, so a morning is planned again
for wet ground without reading anything.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from fractions import Fraction
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.cane.yard import bins_needed
from ratoon.plans.yard.allotment import Allotment, Supplier, allot
from ratoon.plans.yard.lots import Lot, order_lots
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
"""Records without which no hour is told at which the yard runs out."""
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


def groups_of(given: Mapping[str, Any]) -> list[str]:
    """Harvesting groups that are rostered or have cane."""
    rostered = {s["group"] for s in given["rosters"]}
    return sorted(rostered | {s["group"] for s in given["suppliers"] if s["group"]})


def missing_of(given: Mapping[str, Any]) -> dict[str, list[str]]:
    """Why no hour, and why no allotment, is told: which record is missing, in words."""
    return {what: [MISSING[name] for name in needed if name in given["without"]]
            for what, needed in (("hour", HOUR), ("allotment", ALLOTMENT))}  # fmt: skip


def plan_of(given: Mapping[str, Any], settings: Settings, wet: Wet | None = None) -> dict[str, Any]:
    """The whole plan as plain data; times in seconds UTC, masses in tonnes, shares as fractions."""
    return outlook_of(given, settings, wet) | orders_of(given, settings, wet)


def orders_of(
    given: Mapping[str, Any], settings: Settings, wet: Wet | None = None
) -> dict[str, Any]:
    """What is to be done: the order of crushing, and who cuts how much."""
    rosters = _rosters(given, wet)
    return {
        "parcels": _parcels(given, settings),
        "today": _allotted(given, settings, rosters, DAY),
        "week": _allotted(given, settings, rosters, WEEK),
    }


def _rosters(given: Mapping[str, Any], wet: Wet | None) -> list[dict[str, Any]]:
    return [r for s in given["rosters"] if (r := _dry(s, given["now"], wet or {}))]


def outlook_of(
    given: Mapping[str, Any], settings: Settings, wet: Wet | None = None
) -> dict[str, Any]:
    """What is foreseen: the hours to come, when the yard runs out, what grows old."""
    rules, now = settings.yard, given["now"]
    supply = _supply(given, _rosters(given, wet))
    missing = missing_of(given)
    found = None if missing["hour"] else forecast(supply, AHEAD)
    return {
        "date": given["date"], "now": now, "missing": missing,
        "hours": [{**h, "low": h["tonnes"], "high": h["tonnes"], "to_come": False}
                  for h in given["hours"]] + ([] if found is None else
                                            _coming(given, found, supply.cutting)),
        **_runs_out(found, given["rate"]),
        "rate": given["rate"], "rate_sigma": given["rate_sigma"], "rates": given["rates"],
        "fleet": given["fleet"], "payload_t": given["payload_t"], "unread": given["unread"],
        "unmade": given["unmade"],
        "weighed": given["weighed"],
        "in_yard": sum(p["t"] for p in given["standing"]), "bins": len(given["standing"]),
        "on_way": sum(p["t"] for p in given["on_way"]),
        "ageing": [{**asdict(a), "grower": _grower(given, a.name)}
                   for a in ageing(supply, rules.old_hours)],
        "old_hours": rules.old_hours,
        "needed": _needed(given), "turns": given["turns"], "sidings": given["sidings"],
        "share": given["share"], "band": rules.equity_band, "wet": dict(wet or {}),
    }  # fmt: skip


def _runs_out(found: Forecast | None, rate: float) -> dict[str, Any]:
    """When the yard runs out; nothing of it where records are missing."""
    if found is None:
        return {"runs_out": None, "early": None, "late": None, "chance": 0.0, "slower": rate}
    return {
        "runs_out": _moment(found.runs_out), "early": _moment(found.early),
        "late": _moment(found.late), "chance": found.chance, "slower": found.slower,
    }  # fmt: skip


def _moment(at: float) -> float | None:
    return at if isfinite(at) else None


def _dry(shift: Mapping[str, Any], now: float, wet: Wet) -> dict[str, Any] | None:
    """What is left of a shift from now on and after wet ground; None for nothing."""
    start = max(shift["start"], now + 3600.0 * wet.get(shift["group"], 0.0))
    return None if start >= shift["end"] else {**shift, "start": start}


def _supply(given: Mapping[str, Any], rosters: Sequence[Mapping[str, Any]]) -> Given:
    together: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for one in given["standing"]:
        together[one["consignment"] or one["tag"]].append(one)
    standing = [
        Parcel(name, sum(b["t"] for b in bins), nan if bins[0]["cut"] is None else bins[0]["cut"],
               bins[0]["came"])
        for name, bins in together.items()
    ]  # fmt: skip
    way = [Parcel(p["consignment"], p["t"], p["cut"], None, p["travel"]) for p in given["on_way"]]
    last = given["now"] + 3600.0 * AHEAD
    cutting = [Cutting(s["group"], s["start"], min(s["end"], last), s["rate"])
               for s in rosters if s["start"] < last]  # fmt: skip
    return Given(
        given["now"], standing, way, cutting, given["rate"], given["rate_sigma"], given["leads"],
        given["share"], given["share_sigma"], given["share_common"],
    )  # fmt: skip


def _coming(
    given: Mapping[str, Any], found: Forecast, cutting: Sequence[Cutting]
) -> list[dict[str, Any]]:
    """Hours to come: the bins add up to the fleet, where empties are recorded."""
    started = sum(p["t"] for p in given["on_way"])
    payload = given["payload_t"]
    whole = next((t for t in given["turns"] if t["siding"] == ""), None)
    idle = 3600.0 * (IDLE if whole is None or whole["idle"] is None else whole["idle"])
    rows = []
    for k, at in enumerate(found.marks[1:], start=1):
        full = round(found.tonnes[k] / payload)
        empty = out = None
        if given["empties"] is not None:
            standing = sum(1 for tipped in given["empties"] if tipped + idle > at)
            before = max(at - idle - found.marks[0], 0.0) / 3600.0
            low = int(min(before, len(found.crushed) - 1))
            part = before - low
            high = min(low + 1, len(found.crushed) - 1)
            earlier = (1.0 - part) * found.crushed[low] + part * found.crushed[high]
            empty = standing + round((found.crushed[k] - earlier) / payload)
            full = min(full, given["fleet"])
            empty = min(empty, given["fleet"] - full)
            out = given["fleet"] - full - empty
        cut = sum(c.rate * max(min(c.end, at) - c.start, 0.0) / 3600.0 for c in cutting)
        way = max(started + given["share"] * cut - found.arrived[k], 0.0)
        rows.append({"at": at, "way": way, "full": full, "empty": empty, "out": out,
                     "tonnes": found.tonnes[k], "oldest_h": found.oldest_h[k],
                     "low": found.low[k], "high": found.high[k], "to_come": True})  # fmt: skip
    return rows


def _needed(given: Mapping[str, Any]) -> int | None:
    """Bins that the rate of the hour asks for at the turn-round of these days; None unknown."""
    whole = next((t["whole"] for t in given["turns"] if t["siding"] == ""), None)
    return None if whole is None else round(bins_needed(given["rate"], whole, given["payload_t"]))


def _grower(given: Mapping[str, Any], consignment: str) -> str:
    return next((b["grower"] for b in given["standing"] if b["consignment"] == consignment), "")


def _parcels(given: Mapping[str, Any], settings: Settings) -> dict[str, Any]:
    """Consignments waiting, in the order in which they lose least; see `ratoon.plans.yard.lots`.

    Each full bin is a lot: bins are alike enough that each takes one slot of its tippler.
    """
    rules, now, payload = settings.yard, given["now"], given["payload_t"]
    bins = sorted(given["standing"], key=lambda b: (b["cut"] is None, b["cut"] or 0.0,
                                                    b["consignment"], b["came"]))  # fmt: skip
    if not bins or not given["rate"] > 0.0:
        return {"status": "optimal", "loss": 0.0, "rows": []}
    lines = max(rules.tipplers, 1)
    slot = Fraction(lines * payload / given["rate"])
    kilograms = {b: Fraction(1000.0 * payload * share)
                 for b, share in ((True, rules.loss_burnt), (False, rules.loss_green))}  # fmt: skip
    lots = [
        Lot(str(i), kilograms[b["burnt"]],
            Fraction(max(rules.dead_hours - (0.0 if b["cut"] is None else
                                             (now - b["cut"]) / 3600.0), 0.0)))
        for i, b in enumerate(bins)
    ]  # fmt: skip
    found = order_lots(lots, lines, slot)
    ranks = [int(p.lot) for p in found.placed] or list(range(len(bins)))
    rows: dict[str, dict[str, Any]] = {}
    for i in ranks:
        b = bins[i]
        row = rows.setdefault(b["consignment"] or b["tag"], {
            "consignment": b["consignment"], "grower": b["grower"], "siding": b["siding"],
            "burnt": b["burnt"], "bins": 0, "t": 0.0, "loss": 0.0,
            "age_h": None if b["cut"] is None else (now - b["cut"]) / 3600.0,
        })  # fmt: skip
        row["bins"] += 1
        row["t"] += b["t"]
        row["loss"] += float(kilograms[b["burnt"]])
    return {"status": found.status, "rows": list(rows.values()),
            "loss": None if found.loss is None else float(found.loss)}  # fmt: skip


def _allotted(
    given: Mapping[str, Any], settings: Settings, rosters: Sequence[Mapping[str, Any]], hours: float
) -> dict[str, Any]:
    """Allotment of the coming day or week, by grower and by group, with the price of each limit."""
    capacity, covered = _capacities(given, rosters, hours)
    none = bool(missing_of(given)["allotment"])
    suppliers = [] if none else [Supplier(**s) for s in given["suppliers"]]
    need = 3.6 * settings.cane.rate * settings.yard.week_hours * hours / WEEK
    whole = next((t["whole"] for t in given["turns"] if t["siding"] == ""), None)
    bins = None
    if whole and given["fleet"]:
        bins = given["fleet"] * given["payload_t"] * hours / whole
    found = allot(suppliers, capacity, need, settings.yard.equity_band, bins)
    return {
        "need": found.need, "total": found.total, "short": found.short, "behind": found.behind,
        "target": found.target, "district": _district(suppliers), "covered_days": covered,
        "rows": [asdict(r) for r in found.rows],
        "groups": _by_group(found, suppliers, capacity),
        "limits": [asdict(x) for x in found.limits if isfinite(x.limit)],
    }  # fmt: skip


def _district(suppliers: Sequence[Supplier]) -> float | None:
    whole = sum(s.estimate for s in suppliers)
    known = {s.grower for s in suppliers if s.estimate > 0.0}
    came = sum(s.delivered for s in suppliers if s.grower in known)
    return came / whole if whole else None


def _capacities(
    given: Mapping[str, Any], rosters: Sequence[Mapping[str, Any]], hours: float
) -> tuple[dict[str, float], int]:
    """Cane that each group can cut on its roster in the coming hours [t], and the days it covers.

    Days of a week without any roster yet are taken as the days that have one.
    """
    now, groups = given["now"], {s["group"] for s in given["suppliers"]}
    end = now + 3600.0 * hours
    # a day has a roster also when wet ground leaves nothing of it
    starts = {int((max(s["start"], now) - now) // 86400.0)
              for s in given["rosters"] if s["start"] < end}  # fmt: skip
    sums: dict[str, float] = dict.fromkeys(groups, 0.0)
    for s in rosters:
        length = (min(s["end"], end) - s["start"]) / 3600.0
        if length > 0.0:
            sums[s["group"]] = sums.get(s["group"], 0.0) + s["rate"] * length
    days = max(round(hours / DAY), 1)
    scale = days / len(starts) if starts else 1.0
    return {group: t * scale for group, t in sums.items()}, len(starts)


def _by_group(
    found: Allotment, suppliers: Sequence[Supplier], capacity: Mapping[str, float]
) -> list[dict[str, Any]]:
    prices = {x.name: x.price for x in found.limits if x.kind == "group"}
    rows = []
    for group in sorted({s.group for s in suppliers}):
        mine = [s for s in suppliers if s.group == group]
        estimate, delivered = (sum(getattr(s, k) for s in mine) for k in ("estimate", "delivered"))
        tonnes = sum(r.tonnes for r in found.rows if r.group == group)
        rows.append({
            "group": group, "estimate": estimate, "delivered": delivered,
            "share": delivered / estimate if estimate else None, "t": tonnes,
            "left": sum(s.left for s in mine),
            "capacity": capacity.get(group, 0.0), "price": prices.get(group, 0.0),
        })  # fmt: skip
    return rows
