"""What the page of the yard shows, as records made from a day's plan; nothing is computed twice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from ratoon.cane.yard import Turn
from ratoon.plans.yard.allotment import Allotted
from ratoon.plans.yard.records import AllotmentOf, Outlook, PlanHour, Waiting, YardPlan
from ratoon.reports.numbers import grouped, signed
from ratoon.web.days import DayPlace

Local = Callable[[float], datetime]
"""Local time of seconds UTC."""
DURING = 1e-3  # a limit whose price is below it holds nothing back


@dataclass(frozen=True, slots=True)
class HourRow:
    """The yard at one hour; `spread`: 95 % interval of the tonnes still to come."""

    time: str
    full: str
    empty: str
    out: str
    tonnes: str
    spread: str
    way: str
    oldest: str
    to_come: bool


@dataclass(frozen=True, slots=True)
class OldRow:
    """A parcel that grows older than it should before it is crushed."""

    consignment: str
    grower: str
    tonnes: str
    now: str
    crushed: str
    by: str


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """A consignment in the yard, in the order in which the yard loses least."""

    consignment: str
    grower: str
    siding: str
    harvest: str
    bins: int
    tonnes: str
    age: str
    loss: str


@dataclass(frozen=True, slots=True)
class TurnRow:
    """Turn-round of a siding's bins, hours."""

    siding: str
    bins: str
    away: str
    slow: str
    yard: str
    idle: str
    whole: str


@dataclass(frozen=True, slots=True)
class GroupRow:
    """A harvesting group: share of its estimate, roster, cane of the week and of the day."""

    group: str
    share: str
    ahead: str
    room: str
    week: str
    day: str
    dry: str
    price: str


@dataclass(frozen=True, slots=True)
class GrowerRow:
    """A grower: share before and after the week, beside the district's."""

    grower: str
    group: str
    before: str
    after: str
    ahead: str
    tonnes: str


@dataclass(frozen=True, slots=True)
class LimitRow:
    """A limit that holds cane back, and what more of it would bring."""

    what: str
    limit: str
    worth: str


@dataclass(frozen=True, slots=True)
class YardPage:
    """The yard of a mill day and what follows from it. `own`: the grower who looks, or ""."""

    place: DayPlace
    title: str
    mill_name: str
    own: str
    line: str
    advice: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    hours: tuple[HourRow, ...]
    old: tuple[OldRow, ...]
    waiting: tuple[WaitingRow, ...]
    possible: bool
    turns: tuple[TurnRow, ...]
    needed: str
    groups: tuple[GroupRow, ...]
    growers: tuple[GrowerRow, ...]
    limits: tuple[LimitRow, ...]
    district: str
    missing: tuple[str, ...]
    week: str
    day: str
    wet: str
    wet_groups: tuple[str, ...]
    notes: tuple[str, ...]


def yard_page(
    plan: YardPlan, place: DayPlace, title: str, mill: str, line: str, local: Local,
    own: str = "", wet: str = "",
) -> YardPage:  # fmt: skip
    """The page of a plan; `local` gives the local time of seconds UTC."""
    week, today = plan.week, plan.today
    return YardPage(
        place, title, mill, own, line, _advice(plan.outlook, local), _facts(plan.outlook, local),
        tuple(_hour(h, local) for h in plan.outlook.hours),
        tuple(OldRow(a.name, a.grower, grouped(a.tonnes, 0), f"{a.age_now_h:.1f}",
                     f"{a.age_crushed_h:.1f}", _clock(a.crush_by, local, plan.outlook.now))
              for a in plan.outlook.ageing),
        tuple(_waiting(r) for r in plan.parcels.rows),
        plan.parcels.status == "optimal",
        tuple(_turn(t) for t in plan.outlook.turns), _needed(plan.outlook), _groups(plan),
        tuple(_grower(r, week) for r in sorted(week.rows, key=lambda r: (r.before,
                                                                            r.grower))),
        _limits(week), "" if week.district is None else f"{100 * week.district:.1f}",
        tuple(f"{text[0].upper()}{text[1:]}." for text in plan.outlook.missing.allotment),
        _sum(week), _sum(today), wet,
        tuple(g.group for g in week.groups if g.group), _notes(plan),
    )  # fmt: skip


