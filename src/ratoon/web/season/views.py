"""Addresses of the season ahead, its stops and fuel: kept in the records, or made by a worker."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date as day_type
from datetime import timedelta
from typing import Any, TypeVar

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.forecast import finishes_told, kept_forecast, make_forecast
from ratoon.jobs.fuel import kept_fuel, make_fuel
from ratoon.jobs.mills import OpenMill, in_mill
from ratoon.jobs.plan import season_plan, weeks_ahead
from ratoon.jobs.stop_days import kept_stops, make_stops
from ratoon.plans.season.answer import SeasonForecast
from ratoon.plans.season.fuel_answer import FuelAnswer
from ratoon.plans.season.rules import LATEST
from ratoon.plans.season.stops_answer import StopsAnswer
from ratoon.reports.compose import day_in_words
from ratoon.web.days import DayPlace, place_of
from ratoon.web.season.ahead import FuelPage, StopsPage, fuel_page, stops_page
from ratoon.web.season.page import SeasonPage, season_page
from ratoon.web.shared import Format, Pages, get

T = TypeVar("T")
DAY = timedelta(days=1)
SECONDS = 120.0
"""How long a forecast may take [s]: three on a machine at rest."""


def add_season(app: FastAPI, pages: Pages) -> None:
    """The page of the season ahead, on the morning after a mill day."""
    pages.by_day.add("season")

    def found(date: str) -> SeasonForecast:
        return _made(pages, date, kept_forecast, make_forecast)

    @get(app, "/season/{date}", SeasonForecast)
    def season(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        if format == "json":
            return JSONResponse(to_json(found(place.date)))
        mill, day = pages.history.mill, day_type.fromisoformat(place.date)
        title = day_in_words(place.date)
        latest = mill.settings.season.latest_finish
        latest = latest or mill.calendar.first_of_season(day) + LATEST
        try:
            opened = pages.history.opened
            told, earlier = found(place.date), finishes_told(opened, day + DAY)
            page = season_page(
                place, title, mill.name, latest, told, earlier, mill.settings.season,
                season_plan(opened, day), weeks_ahead(opened, day, [w.start for w in told.weeks]),
            )  # fmt: skip
        except RatoonError as error:
            page = SeasonPage(place, title, mill.name, _morning(place.date), none=error.line())
        return pages.answer(None, page, "season_page.html", "Season", place.date)


def add_stops(app: FastAPI, pages: Pages) -> None:
    """The page of the next planned stop, on the morning after a mill day."""
    _add(app, pages, "Stops", StopsAnswer, kept_stops, make_stops, stops_page, StopsPage)


def add_fuel(app: FastAPI, pages: Pages) -> None:
    """The page of the bagasse store, on the morning after a mill day."""
    _add(app, pages, "Fuel", FuelAnswer, kept_fuel, make_fuel, fuel_page, FuelPage)


def _add(
    app: FastAPI, pages: Pages, name: str, form: type[T],
    kept: Callable[[OpenMill, day_type], T | None], make: Callable[[OpenMill, day_type], None],
    shown: Callable[[DayPlace, str, str, T], Any], empty: Callable[..., Any],
) -> None:  # fmt: skip
    """A page of what is kept for a morning; `empty` says why there is nothing."""
    pages.by_day.add(name.lower())

    @get(app, f"/{name.lower()}/{{date}}", form)
    def view(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        title, mill = day_in_words(place.date), pages.history.mill.name
        if format == "json":
            return JSONResponse(to_json(_made(pages, place.date, kept, make)))
        try:
            page = shown(place, title, mill, _made(pages, place.date, kept, make))
        except RatoonError as error:
            page = empty(place, title, mill, _morning(place.date), none=error.line())
        return pages.answer(None, page, f"{name.lower()}_page.html", name, place.date)


def _morning(date: str) -> str:
    return day_in_words((day_type.fromisoformat(date) + DAY).isoformat())


def _made(
    pages: Pages, date: str, kept: Callable[[OpenMill, day_type], T | None],
    make: Callable[[OpenMill, day_type], None],
) -> T:  # fmt: skip
    """What is kept for the morning after a mill day; made first by a worker where it is not."""
    opened, at = pages.history.opened, day_type.fromisoformat(date) + DAY
    found = kept(opened, at)
    if found is None:
        pages.pool.call(in_mill, pages.mill_dir, make, at, limit=SECONDS)
        found = kept(opened, at)
    if found is None:
        raise RatoonError("the records changed meanwhile", todo="Ask again.")
    return found
