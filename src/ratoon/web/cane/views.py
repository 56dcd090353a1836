"""Addresses of the cane: the day, a consignment or bin, the search.

A grower who is signed in gets that grower's cane alone: the name goes into the question put to the
database, never into a filter after it.
"""

from __future__ import annotations

import datetime
from typing import Any

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from ratoon.base.clock import parse_date
from ratoon.base.errors import RatoonError
from ratoon.base.records import Period
from ratoon.cane.bias import DECIDE
from ratoon.cane.day_result import CaneDayResult
from ratoon.cane.supply import instruments_of
from ratoon.jobs.cane import days as jobs
from ratoon.jobs.cane.account import Figures, against_the_account
from ratoon.jobs.cane.own import names_of, own_words
from ratoon.jobs.cane.pay import pay, week_of
from ratoon.jobs.cane.season import days_in_short
from ratoon.jobs.cane.trace import trace
from ratoon.reports.compose import day_in_words
from ratoon.web.cane.consignment import trace_page
from ratoon.web.cane.drawing import instrument_lines, timeline
from ratoon.web.cane.juice_drawing import juice_drawing, path_drawing
from ratoon.web.cane.supply import cane_page
from ratoon.web.days import place_of
from ratoon.web.door.access import STAFF
from ratoon.web.door.visit import visitor
from ratoon.web.shared import Format, Pages, get

INSTRUMENTS = datetime.timedelta(days=35)  # of running comparison on a day's page


def own_grower() -> str | None:
    """Whose cane the visitor may see: None for all of it, for the mill's own people.

    Raises
    ------
    HTTPException : 403 for a visitor who is neither.
    """
    who = visitor()
    if who.open or who.roles & STAFF:
        return None
    if not who.grower:
        raise HTTPException(403, "no grower belongs to this login")
    return who.grower


def add_cane(app: FastAPI, pages: Pages) -> None:
    """The pages of cane."""
    pages.by_day.add("cane")

    @get(app, "/cane/{date}", CaneDayResult)
    def day(date: str, only: str = "", format: Format = None) -> Response:
        place = place_of(date, pages.days())
        at = datetime.date.fromisoformat(place.date)
        answer = jobs.kept_cane(pages.history.opened, at)
        mill = pages.history.mill
        if answer is None:
            line = f"no cane is analysed for mill day {place.date}: ratoon cane {place.date}"
            return pages.message(format, 200, "No cane of this day yet", line, place.date)
        if format == "json":
            return JSONResponse(answer)
        local = local_time(pages)
        days, sums = pages.history.days(), pages.history.cane_sums()

        def figures(day: str) -> Figures | None:
            return days[day].result.figures if day in days else None

        account = against_the_account(pages.store(), mill.calendar, at, figures, sums)
        period = mill.calendar.period(at)
        season = Period(period.start - INSTRUMENTS, period.end)
        instruments = instruments_of(days_in_short(pages.store(), season, sums))
        page = cane_page(
            answer, place, day_in_words(place.date), local, account, instruments, only[:60]
        )
        first, last = week_of(mill, at)
        return pages.answer(
            format, page, "cane_page.html", "Cane", place.date,
            drawing=timeline(answer["consignments"], period.start, local), week=(first, last),
            runs=instrument_lines(instruments, DECIDE),
        )  # fmt: skip

    @get(app, "/consignment/{name}")
    def consignment(name: str, format: Format = None) -> Response:
        mine = own_grower()
        found = trace(pages.history.opened, name, mine)
        if mine is not None:
            days = found.get("days")
            found = as_told(pages, found, (days[0], days[-1]) if days else None, mine)
        if format == "json":
            return JSONResponse(found)
        mill = pages.history.mill
        local = local_time(pages)
        expected = _expected(pages, found, mine)
        page = trace_page(name, mill.settings.mill.name, found, local, mill.calendar.in_words,
                          expected)  # fmt: skip
        return pages.answer(
            format, page, "consignment_page.html", "Cane", pages.newest(),
            path=path_drawing(found, local), juice=juice_drawing(found, local),
            currency=mill.settings.mill.currency,
        )  # fmt: skip


def _expected(pages: Pages, found: Any, mine: str | None) -> dict[str, Any] | None:
    """The week's statement of a consignment's grower as it would be issued now, where it can be."""
    one = found.get("found")
    if not one or not one["grower"] or found["statements"]:
        return None
    grower = one["grower"] if mine is None else mine
    first, last = week_of(pages.history.mill, datetime.date.fromisoformat(one["day"]))
    try:
        return pay(pages.history.opened, first, last, grower, kept=True)[0]
    except RatoonError:  # the mill file names no price, or no cane of these days can be paid
        return None


def as_told(
    pages: Pages, found: dict[str, Any], days: tuple[str, str] | None, mine: str
) -> dict[str, Any]:
    """An answer about a grower's cane without the names of other growers' cane."""
    span = (parse_date(days[0]), parse_date(days[1])) if days else None
    names = names_of(pages.store(), pages.history.mill.calendar, span)
    # cane that was paid to him is his to hear of, also when it turned out to be another's
    paid = {line["consignment"] for line in found.get("lines", ())}
    paid |= {a["subject"] for a in found.get("adjustments", ()) if a["kind"] == "cane"}
    told: dict[str, Any] = own_words(found, names.of_others(mine, paid))
    return told


def local_time(pages: Pages) -> Any:
    """Local time of a UTC text, by the mill file as it stands now."""
    calendar = pages.history.mill.calendar

    def local(text: str) -> datetime.datetime:
        return calendar.to_local(datetime.datetime.fromisoformat(text))

    return local
