"""Addresses of the cane office: supply to date, and held cane to be cleared or corrected.

Looking changes nothing. Clearing and correcting keep who, when and why, and the day is accounted
again at once, so that the page shows what stands.
"""

from __future__ import annotations

import datetime
from typing import Annotated
from urllib.parse import urlencode

from fastapi import FastAPI, Form
from fastapi.responses import JSONResponse, RedirectResponse, Response

from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput
from ratoon.jobs import cane as jobs
from ratoon.jobs.cane_correct import correct
from ratoon.jobs.cane_load import FIELDS
from ratoon.jobs.cane_season import held_of, supply_of
from ratoon.reports.compose import day_in_words
from ratoon.web.cane_drawing import share_bars
from ratoon.web.cane_office import AT_ONCE, HeldPage, held_rows_of, supply_page
from ratoon.web.days import place_of
from ratoon.web.shared import Format, Pages
from ratoon.web.visit import who

Short = Annotated[str, Form(max_length=300)]


def add_cane_office(app: FastAPI, pages: Pages) -> None:
    """The pages of supply and of held cane."""
    pages.by_day.add("supply")

    @app.api_route("/supply/{date}", methods=["GET", "HEAD"])
    def supply(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        mill = pages.history.mill
        found = supply_of(pages.store(), mill.calendar, datetime.date.fromisoformat(place.date),
                          pages.history.cane_sums())  # fmt: skip
        if format == "json":
            return JSONResponse(found)
        page = supply_page(found, place, day_in_words(place.date), mill.settings.mill.name)
        return pages.answer(format, page, "supply_page.html", "Cane", place.date,
                            drawing=share_bars(page.shares))  # fmt: skip

    @app.api_route("/held", methods=["GET", "HEAD"])
    def held(q: str = "", start: int = 0, done: str = "", format: Format = None) -> Response:
        rows = held_rows_of(held_of(pages.store(), pages.history.cane_sums()), q[:60])
        begin = min(max(start, 0), max(len(rows) - 1, 0))
        line = f"Kept: {done[:120]}. The day is accounted again." if done else ""
        page = HeldPage(
            pages.history.mill.settings.mill.name, len(rows), begin,
            tuple(rows[begin : begin + AT_ONCE]), q[:60], line, FIELDS,
        )  # fmt: skip
        return pages.answer(format, page, "held_page.html", "Cane", pages.newest())

    @app.post("/held")
    def clear_or_correct(
        kind: Short, subject: Short, field: Short, date: Short, why: Short,
        value: Short = "", q: Short = "",
    ) -> Response:  # fmt: skip
        day = parse_date(date)
        if not why.strip():
            raise BadInput("a correction needs its reason", where="reason",
                           todo="Write what you saw, or who told you.")  # fmt: skip
        correct(pages.mill_dir, kind, subject, field, value.strip(), why, who())
        jobs.cane_of_day(pages.mill_dir, day)
        done = f"{kind} {subject}: {field} {value.strip()}"
        return RedirectResponse("/held?" + urlencode({"q": q, "done": done}), 303)
