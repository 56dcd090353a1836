"""The week's notice to growers, as a page to print; it tells no money and no grower's own cane."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date as day_type

from fastapi import FastAPI
from fastapi.responses import JSONResponse, RedirectResponse, Response

from ratoon.base.as_json import to_json
from ratoon.jobs.season.notice import Notice, notice_of
from ratoon.reports.ahead import finish_words
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import grouped, short_day
from ratoon.web.days import DayPlace, place_of
from ratoon.web.shared import Format, Pages, get


@dataclass(frozen=True, slots=True)
class NoticePage:
    """The notice, ready to be written; empty texts where nothing is known."""

    place: DayPlace
    title: str
    mill_name: str
    facts: tuple[tuple[str, str], ...]
    finish: str
    made: str
    left: str
    weeks: tuple[tuple[str, str, str], ...]
    stops: tuple[tuple[str, str, str], ...]


def notice_page(place: DayPlace, mill_name: str, n: Notice) -> NoticePage:
    """The page of a notice."""
    facts = [
        (f"cane crushed, week from {short_day(n.week_from)}", _tonnes(n.cane[0], 0)),
        ("CCS of the week", _percent(n.ccs[0], 2)),
        ("cane crushed, season to date", _tonnes(n.cane[1], -2)),
        ("CCS of the season to date", _percent(n.ccs[1], 2)),
        ("crop, as it looks now", _tonnes(None if n.crop is None else n.crop[1], -3)),
        ("of it crushed", _percent(n.share, 0)),
    ]
    left = ""
    if n.left_chance is not None and n.left_chance >= 0.005:
        left = (f"Chance that cane is left standing at the latest finish: "
                f"{100 * n.left_chance:.0f} %.")  # fmt: skip
    return NoticePage(
        place, day_in_words(n.date), mill_name, tuple(f for f in facts if f[1]),
        "" if n.finish is None else finish_words(n.finish),
        day_in_words(n.made) if n.made else "", left,
        tuple((short_day(w.start), _tonnes(w.cane[1], -2),
               f"{_tonnes(w.cane[0], -2)} to {_tonnes(w.cane[2], -2)}") for w in n.weeks),
        tuple((day_in_words(s.date), f"{s.hours:g} h",
               f"{s.cause}{f', may move by {s.movable} days' if s.movable else ''}")
              for s in n.stops),
    )  # fmt: skip


def _tonnes(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{grouped(value, decimals)} t"


def _percent(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{grouped(value, decimals)} %"


def add_notice(app: FastAPI, pages: Pages) -> None:
    """The week's notice, for growers too."""
    pages.by_day.add("notice")

    @get(app, "/notice")
    def newest() -> Response:
        days = pages.days()
        return RedirectResponse(f"/notice/{days[-1]}" if days else "/yard", 303)

    @get(app, "/notice/{date}", Notice)
    def notice(date: str, format: Format = None) -> Response:
        place = place_of(date, pages.days())
        told = notice_of(pages.history.opened, day_type.fromisoformat(place.date))
        if format == "json":
            return JSONResponse(to_json(told))
        page = notice_page(place, pages.history.mill.name, told)
        return pages.answer(None, page, "notice_page.html", "Notice", place.date)
