"""Addresses of the yard. A grower who is signed in gets a plan of that grower's cane alone."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI
from fastapi.responses import JSONResponse, RedirectResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.yard import day as jobs
from ratoon.plans.yard.records import YardOfDay, YardPlan
from ratoon.reports.compose import day_in_words
from ratoon.web.cane.views import own_grower
from ratoon.web.days import entry_place
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sheet.recent import Recent
from ratoon.web.yard.drawing import yard_drawing
from ratoon.web.yard.page import yard_page

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar

RECENT = 6
"""Days whose plan is held."""


def add_yard(app: FastAPI, pages: Pages) -> None:
    """The page of the yard."""
    pages.standing["yard"] = lambda: _newest(pages) is not None
    held: Recent[tuple[YardOfDay, YardPlan] | None] = Recent(pages.door.state, RECENT)

    def found(day: datetime.date) -> tuple[YardOfDay, YardPlan] | None:
        opened, sums = pages.history.opened, pages.history.cane_sums

        def whole() -> tuple[YardOfDay, YardPlan] | None:
            known = jobs.kept(opened, day) or jobs.make(opened, day, sums())
            return None if known is None else (known, jobs.planned(opened.mill, known))

        return held.of(day, whole)

    def warm() -> None:
        if (newest := _newest(pages)) is not None:
            found(newest)

    pages.warming.append(warm)

    @get(app, "/yard")
    def latest() -> Response:
        return RedirectResponse(f"/yard/{jobs.newest_day(pages.history.opened)}", 303)

    @get(app, "/yard/{date}")
    def yard(date: str, wet: str = "", format: Format = None) -> Response:
        mine = own_grower()
        place = entry_place(date, pages.days())
        day = datetime.date.fromisoformat(place.date)
        known = found(day)
        if known is None:
            line = f"no bin was weighed on mill day {place.date} or in the days before it"
            return pages.message(format, 200, "No yard of this day", line, "")
        mill = pages.history.mill
        wet = "" if mine is not None else wet[:200]
        plan = jobs.planned(mill, known[0], wet, known[1])
        if mine is not None:
            plan = jobs.for_grower(plan, mine)
        line = jobs.line_of(plan.outlook, mill.calendar).text
        if format == "json":
            return JSONResponse(_as_json(plan, mill.calendar))

        def local(at: float) -> datetime.datetime:
            return mill.calendar.to_local(datetime.datetime.fromtimestamp(at, datetime.UTC))

        page = yard_page(plan, place, day_in_words(place.date), mill.settings.mill.name, line,
                         local, mine or "", wet)  # fmt: skip
        return pages.answer(format, page, "yard_page.html", "Yard", place.date,
                            drawing=yard_drawing(plan.outlook, local))  # fmt: skip


def _newest(pages: Pages) -> datetime.date | None:
    try:
        return jobs.newest_day(pages.history.opened)
    except (RatoonError, OSError):  # without a mill file there is no yard
        return None


def _as_json(plan: YardPlan, calendar: Calendar) -> dict[str, Any]:
    """What ``ratoon yard --json`` prints, and beside it the rest of the page."""

    def local(at: float | None) -> str | None:
        if at is None:
            return None
        moment = datetime.datetime.fromtimestamp(round(at), datetime.UTC)
        return str(calendar.to_local(moment).isoformat())

    o, rest = plan.outlook, to_json(plan)
    shown = (
        "date",
        "missing",
        "chance",
        "slower",
        "rate",
        "rate_sigma",
        "fleet",
        "payload_t",
        "unread",
        "in_yard",
        "bins",
        "on_way",
        "old_hours",
        "share",
        "band",
        "turns",
    )
    ageing = [{**a, "crush_by": local(a["crush_by"])} for a in rest["outlook"]["ageing"]]
    return {
        **jobs.as_json(plan, calendar), "now": local(o.now),
        "runs_out_95": [local(o.early), local(o.late)],
        "hours_more": [{"low": h.low, "high": h.high, "on_way": h.way} for h in o.hours],
        **{k: rest["outlook"][k] for k in shown}, "parcels": rest["parcels"], "wet": dict(o.wet),
        "today": rest["today"], "week": rest["week"], "ageing": ageing,
    }  # fmt: skip
