"""Address of the week's report: page, PDF and workbook; `season=1` shows the season to date."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import date as day_type
from datetime import timedelta
from functools import cache

from fastapi import FastAPI
from fastapi.responses import Response

from ratoon.account.figures.manufacturing import groups_of
from ratoon.account.results.week import WeekResult
from ratoon.reports.week import CAUTION, WeekReport, week_report
from ratoon.reports.week_book import week_workbook
from ratoon.reports.write_week import WeekPictures, week_pdf, week_pictures
from ratoon.web.days import place_of
from ratoon.web.door.access import WEEK, may_see
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sheet.recent import Recent

ACCOUNT_SECONDS = 300.0
"""How long the account of a week or season may take [s]."""
RECENT_WEEKS = 8
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class WeekPage:
    """The report, the day it was asked for, and the weeks beside it ("" where none is)."""

    date: str
    before: str
    after: str
    season: bool
    report: WeekReport


@dataclass(frozen=True, slots=True)
class Week:
    """A week's result, as a report, and its drawings."""

    result: WeekResult
    report: WeekReport
    pictures: WeekPictures


class Weeks:
    """The weeks of a mill, and its season to date, as they are kept, made or accounted."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages
        self._one_at_a_time = threading.Lock()
        self._recent: Recent[Week] = Recent(pages.door.state, RECENT_WEEKS)

    def of(self, date: str, season: bool) -> tuple[str, Week]:
        """The accounted day asked for, and its week, or the season to it."""
        pages = self._pages
        at = place_of(date, pages.days()).date
        calendar, day = pages.history.mill.calendar, day_type.fromisoformat(at)
        first = day if season else calendar.first_of_week(day)
        key = (season, first, calendar.first_of_season(day))
        rests_on = None if season else pages.rests_on(first.isoformat(), WEEK)
        return at, self._recent.of(key, lambda: self._made(at, season), rests_on)

    def neighbours(self, date: str) -> tuple[str, str]:
        """The accounted days nearest to a week before and after."""
        days, at = self._pages.days(), day_type.fromisoformat(date)
        low = (at - timedelta(days=7)).isoformat()
        high = (at + timedelta(days=7)).isoformat()
        before = max((d for d in days if d <= low), default="")
        after = min((d for d in days if d >= high), default="")
        return before, after

    def _made(self, date: str, season: bool) -> Week:
        from ratoon.jobs.sheet.week import found_week, kept_week

        pages, day = self._pages, day_type.fromisoformat(date)
        result = found_week(pages.history.opened, day, season)
        if result is None:
            if pages.served:  # else a season's account would hold up every other page
                self._account_aside(day, season)
            with pages.lock:
                result = kept_week(pages.history.opened, day, season)
        report = week_report(result)
        drawn = week_pictures(report)
        # a week has seven pages
        return Week(
            result, report, WeekPictures(cache(drawn.chart), cache(drawn.trend), drawn.hours)
        )

    def _account_aside(self, day: day_type, season: bool) -> None:
        """Account the week or season of a day in a process of its own, while somebody waits."""
        from ratoon.jobs.mills import in_mill
        from ratoon.jobs.pool import SolverPool
        from ratoon.jobs.sheet.week import account_week

        with self._one_at_a_time:
            pages, pool = self._pages, SolverPool(workers=1, limit=ACCOUNT_SECONDS)
            pages.closing.append(pool.close)
            try:
                pool.call(in_mill, pages.mill_dir, account_week, day, season)
            finally:
                pages.closing.remove(pool.close)
                pool.close()


def add_week(app: FastAPI, pages: Pages) -> None:
    """The week's page, on paper and as a workbook."""
    pages.by_day.add("week")
    weeks = Weeks(pages)

    @get(app, "/week/{date}", WeekPage)
    def of_week(date: str, season: int = 0, format: Format = None) -> Response:
        at, week = weeks.of(date, bool(season))
        before, after = weeks.neighbours(at)
        page = WeekPage(at, before, after, bool(season), week.report)
        known, first = pages.history.mill.addresses, week.result.first

        def link(about: str) -> str:
            """A quantity's days and rows of the week; a week's figure is an account of them all."""
            if about.startswith("/"):
                return f"{about}/{at}" if may_see(f"{about}/{at}") else ""
            return f"/readings/{at}/{about}?from={first}&to={at}" if about in known else ""

        lines = [line for group in groups_of(pages.history.mill).values() for line in group]
        inputs = {line.key: line.inputs or (line.address,) for line in lines}

        def made_of(key: str) -> list[tuple[str, str]]:
            return [(known[a].name, a) for a in inputs.get(key, ()) if a in known and a != key]

        return pages.answer(format, page, "week_page.html", "Week", at, pictures=week.pictures,
                            week_caution=CAUTION, link=link, made_of=made_of)  # fmt: skip

    @get(app, "/week/{date}/week.pdf")
    def paper(date: str, season: int = 0) -> Response:
        at, week = weeks.of(date, bool(season))
        with pages.lock:  # one Typst compiler serves all threads
            pdf = week_pdf(week.report)
        return Response(pdf, media_type="application/pdf", headers=_named(at, season, "pdf"))

    @get(app, "/week/{date}/week.xlsx")
    def workbook(date: str, season: int = 0) -> Response:
        at, week = weeks.of(date, bool(season))
        book = week_workbook(week.report, week.result)
        return Response(book, media_type=XLSX, headers=_named(at, season, "xlsx"))


def _named(date: str, season: int, ending: str) -> dict[str, str]:
    called = "season" if season else "week"
    return {"Content-Disposition": f'inline; filename="{called}-{date}.{ending}"'}
