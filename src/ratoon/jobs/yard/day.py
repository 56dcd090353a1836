"""The yard of a mill day: read, planned, kept; shown to command, grower and morning sheet."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.store import Store
from ratoon.store.answers import newest_parts, newest_result, periods_with_result
from ratoon.store.cane import moves as cane_moves
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import seen_by
from ratoon.store.chain.reach import newest_event

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.results.day import YardLine
    from ratoon.base.clock import Calendar
    from ratoon.jobs.cane.load import CaneRecords
    from ratoon.jobs.cane.season import SumsOfDays
    from ratoon.jobs.mills import OpenMill
    from ratoon.jobs.yard.records import Records
    from ratoon.plans.yard.records import AllotmentOf, Outlook, YardOfDay, YardPlan

# What plans a yard is loaded where one is planned: a sheet only shows a kept line.
KIND = "yard"
FORM = 6
"""Of the kept answer; one of another form is made anew."""
AHEAD = timedelta(days=8)
"""How far beyond a mill day's end its rosters are looked at."""


def yard_of_day(opened: OpenMill, day: date | None = None, wet: str = "") -> YardPlan:
    """The yard's plan at the end of a mill day, the newest with cane when left out; it is kept.

    Raises
    ------
    BadInput : no bin was weighed yet, or none till that day.
    """
    wanted = day or newest_day(opened)
    found = keep(opened, wanted)
    if found is None:
        raise BadInput("no bin was weighed on this mill day or in the days before it",
                       where=str(wanted), todo="`ratoon cane --list` lists the days")  # fmt: skip
    return planned(opened.mill, found, wet)


def newest_day(opened: OpenMill) -> date:
    """The newest mill day with a weighing or a tip."""
    newest = opened.store.ask(cane_moves.newest, ("bin", "tip"))
    if newest is None:
        raise BadInput("no bin was weighed yet", todo="Import bins and tips: ratoon import FILE")
    return opened.mill.calendar.day_of(newest)


def keep(
    opened: OpenMill, day: date, known: SumsOfDays | None = None, among: Records | None = None
) -> YardOfDay | None:
    """What the yard of a day rests on and its outlook, from the store or made and kept.

    None without bins. It is made anew when anything came in, was corrected or set since.
    """
    found = kept(opened, day)
    if found is not None:
        return found
    seen, _ = opened.store.ask(newest_event)
    made = make(opened, day, known, among)
    if made is not None:
        versions = {"program": _version(), "rules": _rules(opened.mill)}
        answer = to_json(made)
        mark = digest([answer["given"], versions])
        period = opened.mill.calendar.period(day)
        opened.store.add_result(KIND, period, mark, versions, answer, seen)
    return made


def keep_all(opened: OpenMill, days: Sequence[date], cane: CaneRecords) -> None:
    """Keep the yards of days in order, from the records of their cane."""
    from ratoon.jobs.cane.season import newest_sums
    from ratoon.jobs.yard.load import records_of

    among = records_of(opened, days[0], days[-1], cane)
    known = newest_sums(opened.store)
    for day in days:
        with suppress(RatoonError):  # a yard that cannot be planned keeps no cane from its day
            keep(opened, day, known, among)


def kept(opened: OpenMill, day: date) -> YardOfDay | None:
    """The newest kept answer of a day when nothing that it rests on changed since; else None."""
    from ratoon.jobs.cane.season import OF_DAY
    from ratoon.plans.yard.records import YardOfDay

    period = opened.mill.calendar.period(day)
    found = opened.store.ask(newest_result, KIND, period)
    if found is None or found.answer.get("form") != FORM:
        return None
    versions = {"program": _version(), "rules": _rules(opened.mill)}
    if any(found.versions.get(name) != version for name, version in versions.items()):
        return None
    seen, end = opened.store.ask(seen_by, found), period.end
    if opened.store.ask(cane_moves.corrected_since, seen, end):
        return None
    if opened.store.ask(cane_moves.came_since, seen, end, end + AHEAD):
        return None
    yard = from_json(YardOfDay, found.answer)
    made = yard.given.made
    if yard.given.unmade and made != len(opened.store.ask(periods_with_result, OF_DAY)):
        return None  # cane was worked out since
    return yard


def make(
    opened: OpenMill, day: date, known: SumsOfDays | None = None, among: Records | None = None
) -> YardOfDay | None:
    """What the yard rests on, and its outlook; None without bins."""
    from ratoon.jobs.yard.load import given_of
    from ratoon.plans.yard.plan import outlook_of
    from ratoon.plans.yard.records import YardOfDay

    given = given_of(opened, day, known, among)
    if given is None:
        return None
    return YardOfDay(FORM, given, outlook_of(given, opened.mill.settings))


def planned(
    mill: Mill, found: YardOfDay, wet: str = "", rostered: YardPlan | None = None
) -> YardPlan:
    """The plan, made again for a wet morning when `wet` says how long whose ground is wet.

    `rostered`: the plan as rostered, where it is at hand.
    """
    from ratoon.plans.yard.plan import groups_of, plan_of, wet_of

    given, settings = found.given, mill.settings
    plan = rostered or plan_of(given, settings, outlook=found.outlook)
    if not wet.strip():
        return plan
    return replace(plan_of(given, settings, wet_of(wet, groups_of(given))), dry=plan)


