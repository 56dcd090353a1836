"""Addresses of the season ahead, its stops and fuel: kept in the records, or made by a worker."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date as day_type
from datetime import timedelta
from typing import TypeVar

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.files.stops import known_stations
from ratoon.jobs.mills import OpenMill, in_mill
from ratoon.jobs.season.forecast import finishes_told, kept_forecast, make_forecast
from ratoon.jobs.season.fuel import kept_fuel, make_fuel
from ratoon.jobs.season.plan import season_plan, weeks_ahead
from ratoon.jobs.season.stop_days import FaultAsked, kept_stops, make_stops, stops_of
from ratoon.plans.season.answer import SeasonForecast
from ratoon.plans.season.fuel_answer import FuelAnswer
from ratoon.plans.season.rules import LATEST
from ratoon.plans.season.stops_answer import StopsAnswer
from ratoon.reports.compose import day_in_words
from ratoon.web.days import place_of
from ratoon.web.season.ahead import (
    FaultForm,
    FuelPage,
    StopsPage,
    choices_of,
    fuel_page,
    stops_page,
)
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
        return made_of_morning(pages, date, kept_forecast, make_forecast)

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
            page = SeasonPage(place, title, mill.name, morning_words(place.date), none=error.line())
        return pages.answer(None, page, "season_page.html", "Season", place.date)


def add_stops(app: FastAPI, pages: Pages) -> None:
    """The page of the next planned stop, on the morning after a mill day, and of a fault."""
    pages.by_day.add("stops")

    @get(app, "/stops/{date}", StopsAnswer)
    def stops(
        date: str, fault: str = "", slow: str = "", repair: str = "", worse: str = "",
        format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date, pages.days())
        boxes = fault, slow, repair, worse

        def found() -> StopsAnswer:
            if not any(boxes):
                return made_of_morning(pages, place.date, kept_stops, make_stops)
            at = day_type.fromisoformat(place.date) + DAY
            asked = FaultAsked.typed(*boxes)
            told: StopsAnswer = pages.pool.call(
                in_mill, pages.mill_dir, stops_of, at, asked, limit=SECONDS
            )
            return told

        if format == "json":
            return JSONResponse(to_json(found()))
        title, mill = day_in_words(place.date), pages.history.mill
        form = FaultForm(*boxes, stations=known_stations(mill))
        try:
            told = made_of_morning(pages, place.date, kept_stops, make_stops)
            page = stops_page(place, title, mill.name, told)
        except RatoonError as error:
            none = StopsPage(place, title, mill.name, morning_words(place.date), none=error.line())
            return pages.answer(None, none, "stops_page.html", "Stops", place.date)
        if any(boxes):
            try:
                form = replace(form, choices=choices_of(found()))
            except RatoonError as error:
                form = replace(form, refusal=error.line())
        page = replace(page, fault=form)
        return pages.answer(None, page, "stops_page.html", "Stops", place.date)


def add_fuel(app: FastAPI, pages: Pages) -> None:
    """The page of the bagasse store, on the morning after a mill day."""
    pages.by_day.add("fuel")

    @get(app, "/fuel/{date}", FuelAnswer)
    def fuel(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        title, mill = day_in_words(place.date), pages.history.mill.name
        if format == "json":
            return JSONResponse(to_json(made_of_morning(pages, place.date, kept_fuel, make_fuel)))
        try:
            page = fuel_page(
                place, title, mill, made_of_morning(pages, place.date, kept_fuel, make_fuel)
            )
        except RatoonError as error:
            page = FuelPage(place, title, mill, morning_words(place.date), none=error.line())
        return pages.answer(None, page, "fuel_page.html", "Fuel", place.date)


def morning_words(date: str) -> str:
    return day_in_words((day_type.fromisoformat(date) + DAY).isoformat())


def made_of_morning(
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