def _clock(at: float, local: Local, now: float) -> str:
    """Local time of day, with the day when it is not today's."""
    there, here = local(at), local(now)
    return f"{there:%H:%M}" if there.date() == here.date() else f"{there:%d %b %H:%M}"


def _advice(outlook: Outlook, local: Local) -> tuple[str, ...]:
    found = []
    if outlook.runs_out is not None:
        slower = outlook.slower
        if slower > 0.3 * outlook.rate:
            found.append(f"At {slower:.0f} t/h instead of {outlook.rate:.0f} the cane on record "
                         "lasts the next 24 h: slow down, or bring cane in sooner.")  # fmt: skip
        else:
            found.append("No rate worth running lasts the next 24 h with the cane on record: "
                         "bring cane in, or plan a stop and use it for a clean.")  # fmt: skip
    elif outlook.chance > 0.0:
        found.append(f"It runs dry in {100 * outlook.chance:.0f} of 100 draws: watch it.")
    if outlook.ageing:
        first = min(outlook.ageing, key=lambda a: a.crush_by)
        by = "now" if first.crush_by <= outlook.now else (
            f"by {_clock(first.crush_by, local, outlook.now)}")  # fmt: skip
        found.append(f"Crush {first.name} {by}: it passes {outlook.old_hours:g} hours from "
                     "cutting before its turn comes.")  # fmt: skip
    return tuple(found)


def _facts(outlook: Outlook, local: Local) -> tuple[tuple[str, str], ...]:
    out = "not in 24 h"
    if outlook.missing.hour:
        out = "not known"
    elif outlook.runs_out is not None and outlook.early is not None:
        late = "later" if outlook.late is None else _clock(outlook.late, local, outlook.now)
        out = (f"{_clock(outlook.runs_out, local, outlook.now)} "
               f"({_clock(outlook.early, local, outlook.now)} to {late})")  # fmt: skip
    last = [h for h in outlook.hours if not h.to_come][-1]
    oldest = "" if last.oldest_h is None else f"{last.oldest_h:.1f}"
    bins = [("Full bins", str(last.full))]
    if last.empty is not None:
        bins += [("Empty at the mill", str(last.empty)), ("Out", str(last.out))]
    return (
        ("Runs out", out), ("In the yard, t", grouped(outlook.in_yard, 0)),
        ("On the way, t", grouped(outlook.on_way, 0)),
        ("Rate of the hour, t/h", f"{outlook.rate:.0f} ± {1.96 * outlook.rate_sigma:.0f}"),
        *bins, ("Oldest cane, h", oldest or "none"),
    )  # fmt: skip


def _hour(h: PlanHour, local: Local) -> HourRow:
    def count(value: int | None) -> str:
        return "" if value is None else str(value)

    at: datetime = local(h.at)
    spread = f"{grouped(h.low, 0)} to {grouped(h.high, 0)}" if h.to_come else ""
    oldest = "" if h.oldest_h is None else f"{h.oldest_h:.1f}"
    return HourRow(f"{at:%d %b %H:%M}", str(h.full), count(h.empty), count(h.out),
                   grouped(h.tonnes, 0), spread, grouped(h.way, 0), oldest,
                   h.to_come)  # fmt: skip


def _waiting(r: Waiting) -> WaitingRow:
    return WaitingRow(
        r.consignment or "no note", r.grower, r.siding,
        "burnt" if r.burnt else "green", r.bins, grouped(r.t, 0),
        "not known" if r.age_h is None else f"{r.age_h:.1f}", f"{r.loss:.0f}",
    )  # fmt: skip


def _turn(t: Turn) -> TurnRow:
    def hours(value: float | None) -> str:
        return "" if value is None else f"{value:.1f}"

    parts = (hours(part) for part in (t.away, t.slow, t.yard, t.idle, t.whole))
    return TurnRow(t.siding or "all sidings", grouped(t.bins, 0), *parts)