def _version() -> str:
    from ratoon import __version__

    return str(__version__)


def _rules(mill: Mill) -> str:
    """Digest of the parts of the mill file on which a yard rests."""
    s = mill.settings
    return digest([s.yard, s.receival, s.cane, s.mill])


def as_json(plan: YardPlan, calendar: Calendar) -> dict[str, Any]:
    """The plan as ``ratoon yard --json`` prints it: local times, tonnes, ages in hours.

    `runs_out` is None where the yard lasts over the hours looked at, or records are missing. The
    hours of the mill day come as they were, those after its end as they are expected.
    """

    def local(at: float | None) -> str | None:
        if at is None:
            return None
        return str(calendar.to_local(datetime.fromtimestamp(round(at), UTC)).isoformat())

    return {
        "runs_out": local(plan.outlook.runs_out),
        "hours": [
            {"time": local(h.at), "full": h.full, "empty": h.empty, "out": h.out,
             "tonnes": round(h.tonnes, 2),
             "oldest_h": None if h.oldest_h is None else round(h.oldest_h, 2)}
            for h in plan.outlook.hours
        ],
        "allotment": [{"group": r.group, "grower": r.grower, "t": round(r.tonnes, 2)}
                      for r in plan.week.rows],
    }  # fmt: skip


def for_grower(plan: YardPlan, grower: str) -> YardPlan:
    """The same plan with one grower's cane alone, beside the totals of the mill and the district.

    Nothing of another grower is in it: neither a name nor a figure that is one grower's or one
    group's. It is made by taking over what is known to be the grower's, never by leaving out.
    """
    from ratoon.plans.yard.records import Outlook, Queue, YardPlan

    o = plan.outlook
    mine = tuple(r for r in plan.parcels.rows if r.grower == grower)
    own = {r.consignment for r in mine}
    sidings = {"", *o.sidings.get(grower, ())}
    outlook = Outlook(
        date=o.date, now=o.now, missing=o.missing, hours=o.hours, runs_out=o.runs_out,
        early=o.early, late=o.late, chance=o.chance, slower=o.slower, rate=o.rate,
        rate_sigma=o.rate_sigma, rates=o.rates, fleet=o.fleet, payload_t=o.payload_t,
        unread=o.unread, unmade=o.unmade, weighed=o.weighed, in_yard=o.in_yard, bins=o.bins,
        on_way=o.on_way, ageing=tuple(a for a in o.ageing if a.name in own),
        old_hours=o.old_hours, needed=o.needed,
        turns=tuple(t for t in o.turns if t.siding in sidings), sidings={}, share=o.share,
        band=o.band, wet={},
    )  # fmt: skip
    today, week = (_own_allotment(part, grower) for part in (plan.today, plan.week))
    return YardPlan(outlook, Queue(plan.parcels.status, mine, None), today, week)


def _own_allotment(part: AllotmentOf, grower: str) -> AllotmentOf:
    from ratoon.plans.yard.records import AllotmentOf

    rows = tuple(r for r in part.rows if r.grower == grower)
    return AllotmentOf(part.need, part.total, part.short, None, part.target, part.district,
                       part.covered_days, rows, (), ())  # fmt: skip


def line_of(outlook: Outlook, calendar: Calendar) -> YardLine:
    """The yard in one line for the morning sheet."""
    from ratoon.account.results.day import YardLine

    def clock(at: float) -> str:
        return f"{calendar.to_local(datetime.fromtimestamp(at, UTC)):%H:%M}"

    o = outlook
    text = (f"Yard at {clock(o.now)}: {o.in_yard:.0f} t in {o.bins} full bins, "
            f"{o.on_way:.0f} t on the way")  # fmt: skip
    if o.missing.hour:
        text += f"; when it runs out is not told: {'; '.join(o.missing.hour)}"
    elif o.runs_out is None or o.early is None:
        text += f"; at {o.rate:.0f} t/h it lasts the next 24 h"
    else:
        late = "later than 24 h on" if o.late is None else clock(o.late)
        text += (f"; at {o.rate:.0f} t/h it runs out at {clock(o.runs_out)} "
                 f"({clock(o.early)} to {late})")  # fmt: skip
    if o.ageing:
        count = len(o.ageing)
        text += (f"; {count} {'parcel' if count == 1 else 'parcels'} will be older than "
                 f"{o.old_hours:g} h when crushed")  # fmt: skip
    return YardLine(text, o.runs_out is not None, o.slower)


def kept_line(store: Store, calendar: Calendar, day: date) -> YardLine | None:
    """The line of the day's yard as it was last planned; None where it was not."""
    period = calendar.period(day)
    form, outlook = (store.ask(newest_parts, KIND, key, period) for key in ("form", "outlook"))
    if not form or form[-1][2] != FORM:
        return None
    from ratoon.plans.yard.records import Outlook

    return line_of(from_json(Outlook, outlook[-1][2]), calendar)
