"""Addresses of growers' statements: as they would be issued, as they were issued, the register.

Looking at one never issues it. A statement that was issued is shown from its files, byte for byte;
a grower gets the own ones alone.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Annotated, Any, Literal
from urllib.parse import quote

from fastapi import FastAPI, Form
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from ratoon.account.mill import Mill
from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput, UnknownName
from ratoon.cane.statement_result import StatementResult
from ratoon.jobs.cane import statement_files
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.cane.register import SUPERSEDED, WAITS, RegisterRow
from ratoon.jobs.cane.register import register as register_of
from ratoon.reports.numbers import grouped, thin
from ratoon.reports.statement import statement_csv, statement_pdf
from ratoon.store.cane import issued as cane_issued
from ratoon.web.cane.supply import StatementPage
from ratoon.web.cane.views import as_told, local_time, own_grower
from ratoon.web.door.visit import visitor, who
from ratoon.web.shared import Format, Pages, get

Ending = Literal["html", "csv", "pdf"]
Short = Annotated[str, Form(max_length=60)]


@dataclass(frozen=True, slots=True)
class RegisterLine:
    """A row of the register as it is shown."""

    row: RegisterRow
    address: str
    tonnes: str
    total: str
    issued: str


@dataclass(frozen=True, slots=True)
class StatementsPage:
    """The register of statements."""

    mill_name: str
    lines: tuple[RegisterLine, ...]
    state: str
    states: tuple[str, ...]
    second_person: bool
    done: str
    weeks: tuple[tuple[str, str], ...]


def add_statements(app: FastAPI, pages: Pages) -> None:
    """Growers' statements: page, JSON, CSV and PDF, the issued files, and the register."""

    def made(grower: str, start: str, end: str) -> dict[str, Any]:
        mine = _only_own(grower)
        try:
            return _made(grower, start, end, mine)
        except UnknownName:
            if mine is None:
                raise
            # the names that come near are other growers'
            raise BadInput("no cane of yours is analysed in these days",
                           value=f"{start} to {end}") from None  # fmt: skip

    def _made(grower: str, start: str, end: str, mine: str | None) -> dict[str, Any]:
        first, last = parse_date(start), parse_date(end)
        found = pay(pages.history.opened, first, last, grower, kept=True)[0]
        return found if mine is None else as_told(pages, found, (start, end), mine)

    @get(app, "/statement/{grower}/{start}/{end}", StatementResult)
    def statement(grower: str, start: str, end: str, format: Format = None) -> Response:
        found = made(grower, start, end)
        if format == "json":
            return JSONResponse(found)
        mill = pages.history.mill
        page = StatementPage(mill.settings.mill.name, found)
        return pages.answer(format, page, "statement_page.html", "Cane", pages.newest())

    @get(app, "/statement/{grower}/{start}/{end}/statement.csv")
    def as_csv(grower: str, start: str, end: str) -> Response:
        text = statement_csv(made(grower, start, end))
        return _file(text.encode(), (grower, start, end), "csv")

    @get(app, "/statement/{grower}/{start}/{end}/statement.pdf")
    def as_pdf(grower: str, start: str, end: str) -> Response:
        found = made(grower, start, end)
        mill = pages.history.mill
        with pages.lock:  # one Typst compiler serves all threads
            pdf = statement_pdf(found, mill.settings.mill.name)
        return _file(pdf, (grower, start, end), "pdf")

    def issued(grower: str, start: str, end: str, number: int, ending: Ending) -> Response:
        _only_own(grower)
        days = parse_date(start), parse_date(end)
        for one in pages.store().ask(cane_issued.issued, *days, grower):
            if (one.start, one.end, one.number) == (*days, number) and ending in one.files:
                data = statement_files.read(pages.mill_dir, one.files[ending], ending)
                return _file(data, (grower, start, end, str(number)), ending)
        raise HTTPException(404, "no such issued statement")

    _add_issued(app, issued, "html")
    _add_issued(app, issued, "csv")
    _add_issued(app, issued, "pdf")

    @get(app, "/statements", list[RegisterRow])
    def register(
        state: str = "", done: str = "", said: str = "", format: Format = None
    ) -> Response:
        mill = pages.history.mill
        rows = register_of(pages.history.opened, own_grower(), pages.history.cane_sums())
        if format == "json":
            return JSONResponse([asdict(row) for row in rows])
        local = local_time(pages)
        shown = [r for r in rows if state in ("", r.state)]
        offered = sorted(rows, key=lambda r: r.state != WAITS)  # first what has to be confirmed
        page = StatementsPage(
            mill.settings.mill.name, tuple(_line(r, local) for r in shown), state,
            tuple(sorted({r.state for r in rows})), _second(mill), visitor().said(done, said),
            tuple(dict.fromkeys((r.start, r.end) for r in offered if r.state != SUPERSEDED)),
        )  # fmt: skip
        return pages.answer(format, page, "statements_page.html", "Cane", pages.newest())

    @app.post("/statements")
    def act(start: Short, end: Short, act: Short, grower: Short = "") -> Response:
        if act not in ("issue", "confirm"):
            raise BadInput("unknown act", value=act, allowed="issue, confirm")
        first, last = parse_date(start), parse_date(end)
        with pages.lock:  # one Typst compiler serves all threads
            found = pay(pages.history.opened, first, last, grower.strip() or None, act == "issue",
                        who(), confirm=act == "confirm")  # fmt: skip
        frozen = sum(s["issued"] is not None for s in found)
        if act == "issue" and _second(pages.history.mill):
            done = f"Proposed for {start} to {end}. A second person confirms."
        else:
            done = f"{frozen} statements for {start} to {end} are issued."
        return RedirectResponse(f"/statements?{visitor().says(done)}", 303)


def _add_issued(app: FastAPI, issued: Any, ending: Ending) -> None:
    address = f"/statement/{{grower}}/{{start}}/{{end}}/{{number}}/statement.{ending}"

    @get(app, address)
    def file(grower: str, start: str, end: str, number: int) -> Response:
        found: Response = issued(grower, start, end, number, ending)
        return found


def _second(mill: Mill) -> bool:
    given = mill.settings.payment
    return given is not None and given.second_person


def _only_own(grower: str) -> str | None:
    """The visitor's own grower, who may ask for no other; None for the mill's own people."""
    mine = own_grower()
    if mine is not None and mine != grower:
        raise HTTPException(404, "no such statement")
    return mine


def _file(data: bytes, named: tuple[str, ...], ending: str) -> Response:
    safe = "".join(c if c.isalnum() else "-" for c in "-".join(named))
    headers = {"Content-Disposition": f'inline; filename="statement-{safe}.{ending}"'}
    return Response(data, media_type=statement_files.ENDINGS[ending], headers=headers)


def _line(row: RegisterRow, local: Any) -> RegisterLine:
    address = f"/statement/{quote(row.grower, safe='')}/{row.start}/{row.end}"
    issued = f"{local(row.issued):%Y-%m-%d %H:%M}" if row.issued else ""
    return RegisterLine(row, address, grouped(row.kilograms / 1000, 2), thin(row.total), issued)
