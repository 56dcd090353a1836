"""Addresses and views: fetch the record, then answer with a page or, asked so, with JSON."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from datetime import date as date_type
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import DEFAULT_EXCLUDED_CONTENT_TYPES, GZipMiddleware

from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs.keep.new import is_empty
from ratoon.reports.html import pictures_of
from ratoon.reports.paper import morning_pdf
from ratoon.reports.workbook import day_workbook
from ratoon.settings.read import tables_of
from ratoon.web.answers import Answers
from ratoon.web.asked import line_of
from ratoon.web.begin.views import add_begin
from ratoon.web.best.views import add_best
from ratoon.web.cane.office_views import add_cane_office
from ratoon.web.cane.statements import add_statements
from ratoon.web.cane.views import add_cane
from ratoon.web.days import NoSuchDay, NothingToTry, entry_place, place_of
from ratoon.web.described import add_description
from ratoon.web.docs.views import add_docs
from ratoon.web.door.access import SignInFirst, allowed, most_bytes, most_bytes_of, rule_of
from ratoon.web.door.crowd import Crowd
from ratoon.web.door.guard import HEADERS, Guard
from ratoon.web.door.people import people_views
from ratoon.web.door.sign_in import door_views
from ratoon.web.door.visit import Visits, visitor
from ratoon.web.files.imports import import_views
from ratoon.web.find.views import add_find
from ratoon.web.journal.views import add_accounting, add_journal
from ratoon.web.laboratory.bench import add_bench
from ratoon.web.laboratory.views import add_laboratory
from ratoon.web.lots.views import add_lots
from ratoon.web.plant.mill import MillPage, mill_page
from ratoon.web.plant.mill_edit import add_mill_edit
from ratoon.web.plant.works_views import add_works
from ratoon.web.season.bridge_views import add_bridge
from ratoon.web.season.notice import add_notice
from ratoon.web.season.views import add_fuel, add_season, add_stops
from ratoon.web.shared import AccountDay, Checks, Days, Format, Pages, get
from ratoon.web.sheet.account_views import add_account
from ratoon.web.sheet.pages import (
    ChecksPage,
    MorningPage,
    ReadingsPage,
    checks_page,
    reading_rows,
    readings_page,
)
from ratoon.web.sheet.reading_views import add_readings
from ratoon.web.sheet.week_views import add_week
from ratoon.web.sheet.working import Quantities, WorkingPage, figure_page
from ratoon.web.static_files import static_views
from ratoon.web.strikes.floor import add_floor
from ratoon.web.strikes.slides import add_slides
from ratoon.web.strikes.views import add_exhaustion, add_strikes
from ratoon.web.sugar.views import add_refinery, add_shed
from ratoon.web.trial.views import add_try
from ratoon.web.yard.views import add_yard

if TYPE_CHECKING:
    from ratoon.jobs.handover import Handover
    from ratoon.jobs.pool import SolverPool
    from ratoon.jobs.sheet.actions import JobRecord

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
NOT_SMALLER = (*DEFAULT_EXCLUDED_CONTENT_TYPES, "application/pdf", "font/otf", XLSX)
"""Kinds of answer that compression makes no smaller."""


def create_app(
    mill_dir: Path,
    account_day: AccountDay | None = None,
    days: Days | None = None,
    checks: Checks | None = None,
    names: Sequence[str] = (),
    solvers: SolverPool | None = None,
) -> FastAPI:
    """The pages of one mill.

    Parameters
    ----------
    mill_dir : the mill's folder.
    account_day, days : give the result of a mill day, and the accounted ones, in place of the
        mill's own records; both or none.
    checks : gives the rows that `ratoon check --json` prints; without it there is no such page.
    names : host names under which others reach this machine, beside loopback.
    solvers : processes that solve for the pages, closed with them; started when needed else.
    """
    pages = Pages(mill_dir, account_day, days, checks, solvers)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        for close in [*pages.closing]:
            close()
        pages.door.close()

    # No generated documentation pages: they fetch their script from elsewhere. The description is
    # a view of our own (`described`), since the framework's would pass by the doorkeeper: every
    # view is behind `allowed`, which knows the table of roles.
    app = FastAPI(
        title="ratoon",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,  # its redirects name http, whatever the TLS server before us speaks
        dependencies=[Depends(allowed)],
        lifespan=lifespan,
    )
    app.state.records = {}
    app.add_middleware(Answers, door=pages.door)
    app.add_middleware(Crowd)
    app.add_middleware(Visits, door=pages.door, most=most_bytes_of)
    app.add_middleware(
        GZipMiddleware, minimum_size=1000, compresslevel=6, exclude_content_types=NOT_SMALLER
    )
    app.add_middleware(Guard, names=names, most=most_bytes)
    _refusals(app, pages)
    _day_views(app, pages)
    _mill_views(app, pages)
    add_begin(app, pages)
    door_views(app, pages)
    people_views(app, pages)
    import_views(app, pages)
    add_cane(app, pages)
    add_find(app, pages)
    add_statements(app, pages)
    add_cane_office(app, pages)
    add_yard(app, pages)
    if account_day is None:  # these ask the mill's own records for more than a day's result
        add_works(app, pages)
        add_mill_edit(app, pages)
        add_account(app, pages)
        add_week(app, pages)
        add_accounting(app, pages)
        add_journal(app, pages)
        add_laboratory(app, pages)
        add_bench(app, pages)
        add_readings(app, pages)
        add_try(app, pages)
        add_best(app, pages)
        add_season(app, pages)
        add_stops(app, pages)
        add_fuel(app, pages)
        add_shed(app, pages)
        add_refinery(app, pages)
        add_bridge(app, pages)
        add_notice(app, pages)
        add_strikes(app, pages)
        add_slides(app, pages)
        add_floor(app, pages)
        add_exhaustion(app, pages)
        add_lots(app, pages)
        _todays(app, pages)
    add_description(app)
    add_docs(app)
    static_views(app)
    app.state.warm, app.state.closing = pages.warm, pages.closing
    return app


def _handed(pages: Pages, date: str) -> tuple[tuple[Handover, ...], tuple[JobRecord, ...]]:
    """What a day's shifts were handed and people have still to do; nothing without records."""
    from ratoon.jobs.handover import handovers
    from ratoon.jobs.sheet.actions import own_jobs

    store = pages.door.store() if "journal" in pages.by_day else None
    if store is None:
        return (), ()
    calendar = pages.history.mill.calendar
    jobs = [j for j in own_jobs(store) if j.state == "open"]
    period = calendar.period(date_type.fromisoformat(date))
    return tuple(handovers(store, calendar, period)), tuple(jobs)


