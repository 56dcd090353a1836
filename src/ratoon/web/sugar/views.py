"""Addresses of sugar in store: kept in the records, or made by a worker."""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.sugar.refinery import kept_refinery, make_refinery
from ratoon.jobs.sugar.shed import kept_shed, make_shed
from ratoon.plans.refinery.result import RefineryAnswer
from ratoon.plans.shed.answer import ShedAnswer
from ratoon.reports.compose import day_in_words
from ratoon.web.days import place_of
from ratoon.web.season.views import made_of_morning, morning_words
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sugar.refinery import RefineryPage, refinery_page
from ratoon.web.sugar.shed import ShedPage, shed_page


def add_shed(app: FastAPI, pages: Pages) -> None:
    """The page of the sugar sheds, on the morning after a mill day."""
    pages.by_day.add("shed")

    @get(app, "/shed/{date}", ShedAnswer)
    def shed(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        title, mill = day_in_words(place.date), pages.history.mill.name
        if format == "json":
            return JSONResponse(to_json(made_of_morning(pages, place.date, kept_shed, make_shed)))
        try:
            told = made_of_morning(pages, place.date, kept_shed, make_shed)
            page = shed_page(place, title, mill, told)
        except RatoonError as error:
            page = ShedPage(place, title, mill, morning_words(place.date), none=error.line())
        return pages.answer(None, page, "shed_page.html", "Shed", place.date)


def add_refinery(app: FastAPI, pages: Pages) -> None:
    """The page of the refinery's year, from the morning after a mill day."""
    pages.by_day.add("refinery")

    def found(date: str) -> RefineryAnswer:
        return made_of_morning(pages, date, kept_refinery, make_refinery)

    @get(app, "/refinery/{date}", RefineryAnswer)
    def refinery(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        title, mill = day_in_words(place.date), pages.history.mill.name
        if format == "json":
            return JSONResponse(to_json(found(place.date)))
        try:
            page = refinery_page(place, title, mill, found(place.date))
        except RatoonError as error:
            page = RefineryPage(place, title, mill, morning_words(place.date), none=error.line())
        return pages.answer(None, page, "refinery_page.html", "Refinery", place.date)
