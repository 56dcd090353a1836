"""Address of the bridge from plan to actual: kept in the records, or made first by a worker."""

from __future__ import annotations

from datetime import date as day_type

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.mills import in_mill
from ratoon.jobs.season.bridge import kept_bridge, make_bridge, to_date
from ratoon.plans.bridge.result import Bridge, BridgeMade
from ratoon.reports.compose import day_in_words
from ratoon.web.days import place_of
from ratoon.web.season.bridge import BridgePage, bridge_page
from ratoon.web.shared import Format, Pages, get

SECONDS = 120.0
"""How long a bridge may take [s]: two on a machine at rest."""


def add_bridge(app: FastAPI, pages: Pages) -> None:
    """The page of plan and actual, week or season to a mill day."""
    pages.by_day.add("bridge")

    def found(date: str, season: bool) -> BridgeMade:
        opened = pages.history.opened
        first, last = to_date(opened, day_type.fromisoformat(date), season)
        kept = kept_bridge(opened, first, last)
        if kept is None:
            pages.pool.call(in_mill, pages.mill_dir, make_bridge, first, last, limit=SECONDS)
            kept = kept_bridge(opened, first, last)
        if kept is None:
            raise RatoonError("the records changed meanwhile", todo="Ask again.")
        return kept

    @get(app, "/bridge/{date}", Bridge)
    def bridge(date: str, season: int = 0, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        if format == "json":
            return JSONResponse(to_json(found(place.date, bool(season)).bridge))
        name = pages.history.mill.name
        try:
            page = bridge_page(place, name, bool(season), found(place.date, bool(season)))
        except RatoonError as error:
            page = BridgePage(place, day_in_words(place.date), name, bool(season),
                              none=error.line())  # fmt: skip
        return pages.answer(None, page, "bridge_page.html", "Bridge", place.date)