def _named(date: str, ending: str) -> dict[str, str]:
    return {"Content-Disposition": f'inline; filename="morning-{date}.{ending}"'}


def _refusals(app: FastAPI, pages: Pages) -> None:
    def form_of(request: Request) -> Format:
        return "json" if request.query_params.get("format") == "json" else None

    @app.exception_handler(NoSuchDay)
    def no_such_day(request: Request, error: NoSuchDay) -> Response:
        return pages.message(form_of(request), 404, "No such mill day", str(error), error.nearest)

    @app.exception_handler(NothingToTry)
    def nothing_to_try(request: Request, error: NothingToTry) -> Response:
        return pages.message(form_of(request), 422, "Nothing to try", str(error), error.nearest)

    @app.exception_handler(RatoonError)
    def refused(request: Request, error: RatoonError) -> Response:
        title = "Refused" if request.method == "POST" else "Nothing to show"
        return pages.message(form_of(request), 422, title, str(error), "")

    @app.exception_handler(SignInFirst)
    def sign_in_first(request: Request, error: SignInFirst) -> Response:
        if form_of(request) == "json" or request.method == "POST":
            return pages.message(form_of(request), 401, "Sign in", "sign in first", "")
        wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        return RedirectResponse(f"/login?{urlencode({'to': wanted})}", 303)

    @app.exception_handler(HTTPException)
    def no_such_page(request: Request, error: HTTPException) -> Response:
        shorter = request.url.path.rstrip("/")
        if error.status_code == 404 and shorter != request.url.path and rule_of(shorter):
            asked = f"?{request.url.query}" if request.url.query else ""
            return RedirectResponse(f"{shorter}{asked}", 307)
        line = f"there is no page at {request.url.path}"
        if error.status_code != 404:
            line = str(error.detail)
        title = "No such page" if error.status_code == 404 else "Refused"
        answer = pages.message(form_of(request), error.status_code, title, line, "")
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(RequestValidationError)
    def not_understood(request: Request, error: RequestValidationError) -> Response:
        return pages.message(form_of(request), 422, "Refused", line_of(error.errors()[0]), "")

    @app.exception_handler(Exception)
    def fault(request: Request, error: Exception) -> Response:
        line = "a fault of the program, not of yours: what you did was not stored; try again"
        answer = pages.message(form_of(request), 500, "A fault", line, "")
        answer.headers.update(HEADERS)  # this one is made outside the guard
        return answer


