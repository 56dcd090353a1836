"""Addresses of one quantity's page, and of its files."""

from __future__ import annotations

from datetime import date as date_type
from typing import Annotated
from urllib.parse import urlencode

from fastapi import FastAPI, Form, Request
from fastapi.responses import RedirectResponse, Response

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.jobs.mills import in_mill
from ratoon.jobs.sheet import day as jobs
from ratoon.reports.table_book import table_workbook
from ratoon.store.written import reading_versions
from ratoon.web.days import place_of
from ratoon.web.door.visit import who
from ratoon.web.plant.trend_drawing import trend_drawing
from ratoon.web.shared import ACCOUNT_SECONDS, Format, Pages, get
from ratoon.web.sheet.reading import (
    ENTERED_HEAD,
    HEAD,
    ReadingPage,
    as_csv,
    day_cells,
    entered_cells,
    period_of,
    reading_page,
)

Short = Annotated[str, Form(max_length=40)]
Text = Annotated[str, Form(max_length=2000)]
DECISIONS = {"keep": False, "set aside": True}
"""What a person may say of a reading, and whether the day is then accounted without it."""
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def add_readings(app: FastAPI, pages: Pages) -> None:
    """One quantity over a period, as page, CSV and workbook."""

    def page_of(date: str, address: str, request: Request) -> ReadingPage:
        days = pages.history.days()
        place = place_of(date, list(days))
        mill = pages.history.mill
        if address not in mill.addresses:
            raise UnknownName("address", address[:120], mill.addresses)
        asked = request.query_params
        first, last = period_of(place, asked.get("from", ""), asked.get("to", ""))
        whole = Period(mill.calendar.period(first).start, mill.calendar.period(last).end)
        store = pages.door.store()
        versions = store.ask(reading_versions, [address], whole) if store else []
        return reading_page(mill, days, place, address, first, last, versions)

    def named(page: ReadingPage, ending: str) -> dict[str, str]:
        name = f"{page.address}-{page.first}-{page.last}.{ending}"
        return {"Content-Disposition": f'attachment; filename="{name}"'}

    @get(app, "/readings")
    def chosen(request: Request, date: str = "", address: str = "") -> Response:
        place = place_of(date, list(pages.history.days()))
        to = f"/readings/{place.date}"
        if address in pages.history.mill.addresses:
            period = {k: v for k in ("from", "to") if (v := request.query_params.get(k))}
            to += f"/{address}" + (f"?{urlencode(period)}" if period else "")
        elif address:
            raise UnknownName("address", address[:120], pages.history.mill.addresses)
        return RedirectResponse(to, 303)

    @get(app, "/readings/{date}/{address}", ReadingPage)
    def reading(request: Request, date: str, address: str, format: Format = None) -> Response:
        page = page_of(date, address, request)
        drawings = [
            ("As read", trend_drawing(f"{page.name} as read", page.unit, page.read, page.target,
                                      940.0, 180.0)),
            ("Reconciled", trend_drawing(f"{page.name} reconciled", page.unit, page.reconciled,
                                         page.target, 940.0, 180.0)),
        ]  # fmt: skip
        return pages.answer(format, page, "reading_page.html", "Readings", page.place.date,
                            drawings=[d for d in drawings if d[1]])  # fmt: skip

    @app.post("/readings/{date}/{address}")
    def decide(date: str, address: str, act: Short = "", why: Text = "") -> Response:
        """Keep a person's word on a reading, and account the day with it; a worker does it."""
        place = place_of(date, list(pages.history.days()))
        if act not in DECISIONS:
            raise BadInput("is no word on a reading", where="act", value=act[:40],
                           allowed=", ".join(DECISIONS))  # fmt: skip
        day = date_type.fromisoformat(place.date)
        word = (day, address, DECISIONS[act], why, who())
        pages.pool.call(in_mill, pages.mill_dir, jobs.decide, *word, limit=ACCOUNT_SECONDS)
        pages.account_anew(day)
        return RedirectResponse(f"/readings/{place.date}/{address}", 303)

    @get(app, "/readings/{date}/{address}/readings.csv")
    def as_text(request: Request, date: str, address: str) -> Response:
        page = page_of(date, address, request)
        return Response(as_csv(page), media_type="text/csv; charset=utf-8",
                        headers=named(page, "csv"))  # fmt: skip

    @get(app, "/readings/{date}/{address}/readings.xlsx")
    def as_book(request: Request, date: str, address: str) -> Response:
        page = page_of(date, address, request)
        sheets = {"days": (HEAD, day_cells(page)),
                  "as entered": (ENTERED_HEAD, entered_cells(page))}  # fmt: skip
        return Response(table_workbook(sheets), media_type=XLSX, headers=named(page, "xlsx"))