def _needed(outlook: Outlook) -> str:
    if outlook.needed is None:
        return ""
    return (f"{outlook.rate:.0f} t/h at this turn-round asks for {grouped(outlook.needed, 0)} bins;"
            f" the fleet has {grouped(outlook.fleet, 0)}.")  # fmt: skip


def _percent(share: float | None) -> str:
    return "no estimate" if share is None else f"{100 * share:.1f}"


def _groups(plan: YardPlan) -> tuple[GroupRow, ...]:
    today = {g.group: g for g in plan.today.groups}
    dry = plan.dry.today.groups if plan.dry is not None else ()
    before = {g.group: g.t for g in dry}
    district = plan.week.district
    rows = []
    for g in plan.week.groups:
        share = g.share
        apart = "" if share is None or district is None else signed(100 * (share - district), 1)
        rows.append(GroupRow(
            g.group or "no group", _percent(share), apart,
            grouped(g.capacity, 0), grouped(g.t, 0),
            grouped(today[g.group].t, 0),
            grouped(before[g.group], 0) if before else "",
            f"{g.price:.2f}" if g.price > DURING else "",
        ))  # fmt: skip
    return tuple(rows)


def _grower(r: Allotted, week: AllotmentOf) -> GrowerRow:
    district = week.district
    ahead = "" if district is None else signed(100 * (r.before - district), 1)
    return GrowerRow(r.grower, r.group or "no group", f"{100 * r.before:.1f}",
                     f"{100 * r.after:.1f}", ahead, grouped(r.tonnes, 0))  # fmt: skip


def _limits(week: AllotmentOf) -> tuple[LimitRow, ...]:
    """Limits with a price, dearest first; those of single growers' crops together."""
    rows = []
    for x in sorted(week.limits, key=lambda x: -x.price):
        if x.price <= DURING:
            continue
        if x.kind == "equity":
            rows.append(LimitRow("Equity limit", f"{100 * x.limit:.1f} points",
                                 f"{grouped(x.price / 100, 0)} t for a point"))  # fmt: skip
            continue
        what = {"mill": "What the mill can crush", "bins": "What the bins can carry",
                "group": f"Cutting of group {x.name or 'none'}",
                "crop": f"Crop left of {x.name}"}[x.kind]  # fmt: skip
        rows.append(LimitRow(what, f"{grouped(x.limit, 0)} t", f"{x.price:.2f} t for a tonne"))
    return tuple(rows)


def _sum(part: AllotmentOf) -> str:
    text = f"The mill can take {grouped(part.need, 0)} t; {grouped(part.total, 0)} t allotted"
    if part.short > 0.5:
        text += f", {grouped(part.short, 0)} t short"
    if part.behind is not None and part.behind > 0.5:
        text += (f"; growers stay {grouped(part.behind, 0)} t below the equity limit, which no "
                 "allotment of this time can lift")  # fmt: skip
    return text + "."


def _notes(plan: YardPlan) -> tuple[str, ...]:
    found, outlook = [], plan.outlook
    if outlook.unread:
        one = outlook.unread == 1
        found.append(f"{outlook.unread} full {'bin' if one else 'bins'} of these days "
                     f"{'has' if one else 'have'} no tip on record, taken as tipped with the rest "
                     "of the consignment.")  # fmt: skip
    if not outlook.weighed:
        found.append(f"No bin has both its weights: each is taken as {outlook.payload_t:g} t, the "
                     "middle of what the mill file allows.")  # fmt: skip
    if all(h.empty is None for h in outlook.hours):
        found.append("No empties sent out are on record (layout dispatches), so empty and out are "
                     "not told apart.")  # fmt: skip
    if outlook.unmade:
        text = f"The cane of {outlook.unmade} mill days of this season is not worked out yet "
        found.append(text + "(ratoon cane --all): it is taken as delivered as it was weighed.")
    missing = outlook.missing
    found += [f"No hour is told at which it runs out: {text}." for text in missing.hour]
    covered = plan.week.covered_days
    if not missing.allotment and covered < 7:
        found.append(f"The rosters on record cover {covered} of the week's 7 days; the others are "
                     "taken as those.")  # fmt: skip
    return tuple(found)
