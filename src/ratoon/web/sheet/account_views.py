"""Address of the day's accounts."""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.responses import Response

from ratoon.reports.band import band_drawing
from ratoon.reports.tokens import COLOURS
from ratoon.web.plant.trend_drawing import trend_drawing
from ratoon.web.plant.works import Trend
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sheet.account import AccountPage, account_page
from ratoon.web.sheet.balance_drawing import balance_drawing


def _drawn(trend: Trend) -> str:
    return trend_drawing(trend.name, trend.unit, trend.points, trend.target)


def add_account(app: FastAPI, pages: Pages) -> None:
    """The account page."""
    pages.by_day.add("account")

    @get(app, "/account/{date}", AccountPage)
    def account(date: str, format: Format = None) -> Response:
        place, sheet = pages.sheet(date)
        days = pages.history.days()
        roles = pages.history.mill.roles
        page = account_page(days, pages.history.works(place.date), sheet, place, roles)
        drawings = {b.key: balance_drawing(b.title, b.rows, COLOURS[b.colour])
                    for b in page.balances}  # fmt: skip

        return pages.answer(
            format,
            page,
            "account_page.html",
            "Account",
            place.date,
            drawings=drawings,
            trend=_drawn,
            band=band_drawing(sheet, width=940.0, size=13.0, tall=9.0),
            link=pages.opens(place.date, sheet),
        )
