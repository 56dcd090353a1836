"""Addresses of strikes: a mill day's list, one strike, an event typed by hand."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date as date_type
from typing import Annotated
from urllib.parse import urlencode

from fastapi import FastAPI, Query, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool

from ratoon.account.results.exhaustion import Exhaustion
from ratoon.base.as_json import to_json
from ratoon.base.strikes import EVENTS
from ratoon.jobs.files.typed import Entered, enter
from ratoon.jobs.strikes.exhaustion import exhaustion_in
from ratoon.jobs.strikes.records import (
    StrikeDetail,
    StrikeLine,
    floor_of_day,
    rows_of,
    strike_of,
    strikes_of_day,
)
from ratoon.jobs.strikes.rows import names_of_pans
from ratoon.reports.compose import day_in_words
from ratoon.web.days import DayPlace, entry_place
from ratoon.web.days import place_of as days_place
from ratoon.web.door.visit import who
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sheet.recent import Recent
from ratoon.web.strikes.drawing import floor_drawing
from ratoon.web.strikes.exhaustion import exhaustion_page
from ratoon.web.strikes.page import StrikesPage, form_of, row_of, shown, strike_page

HEAD = ("strike", "pan", "grade", "time", "note")
Word = Annotated[str, Query(max_length=60)]
LONGEST = 300
RECENT, SECONDS = 8, 60.0
"""Answers on exhaustion that are remembered, and how long one may take [s]."""


def add_strikes(app: FastAPI, pages: Pages) -> None:
    """The pages of strikes."""
    pages.by_day.add("strikes")
    pages.any_day.add("strikes")

    def page_of(
        place: DayPlace, event: str, typed: Mapping[str, str], line: str = "",
        refused: tuple[str, ...] = (),
    ) -> StrikesPage:  # fmt: skip
        opened, day = pages.history.opened, date_type.fromisoformat(place.date)
        mill = opened.mill
        floor = floor_of_day(opened, day)
        found = floor.strikes
        period = mill.calendar.period(day)
        pans = names_of_pans(mill.settings.pans)
        names = tuple(dict.fromkeys((*pans, *(s.pan for s in found))))
        picture = floor_drawing(found, names, tuple(mill.settings.pans), period,
                                mill.calendar.to_local(period.start))  # fmt: skip
        return StrikesPage(
            place, day_in_words(place.date), mill.name, tuple(row_of(s) for s in found),
            tuple((grade, shown(f)) for grade, f in floor.held.items()), floor.at[11:16], names,
            tuple(mill.settings.pans), form_of(event, {"time": f"{place.date}T06:00", **typed}),
            line, refused, Markup(picture),
        )  # fmt: skip

    def answer(page: StrikesPage, status: int = 200) -> Response:
        return pages.answer(None, page, "strikes_page.html", "Strikes", page.place.date, status)

    def place_of(date: str) -> DayPlace:
        return entry_place(date, list(pages.history.days()))

    @get(app, "/strikes/{date}", list[StrikeLine])
    def strikes(
        date: str, event: Word = "drop", strike: Word = "", pan: Word = "", grade: Word = "",
        kept: Word = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        if format == "json":
            day = date_type.fromisoformat(place.date)
            return JSONResponse(to_json(strikes_of_day(pages.history.opened, day)))
        typed = {k: v for k, v in (("strike", strike), ("pan", pan), ("grade", grade)) if v}
        return answer(page_of(place, event, typed, f"Kept: {kept}" if kept else ""))

    @app.post("/strikes/{date}/events")
    async def typed(date: str, request: Request) -> Response:
        sent = {k: v[:LONGEST] for k, v in (await request.form()).items() if isinstance(v, str)}
        return await run_in_threadpool(keep, date, sent)

    def keep(date: str, form: dict[str, str]) -> Response:
        place, event = place_of(date), form.get("event", "")
        done = _entered(pages, form, event)
        if done.refused:
            why = tuple(dict.fromkeys(f"{r.column}: {r.reason}" for r in done.refused))
            return answer(page_of(place, event, form, f"Of this event: {done.in_words}", why), 422)
        asked = {"event": event, **{k: form.get(k, "") for k in HEAD[:3]}, "kept": done.in_words}
        return RedirectResponse(f"/strikes/{place.date}?{urlencode(asked)}", 303)

    @get(app, "/strike/{name}", StrikeDetail)
    def strike(name: str, format: Format = None) -> Response:
        opened = pages.history.opened
        found, rows = strike_of(opened, name), rows_of(opened, name)
        if format == "json":
            return JSONResponse(to_json(found))
        mill = opened.mill
        told = tuple(
            (f"{mill.calendar.to_local(r.time):%d. %H:%M}", r.event, r.quantity,
             f"{r.given:g} {r.unit}".strip() if r.given is not None else "",
             f"{r.note} ({r.source})".strip()) for r in rows
        )  # fmt: skip
        day = mill.calendar.day_of(rows[0].time).isoformat()
        page = strike_page(mill.name, day, found, told)
        return pages.answer(None, page, "strike_page.html", "Strikes", day)


def add_exhaustion(app: FastAPI, pages: Pages) -> None:
    """The page of exhaustion: which step lowers the purity of molasses."""
    pages.by_day.add("exhaustion")
    made: Recent[Exhaustion] = Recent(pages.door.state, RECENT)

    @get(app, "/exhaustion/{date}", Exhaustion)
    def exhaustion(date: str, format: Format = None) -> Response:
        facts = pages.history.days()
        place = days_place(date, list(facts))
        ran = [d for d, f in facts.items() if d <= place.date and f.result.period.crushing_hours]
        if not ran:
            line = f"no cane was crushed to {place.date}: there is no purity to tell"
            return pages.message(format, 200, "Nothing to tell yet", line, "")
        told = made.of(ran[-1], lambda: pages.pool.call(exhaustion_in, str(pages.mill_dir), ran[-1],
                                                        limit=SECONDS))  # fmt: skip
        if format == "json":
            return JSONResponse(to_json(told))
        page = exhaustion_page(told, place, pages.history.mill.name)
        return pages.answer(None, page, "exhaustion_page.html", "Exhaustion", place.date)


def _entered(pages: Pages, form: Mapping[str, str], event: str) -> Entered:
    """Keep an event's quantities, one row each, those left empty passed over."""
    head = {name: form.get(name, "").strip() for name in HEAD}
    page = form_of(event, form)
    rows = [{**head, "event": event, "quantity": box.name, "value": box.value.strip(),
             "unit": box.unit} for box in page.boxes if box.value.strip()]  # fmt: skip
    if event not in EVENTS or not rows:
        rows = [{**head, "event": event, "quantity": page.boxes[0].name}]
    return enter(pages.door.begin(), pages.history.mill, "strikes", rows, who(), "strikes",
                 form.get("reason", "").strip())  # fmt: skip