def _day_views(app: FastAPI, pages: Pages) -> None:
    pages.by_day |= {"morning", "readings"}

    def show_morning(date: str, form: Format) -> Response:
        place, sheet = pages.sheet(date)
        return pages.answer(
            form,
            MorningPage(place, sheet, *_handed(pages, place.date)),
            "morning_page.html",
            "Morning",
            place.date,
            link=pages.opens(place.date, sheet),
            pictures=pictures_of(sheet),
        )

    @get(app, "/", MorningPage)
    def newest(format: Format = None) -> Response:
        if "works" in pages.by_day and visitor().open and is_empty(pages.mill_dir):
            return RedirectResponse("/begin", 303)
        days = pages.days()
        if not days:
            line = ("no mill day is accounted yet: import the mill's readings (ratoon import FILE,"
                    " then ratoon day DATE), or begin with what is read today on the pages"
                    " Laboratory and Journal")  # fmt: skip
            return pages.message(format, 200, "Nothing to show yet", line, "")
        return show_morning(days[-1], format)

    @get(app, "/morning")
    def picked(date: str = "", page: str = "morning") -> Response:
        to = page if page in pages.by_day else "morning"
        place = (entry_place if to in pages.any_day else place_of)(date, pages.days())
        return RedirectResponse(f"/{to}/{place.date}", 303)

    @get(app, "/morning/{date}", MorningPage)
    def morning(date: str, format: Format = None) -> Response:
        return show_morning(date, format)

    @get(app, "/morning/{date}/morning.pdf")
    def paper(date: str) -> Response:
        place, sheet = pages.sheet(date)
        with pages.lock:  # one Typst compiler serves all threads
            pdf = morning_pdf(sheet)
        return Response(pdf, media_type="application/pdf", headers=_named(place.date, "pdf"))

    @get(app, "/morning/{date}/day.xlsx")
    def workbook(date: str) -> Response:
        place, result = pages.account(date)
        return Response(day_workbook(result), media_type=XLSX, headers=_named(place.date, "xlsx"))

    @get(app, "/working/{date}/{address}", WorkingPage)
    def working(date: str, address: str, format: Format = None) -> Response:
        place, sheet = pages.sheet(date)
        found = sheet.working(address)
        whole = "works" in pages.by_day  # the mill's own records tell of every quantity
        mill = pages.history.mill if whole else None
        quantities = mill and Quantities(mill, pages.history.works(place.date), sheet)
        if found is None and quantities and quantities.has(address):
            found = quantities.working(address)
        if found is None:
            line = f"the account of {place.date} has no working for {address[:60]!r}"
            return pages.message(format, 404, "No such figure", line, place.date)
        page = figure_page(place, sheet, found)
        if quantities:
            read = {r.address: r for r in reading_rows(pages.account(date)[1])}
            page = quantities.page(page, read.get(address))
        return pages.answer(format, page, "working_page.html", "", place.date,
                            link=pages.opens(place.date, sheet))  # fmt: skip

    @get(app, "/readings/{date}", ReadingsPage)
    def readings(date: str, format: Format = None) -> Response:
        place, result = pages.account(date)
        page = readings_page(result, place)
        linked = "works" in pages.by_day
        return pages.answer(
            format, page, "readings_page.html", "Readings", place.date, linked=linked
        )


def _todays(app: FastAPI, pages: Pages) -> None:
    """Where people write, an address without a date leads to the mill day that is now."""

    def lead_to(path: str) -> None:
        @get(app, f"/{path}")
        def today(request: Request) -> Response:
            asked = f"?{request.url.query}" if request.url.query else ""
            return RedirectResponse(f"/{path}/{pages.today()}{asked}", 303)

    for path in sorted(pages.any_day):
        lead_to(path)


def _mill_views(app: FastAPI, pages: Pages) -> None:
    pages.standing["mill"] = (pages.mill_dir / "mill.toml").is_file
    pages.standing["checks"] = lambda: pages.checks is not None

    def newest() -> str:
        days = pages.days()
        return days[-1] if days else ""

    @get(app, "/mill", MillPage)
    def mill(format: Format = None) -> Response:
        path = pages.mill_dir / "mill.toml"
        if not path.is_file():
            raise HTTPException(404)
        try:
            described = tables_of(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError) as error:
            raise BadInput(f"cannot be read: {error}", where="mill.toml") from None
        try:
            known = pages.history.mill.addresses if "works" in pages.by_day else {}
        except RatoonError:  # a file that is wrong is shown all the same
            known = {}
        return pages.answer(format, mill_page(described, known), "mill_page.html", "Mill", newest())

    @get(app, "/checks", ChecksPage)
    def checks(format: Format = None) -> Response:
        if pages.checks is None:
            raise HTTPException(404)
        page = checks_page(pages.checks())
        return pages.answer(format, page, "checks_page.html", "Checks", newest())
