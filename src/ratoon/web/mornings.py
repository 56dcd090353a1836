"""Pages of the morning after a mill day: their answers are kept, or made by a worker first."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date as day_type
from datetime import timedelta
from typing import Any, TypeVar

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.mills import OpenMill, in_mill
from ratoon.reports.compose import day_in_words
from ratoon.web.days import DayPlace, place_of
from ratoon.web.shared import Format, Pages, get

T = TypeVar("T")
DAY = timedelta(days=1)
SECONDS = 120.0
"""How long an answer may take [s]: three on a machine at rest."""


def add_morning_page(
    app: FastAPI, pages: Pages, name: str, answer: type[T],
    kept: Callable[[OpenMill, day_type], T | None], make: Callable[[OpenMill, day_type], None],
    page_of: Callable[[DayPlace, str, str, T], Any], bare: Callable[..., Any],
) -> None:  # fmt: skip
    """The page ``/name/{date}``; as JSON the answer itself.

    Parameters
    ----------
    kept, make : what the records hold of a morning, and what makes and keeps it. page_of : the page
        of an answer, from the day's place and title and the mill's name. bare : the page's record
        where there is none, with `none` for the reason.
    """
    pages.by_day.add(name)

    def found(date: str) -> T:
        return made_of_morning(pages, date, kept, make)

    @get(app, f"/{name}/{{date}}", answer)
    def page(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        if format == "json":
            return JSONResponse(to_json(found(place.date)))
        title, mill = day_in_words(place.date), pages.history.mill.name
        try:
            shown = page_of(place, title, mill, found(place.date))
        except RatoonError as error:
            shown = bare(place, title, mill, morning_words(place.date), none=error.line())
        return pages.answer(None, shown, f"{name}_page.html", name.capitalize(), place.date)


def morning_words(date: str) -> str:
    """The morning after a mill day, in words."""
    return day_in_words((day_type.fromisoformat(date) + DAY).isoformat())


def made_of_morning(
    pages: Pages, date: str, kept: Callable[[OpenMill, day_type], T | None],
    make: Callable[[OpenMill, day_type], None],
) -> T:  # fmt: skip
    """What is kept for the morning after a mill day; made first by a worker where it is not.

    Raises
    ------
    RatoonError : it cannot be made, or the records changed while it was.
    """
    opened, at = pages.history.opened, day_type.fromisoformat(date) + DAY
    found = kept(opened, at)
    if found is None:
        pages.pool.call(in_mill, pages.mill_dir, make, at, limit=SECONDS)
        found = kept(opened, at)
    if found is None:
        raise RatoonError("the records changed meanwhile", todo="Ask again.")
    return found
