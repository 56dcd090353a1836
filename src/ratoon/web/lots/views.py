"""Addresses of lots and by-products."""

from __future__ import annotations

from typing import Annotated

from fastapi import FastAPI, Query
from fastapi.responses import JSONResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError, UnknownName
from ratoon.jobs.sugar.by_products import ledger_of
from ratoon.jobs.sugar.lots import load_of, lot_of, lots_on_record, lots_with
from ratoon.plans.recall.by_products import ByProducts
from ratoon.plans.recall.lot import LoadAnswer, LotAnswer
from ratoon.web.lots.page import (
    NEWEST,
    LotsPage,
    crushed_words,
    ledger_page,
    load_page,
    lot_page,
    lot_row,
    parts_of,
)
from ratoon.web.shared import Format, Pages, get
from ratoon.web.sheet.recent import Recent

Word = Annotated[str, Query(max_length=60)]
RECENT = 30
"""Paths of lots that are held while the records stand; 1,100 consignments each."""


def add_lots(app: FastAPI, pages: Pages) -> None:
    """The list of lots, one lot or one load with its mock recall, and the ledger of by-products."""
    pages.standing["lots"] = lambda: True
    pages.standing["ledger"] = lambda: True
    paths: Recent[LotAnswer] = Recent(pages.door.state, RECENT)

    @get(app, "/lots", LotsPage)
    def lots(consignment: Word = "", format: Format = None) -> Response:
        opened = pages.history.opened
        local, every = opened.mill.calendar.to_local, lots_on_record(opened)
        rows = tuple(lot_row(lot, (local(lot.start), local(lot.end)))
                     for lot in reversed(every[-NEWEST:]))  # fmt: skip
        more = max(len(every) - NEWEST, 0)
        name = opened.mill.name
        page = LotsPage(name, rows, more, consignment)
        if consignment:
            try:
                told = lots_with(opened, consignment.strip())
                page = LotsPage(name, rows, more, told.consignment, crushed_words(told.crushed),
                                parts_of(told))  # fmt: skip
            except RatoonError as error:
                if format == "json":
                    raise
                page = LotsPage(name, rows, more, consignment, refusal=error.line())
        return pages.answer(format, page, "lots_page.html", "Lots", "")

    @get(app, "/lot/{name}", LotAnswer)
    def lot(name: str, format: Format = None) -> Response:
        opened = pages.history.opened
        try:
            told = paths.of(name, lambda: lot_of(opened, name))
        except UnknownName as error:
            return pages.message(format, 404, "No such lot", error.line(), "")
        if format == "json":
            return JSONResponse(to_json(told))
        return pages.answer(None, lot_page(opened.mill.name, told), "lot_page.html", "Lots", "")

    @get(app, "/load", LoadAnswer)
    def load(document: Word, format: Format = None) -> Response:
        opened = pages.history.opened
        try:
            told = load_of(opened, document.strip())
        except UnknownName as error:
            return pages.message(format, 404, "No such document", error.line(), "")
        if format == "json":
            return JSONResponse(to_json(told))
        return pages.answer(None, load_page(opened.mill.name, told), "load_page.html", "Lots", "")

    @get(app, "/ledger", ByProducts)
    def ledger(format: Format = None) -> Response:
        opened = pages.history.opened
        told = ledger_of(opened)
        if format == "json":
            return JSONResponse(to_json(told))
        page = ledger_page(opened.mill.name, told)
        return pages.answer(None, page, "ledger_page.html", "Ledger", "")
