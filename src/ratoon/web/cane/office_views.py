"""Addresses of the cane office: supply to date, and held cane to be cleared or corrected.

Looking changes nothing. Clearing and correcting keep who, when and why, and the day is accounted
again at once, so that the page shows what stands.
"""

from __future__ import annotations

import datetime
from typing import Annotated

from fastapi import FastAPI, Form
from fastapi.responses import JSONResponse, RedirectResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.jobs.cane.correct import Change, act, exchange
from ratoon.jobs.cane.load import FIELDS
from ratoon.jobs.cane.season import held_of, supply_of
from ratoon.reports.compose import day_in_words
from ratoon.web.cane.drawing import share_bars
from ratoon.web.cane.office import AT_ONCE, HeldPage, held_rows_of, supply_page
from ratoon.web.days import place_of
from ratoon.web.door.visit import visitor, who
from ratoon.web.shared import Format, Pages, get

Short = Annotated[str, Form(max_length=300)]
Picked = Annotated[list[str] | None, Form(max_length=600)]


def add_cane_office(app: FastAPI, pages: Pages) -> None:
    """The pages of supply and of held cane."""
    pages.by_day.add("supply")

    @get(app, "/supply/{date}")
    def supply(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        mill = pages.history.mill
        found = supply_of(pages.store(), datetime.date.fromisoformat(place.date),
                          pages.history.cane_sums())  # fmt: skip
        if format == "json":
            return JSONResponse(to_json(found))
        page = supply_page(found, place, day_in_words(place.date), mill.settings.mill.name)
        return pages.answer(format, page, "supply_page.html", "Cane", place.date,
                            drawing=share_bars(page.shares))  # fmt: skip

    @get(app, "/held", HeldPage)
    def held(
        q: str = "", reason: str = "", grower: str = "", age: str = "", start: int = 0,
        done: str = "", said: str = "", format: Format = None,
    ) -> Response:  # fmt: skip
        every = held_of(pages.store(), pages.history.cane_sums())
        rows = held_rows_of(every, q[:60], reason[:60], grower[:60], _hours(age))
        begin = min(max(start, 0), max(len(rows) - 1, 0))
        done = visitor().said(done, said)
        line = f"Kept: {done}. The day is accounted again." if done else ""
        codes = {x.code for r in held_rows_of(every) for x in r.reasons}
        page = HeldPage(
            pages.history.mill.settings.mill.name, len(rows), begin,
            tuple(rows[begin : begin + AT_ONCE]), q[:60], reason[:60], grower[:60], age[:10],
            tuple(sorted(codes)), line, FIELDS,
        )  # fmt: skip
        return pages.answer(format, page, "held_page.html", "Cane", pages.newest())

    @app.post("/held")
    def decide(
        field: Short, why: Short, kind: Short = "", subject: Short = "", value: Short = "",
        other: Short = "", back: Short = "", pick: Picked = None, grower: Short = "",
        farm: Short = "", block: Short = "", variety: Short = "",
    ) -> Response:  # fmt: skip
        if not why.strip():
            raise BadInput("a correction needs its reason", where="reason",
                           todo="Write what you saw, or who told you.")  # fmt: skip
        about = [_picked(text) for text in pick] if pick else [(kind, subject)]
        note = {"grower": grower, "farm": farm, "block": block, "variety": variety}
        changes = [
            Change(of, name, what, to.strip())
            for of, name in about
            for what, to in (note.items() if field == "note" else ((field, value),))
            if field != "note" or to.strip()
        ]
        if field == "exchange":
            kept = exchange(pages.history.opened, kind, subject, other, why, who())
        else:
            kept = act(pages.history.opened, changes, why, who())
        first = kept[0]
        done = f"{first['kind']} {first['subject']}: {first['field']} {first['new']}"
        if len(kept) > 1:
            done += f" and {len(kept) - 1} more"
        return RedirectResponse(f"/held?{back}&{visitor().says(done)}", 303)


def _picked(text: str) -> tuple[str, str]:
    """Kind and name of a row that was picked."""
    _, _, rest = text.partition("|")
    kind, bar, subject = rest.partition("|")
    if not bar:
        raise BadInput("not a row of this list", value=text)
    return kind, subject


def _hours(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError:
        raise BadInput("not a number of hours", value=text, allowed="such as 24") from None
