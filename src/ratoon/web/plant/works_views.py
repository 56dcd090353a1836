"""Addresses of the plant and of its stations."""

from __future__ import annotations

from datetime import date as date_type

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from ratoon.jobs.best.clean import (
    USUAL_DAYS,
    Waits,
    clean_in,
    clean_of,
    kept_clean,
    scales_of,
    season_to,
)
from ratoon.plans.clean.result import CleanResult
from ratoon.web.days import place_of
from ratoon.web.plant.clean import RATES, CleanPage, clean_page
from ratoon.web.plant.clean_drawing import days_drawing, effect_drawing
from ratoon.web.plant.stage_drawing import stage_drawings
from ratoon.web.plant.trend_drawing import trend_drawing
from ratoon.web.plant.works import QUALITIES, StationPage, WorksPage, station_page, works_page
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sheet.recent import Recent

WORDS = {"brix": "brix", "dry_substance": "dry substance", "pol": "pol", "moisture": "water",
         "purity": "purity", "temperature": "temperature"}  # fmt: skip


RECENT_PLANS = 8
PLAN_SECONDS = 90.0
"""How long a plan of cleans may take [s]: ten of processor on a machine at rest."""


def add_works(app: FastAPI, pages: Pages) -> None:
    """The plant page, the page of each station, and when to clean the evaporator."""
    pages.by_day |= {"works", "clean"}

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
        drawings = [stage_drawings(s.drawing) for s in page.stages]
        return pages.answer(format, page, "works_page.html", "Plant", place.date,
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
        return pages.answer(format, page, "station_page.html", "Plant", place.date,
                            drawings=drawings)  # fmt: skip

    plans: Recent[CleanResult] = Recent(pages.door.state, RECENT_PLANS)

    def planned(day: str, days: int, rate: Waits) -> CleanResult:
        def make() -> CleanResult:
            season = season_to(pages.history.mill, pages.history.days(), day)
            if not scales_of(season):  # then there is nothing to search for
                return clean_of(pages.history, date_type.fromisoformat(day), days, rate)
            return pages.pool.call(clean_in, str(pages.mill_dir), day, days, rate,
                                   limit=PLAN_SECONDS)  # fmt: skip

        if days == USUAL_DAYS:
            return kept_clean(pages.history, date_type.fromisoformat(day), make, rate)
        return plans.of((day, days, rate), make)

    @get(app, "/clean/{date}", CleanPage)
    def clean(
        date: str, days: int = USUAL_DAYS, rate: Waits = "free", format: Format = None
    ) -> Response:
        facts = pages.history.days()
        place = place_of(date, list(facts))
        ran = [d for d, f in facts.items() if d <= place.date and f.result.period.crushing_hours]
        if not ran:
            line = f"no cane was crushed to {place.date}: there is nothing to plan for"
            return pages.message(format, 200, "Nothing to clean yet", line, "")
        told = planned(ran[-1], days, rate)
        mill = pages.history.mill
        rates = RATES if mill.settings.season.hour_cost > 0.0 else ()
        page = clean_page(told, place, mill.name, days, rates, rate)
        drawings = [(f"Effect {e.effect}", effect_drawing(e)) for e in told.effects]
        return pages.answer(format, page, "clean_page.html", "Clean", place.date,
                            strip=days_drawing(told), drawings=drawings)  # fmt: skip
