"""Addresses of the works and of its stations."""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from ratoon.web.days import place_of
from ratoon.web.plant.stage_drawing import NARROW, stage_drawing
from ratoon.web.plant.trend_drawing import trend_drawing
from ratoon.web.plant.works import QUALITIES, StationPage, WorksPage, station_page, works_page
from ratoon.web.shared import Format, Pages, get

WORDS = {"brix": "brix", "dry_substance": "dry substance", "pol": "pol", "moisture": "water",
         "purity": "purity", "temperature": "temperature"}  # fmt: skip


def add_works(app: FastAPI, pages: Pages) -> None:
    """The works page and the page of each station."""
    pages.by_day.add("works")

    @get(app, "/live")
    def live() -> Response:
        days = pages.history.days()
        marks = {d: days[d].number for d in list(days)[-60:]}
        return JSONResponse({"newest": max(days, default=""), "marks": marks})

    @get(app, "/works/{date}", WorksPage)
    def works(date: str, format: Format = None) -> Response:
        days = pages.history.days()
        place = place_of(date, list(days))
        page = works_page(
            pages.history.mill, days[place.date], pages.history.works(place.date), place
        )
        drawings = [stage_drawing(s.drawing) + stage_drawing(s.drawing, NARROW)
                    for s in page.stages]  # fmt: skip
        return pages.answer(format, page, "works_page.html", "Works", place.date,
                            drawings=drawings, qualities=[WORDS[q] for q in QUALITIES])  # fmt: skip

    @get(app, "/works/{date}/{station}", StationPage)
    def station(date: str, station: str, format: Format = None) -> Response:
        days = pages.history.days()
        place = place_of(date, list(days))
        found = pages.history.works(place.date)
        page = station_page(pages.history.mill, days, found, place, station)
        if page is None:
            raise HTTPException(404)
        drawings = [trend_drawing(t.name, t.unit, t.points, t.target, smooth=t.smooth)
                    for t in page.trends]  # fmt: skip
        return pages.answer(format, page, "station_page.html", "Works", place.date,
                            drawings=drawings)  # fmt: skip
