"""Address of the season's forecast: kept in the records, or made first by a worker."""

from __future__ import annotations

from datetime import date as day_type
from datetime import timedelta

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.forecast import kept_forecast, make_forecast
from ratoon.jobs.mills import in_mill
from ratoon.plans.season.answer import SeasonForecast
from ratoon.plans.season.rules import LATEST
from ratoon.reports.compose import day_in_words
from ratoon.web.days import place_of
from ratoon.web.season.page import SeasonPage, season_page
from ratoon.web.shared import Format, Pages, get

SECONDS = 120.0
"""How long a forecast may take [s]: three on a machine at rest."""


def add_season(app: FastAPI, pages: Pages) -> None:
    """The page of the season ahead, on the morning after a mill day."""
    pages.by_day.add("season")

    def found(date: str) -> SeasonForecast:
        opened, at = pages.history.opened, day_type.fromisoformat(date) + timedelta(days=1)
        kept = kept_forecast(opened, at)
        if kept is None:
            pages.pool.call(in_mill, pages.mill_dir, make_forecast, at, limit=SECONDS)
            kept = kept_forecast(opened, at)
        if kept is None:
            raise RatoonError("the records changed meanwhile", todo="Ask again.")
        return kept

    @get(app, "/season/{date}", SeasonForecast)
    def season(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        if format == "json":
            return JSONResponse(to_json(found(place.date)))
        mill, day = pages.history.mill, day_type.fromisoformat(place.date)
        at, title = day + timedelta(days=1), day_in_words(place.date)
        latest = mill.settings.season.latest_finish
        latest = latest or mill.calendar.first_of_season(day) + LATEST
        try:
            page = season_page(place, title, mill.name, latest, found(place.date))
        except RatoonError as error:
            words = day_in_words(at.isoformat())
            page = SeasonPage(place, title, mill.name, words, none=error.line())
        return pages.answer(None, page, "season_page.html", "Season", place.date)
