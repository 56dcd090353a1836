"""Addresses of the season ahead, its stops and fuel: kept in the records, or made by a worker."""

from __future__ import annotations

from dataclasses import replace
from datetime import date as day_type

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.files.stops import known_stations
from ratoon.jobs.mills import in_mill
from ratoon.jobs.season.forecast import finishes_on_record, kept_forecast, make_forecast
from ratoon.jobs.season.fuel import kept_fuel, make_fuel
from ratoon.jobs.season.plan import season_plan, weeks_ahead
from ratoon.jobs.season.stop_days import FaultAsked, kept_stops, make_stops, stops_of
from ratoon.plans.season.answer import SeasonForecast
from ratoon.plans.season.fuel_answer import FuelAnswer
from ratoon.plans.season.rules import LATEST
from ratoon.plans.season.stops_answer import StopsAnswer
from ratoon.reports.compose import day_in_words
from ratoon.web.days import DayPlace, place_of
from ratoon.web.mornings import DAY, SECONDS, add_morning_page, made_of_morning, morning_words
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


def add_season(app: FastAPI, pages: Pages) -> None:
    """The page of the season ahead, on the morning after a mill day."""

    def page_of(place: DayPlace, title: str, name: str, told: SeasonForecast) -> SeasonPage:
        opened, day = pages.history.opened, day_type.fromisoformat(place.date)
        mill = pages.history.mill
        latest = mill.settings.season.latest_finish
        latest = latest or mill.calendar.first_of_season(day) + LATEST
        earlier = finishes_on_record(opened, day + DAY)
        return season_page(
            place, title, name, latest, told, earlier, mill.settings.season,
            season_plan(opened, day), weeks_ahead(opened, day, [w.start for w in told.weeks]),
        )  # fmt: skip

    add_morning_page(app, pages, "season", SeasonForecast, kept_forecast, make_forecast, page_of,
                     SeasonPage)  # fmt: skip


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
    add_morning_page(app, pages, "fuel", FuelAnswer, kept_fuel, make_fuel, fuel_page, FuelPage)
