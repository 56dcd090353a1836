"""The yard of a mill day: read, planned, kept; told for command, grower and morning sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import BadInput, RatoonError
from ratoon.store import Store
from ratoon.store.answers import newest_parts, newest_result, periods_with_result
from ratoon.store.cane import moves as cane_moves
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import seen_by
from ratoon.store.chain.reach import newest_event

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.base.clock import Calendar
    from ratoon.jobs.cane.load import CaneRecords
    from ratoon.jobs.cane.season import SumsOfDays
    from ratoon.jobs.mills import OpenMill
    from ratoon.jobs.yard.records import Records

# What plans a yard is loaded where one is planned: a sheet only shows a kept line.
KIND = "yard"
FORM = 6
"""Of the kept answer; one of another form is made anew."""
AHEAD = timedelta(days=8)
"""How far beyond a mill day's end its rosters are looked at."""


def yard_of_day(opened: OpenMill, day: date | None = None, wet: str = "") -> dict[str, Any]:
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
) -> Any:
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
        mark = digest([made["given"], versions])
        opened.store.add_result(KIND, opened.mill.calendar.period(day), mark, versions, made, seen)
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


def kept(opened: OpenMill, day: date) -> dict[str, Any] | None:
    """The newest kept answer of a day when nothing that it rests on changed since; else None."""
    from ratoon.jobs.cane.season import OF_DAY

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
    given = found.answer["given"]
    if given["unmade"] and given["made"] != len(opened.store.ask(periods_with_result, OF_DAY)):
        return None  # cane was worked out since
    return dict(found.answer)


def make(
    opened: OpenMill, day: date, known: SumsOfDays | None = None, among: Records | None = None
) -> dict[str, Any] | None:
    """What the yard rests on, and its outlook; None without bins."""
    from ratoon.jobs.yard.load import given_of
    from ratoon.jobs.yard.plan import outlook_of

    given = given_of(opened, day, known, among)
    if given is None:
        return None
    return {"form": FORM, "given": given, "outlook": outlook_of(given, opened.mill.settings)}


def planned(mill: Mill, found: Mapping[str, Any], wet: str = "") -> dict[str, Any]:
    """The plan, made again for a wet morning when `wet` says how long whose ground is wet.

    A `plan` that goes with what was found is not made twice.
    """
    from ratoon.jobs.yard.plan import groups_of, orders_of, plan_of, wet_of

    given = found["given"]
    plan = found.get("plan") or {**found["outlook"], **orders_of(given, mill.settings)}
    if not wet.strip():
        return plan
    hours = wet_of(wet, groups_of(given))
    return plan_of(given, mill.settings, hours) | {"dry": plan}


def _version() -> str:
    from ratoon import __version__

    return str(__version__)


def _rules(mill: Mill) -> str:
    """Digest of the parts of the mill file on which a yard rests."""
    s = mill.settings
    return digest([s.yard, s.receival, s.cane, s.mill])


def as_json(plan: Mapping[str, Any], calendar: Calendar) -> dict[str, Any]:
    """The plan as ``ratoon yard --json`` prints it: local times, tonnes, ages in hours.

    `runs_out` is None where the yard lasts over the hours looked at, or records are missing. The
    hours of the mill day come as they were, those after its end as they are expected.
    """

    def local(at: float | None) -> str | None:
        if at is None:
            return None
        return str(calendar.to_local(datetime.fromtimestamp(round(at), UTC)).isoformat())

    return {
        "runs_out": local(plan["runs_out"]),
        "hours": [
            {"time": local(h["at"]), "full": h["full"], "empty": h["empty"], "out": h["out"],
             "tonnes": round(h["tonnes"], 2),
             "oldest_h": None if h["oldest_h"] is None else round(h["oldest_h"], 2)}
            for h in plan["hours"]
        ],
        "allotment": [{"group": r["group"], "grower": r["grower"], "t": round(r["tonnes"], 2)}
                      for r in plan["week"]["rows"]],
    }  # fmt: skip


def for_grower(plan: Mapping[str, Any], grower: str) -> dict[str, Any]:
    """The same plan with one grower's cane alone, beside the totals of the mill and the district.

    Nothing of another grower is in it: neither a name nor a figure that is one grower's or one
    group's. It is made by taking over what is known to be the grower's, never by leaving out.
    """
    parts = {name: _own_allotment(plan[name], grower) for name in ("today", "week")}
    parcels = plan["parcels"]
    mine = [r for r in parcels["rows"] if r["grower"] == grower]
    own = {r["consignment"] for r in mine}
    totals = ("date", "now", "missing", "hours", "runs_out", "early", "late", "chance",
              "slower", "rate", "rate_sigma", "rates", "fleet", "payload_t", "unread", "unmade",
              "weighed", "needed", "in_yard", "bins", "on_way", "old_hours", "share",
              "band")  # fmt: skip
    sidings = {"", *plan["sidings"].get(grower, ())}
    return {
        **{k: plan[k] for k in totals}, **parts, "wet": {}, "sidings": {},
        "ageing": [a for a in plan["ageing"] if a["name"] in own],
        "parcels": {"status": parcels["status"], "rows": mine, "loss": None},
        "turns": [t for t in plan["turns"] if t["siding"] in sidings],
    }  # fmt: skip


def _own_allotment(part: Mapping[str, Any], grower: str) -> dict[str, Any]:
    totals = ("need", "total", "short", "target", "district", "covered_days")
    rows = [r for r in part["rows"] if r["grower"] == grower]
    return {**{k: part[k] for k in totals}, "behind": None, "rows": rows, "groups": [],
            "limits": []}  # fmt: skip


def line_of(plan: Mapping[str, Any], calendar: Calendar) -> dict[str, Any]:
    """The yard in one line for the morning sheet: `text`, and whether it `runs_dry` in the day."""

    def clock(at: float) -> str:
        return f"{calendar.to_local(datetime.fromtimestamp(at, UTC)):%H:%M}"

    text = (f"Yard at {clock(plan['now'])}: {plan['in_yard']:.0f} t in {plan['bins']} full bins, "
            f"{plan['on_way']:.0f} t on the way")  # fmt: skip
    if plan["missing"]["hour"]:
        text += f"; when it runs out is not told: {'; '.join(plan['missing']['hour'])}"
    elif plan["runs_out"] is None:
        text += f"; at {plan['rate']:.0f} t/h it lasts the next 24 h"
    else:
        late = "later than 24 h on" if plan["late"] is None else clock(plan["late"])
        text += (f"; at {plan['rate']:.0f} t/h it runs out at {clock(plan['runs_out'])} "
                 f"({clock(plan['early'])} to {late})")  # fmt: skip
    if plan["ageing"]:
        count = len(plan["ageing"])
        text += (f"; {count} {'parcel' if count == 1 else 'parcels'} will be older than "
                 f"{plan['old_hours']:g} h when crushed")  # fmt: skip
    return {"text": text, "runs_dry": plan["runs_out"] is not None, "slower": plan["slower"]}


def kept_line(store: Store, calendar: Calendar, day: date) -> dict[str, Any] | None:
    """The line of the day's yard as it was last planned; None where it was not."""
    period = calendar.period(day)
    form, outlook = (store.ask(newest_parts, KIND, key, period) for key in ("form", "outlook"))
    if not form or form[-1][2] != FORM:
        return None
    return line_of(outlook[-1][2], calendar)
