"""One table of the mill file in boxes: checked, with what it would move, kept from a day on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.words import capital
from ratoon.jobs.keep.edit import Moved, keep_file, mark_of, what_moves
from ratoon.jobs.mills import text_of
from ratoon.reports.numbers import Shown, show, written_unit
from ratoon.settings.edit import Box, boxes_of, tables_known, with_typed
from ratoon.settings.read import parse_settings
from ratoon.web.door.visit import visitor, who
from ratoon.web.shared import ACCOUNT_SECONDS, Format, Pages, get

NOT_BOXES = ("token", "act", "seen", "from", "new key", "new value")


@dataclass(frozen=True, slots=True)
class MovedRow:
    """A figure of the newest account, as it is and as it would be."""

    name: str
    before: Shown
    after: Shown


@dataclass(frozen=True, slots=True)
class MillEditPage:
    """A table of the mill file: its boxes by group, and what a change of it would move."""

    table: str
    what: str
    groups: tuple[tuple[str, tuple[Box, ...]], ...]
    tables: tuple[str, ...]
    more: tuple[str, str]
    line: str
    said: str
    seen: str
    looked: bool
    day: str
    holds_from: str
    moved: tuple[MovedRow, ...]


def _page(
    text: str, table: str, typed: Mapping[str, str], more: tuple[str, str], holds_from: str,
    line: str = "", looked: tuple[str, Sequence[Moved]] | None = None, said: str = "",
) -> MillEditPage:  # fmt: skip
    groups: dict[str, list[Box]] = {}
    for box in boxes_of(text, table):
        shown = Box(box.name, box.of, box.key, typed.get(box.name, box.value),
                    written_unit(box.unit), box.text)  # fmt: skip
        groups.setdefault(" ".join(box.of), []).append(shown)
    day, moved = looked or ("", ())
    rows = tuple(MovedRow(capital(m.name), show(m.before, m.sigma_before, m.unit),
                          show(m.after, m.sigma_after, m.unit)) for m in moved)  # fmt: skip
    known = tables_known()
    return MillEditPage(table, known[table], tuple((k, tuple(v)) for k, v in groups.items()),
                        tuple(known), more, line, said, mark_of(text), looked is not None, day,
                        holds_from, rows)  # fmt: skip


def add_mill_edit(app: FastAPI, pages: Pages) -> None:
    """The addresses under which a table of the mill file is changed."""

    def shown(form: Format, page: MillEditPage, status: int = 200) -> Response:
        return pages.answer(form, page, "mill_edit_page.html", "Mill", pages.newest(), status)

    def from_day() -> str:
        """The day after the newest accounted one, or else today."""
        newest = pages.newest()
        if newest:
            return (date.fromisoformat(newest) + timedelta(days=1)).isoformat()
        return pages.today()

    @get(app, "/mill/{table}", MillEditPage)
    def boxes(table: str, done: str = "", said: str = "", format: Format = None) -> Response:
        text = text_of(pages.mill_dir)
        told = visitor().said(done, said)
        return shown(format, _page(text, table, {}, ("", ""), from_day(), said=told))

    @app.post("/mill/{table}/check")
    async def check(request: Request, table: str) -> Response:
        """One line on what is typed: "" when it can be."""
        typed, more, _ = _sent(await request.form())
        try:
            text = text_of(pages.mill_dir)
            await run_in_threadpool(parse_settings, with_typed(text, table, typed, more))
        except RatoonError as error:
            return JSONResponse({"line": str(error)})
        return JSONResponse({"line": ""})

    @app.post("/mill/{table}")
    async def change(request: Request, table: str, format: Format = None) -> Response:
        typed, more, rest = _sent(await request.form())
        return await run_in_threadpool(_changed, table, typed, more, rest, format)

    def _changed(
        table: str, typed: dict[str, str], more: tuple[str, str], rest: dict[str, str],
        form: Format,
    ) -> Response:  # fmt: skip
        text = text_of(pages.mill_dir)
        start = rest.get("from", "") or from_day()
        try:
            changed = with_typed(text, table, typed, more)
            if changed == text:
                raise BadInput("nothing is changed", todo="Change a box first.")
            pages.door.begin()
            if rest.get("act") == "keep":
                keep_file(pages.history.opened, changed, _day(start), rest.get("seen", ""), who())
                done = f"{table} is changed; it holds from mill day {start}"
                return RedirectResponse(f"/mill/{table}?{visitor().says(done)}", 303)
            looked = _looked(pages, changed)
        except RatoonError as error:
            return shown(form, _page(text, table, typed, more, start, str(error)), 422)
        return shown(form, _page(text, table, typed, more, start, looked=looked))


def _looked(pages: Pages, text: str) -> tuple[str, list[Moved]]:
    """What a changed file moves; a worker solves."""
    from ratoon.jobs.mills import in_mill

    found: tuple[str, list[Moved]] = pages.pool.call(
        in_mill, pages.mill_dir, what_moves, text, limit=ACCOUNT_SECONDS
    )
    return found


def _sent(pairs: Any) -> tuple[dict[str, str], tuple[str, str], dict[str, str]]:
    """Boxes, the key that has no box yet, and the rest of what a form sends."""
    every = {str(k): str(v) for k, v in pairs.items() if isinstance(v, str)}
    boxes = {k: v.replace("\r\n", "\n") for k, v in every.items() if k not in NOT_BOXES}
    return boxes, (every.get("new key", ""), every.get("new value", "")), every


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInput("is no day", where="holds from", value=text[:40],
                       allowed="a date such as 2031-08-14") from None  # fmt: skip
