"""Rows of sugar made, moved and wanted to records: each cell judged by its column."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ratoon.base.sugar import KINDS, Lot, MillWeek, Movement, Order, ShedSurvey, SpreadLoad
from ratoon.importers.records import CellRefused
from ratoon.importers.worded_row import WordedRow as _Row

SugarRecord = Lot | Movement | ShedSurvey | Order | MillWeek | SpreadLoad


def _figures(r: _Row, record: Any, *needed: str) -> dict[str, Any]:
    return {name: r.number(name, low, high, unit, needed=name in needed)
            for name, low, high, unit in record.LIMITS}  # fmt: skip


def _lot(r: _Row) -> Lot:
    start, end = r.time("start"), r.time("end")
    if end <= start:
        raise CellRefused("end", r.row["end"], "not after the start")
    figures = _figures(r, Lot, "tonnes")
    pol, moisture = figures["pol"], figures["moisture"]
    if pol is not None and moisture is not None and pol + moisture > 100.0:
        raise CellRefused("moisture", f"{moisture:g}", f"with pol, {pol:g} %, more than all of it")
    shed, cell = r.word("shed"), r.word("cell")
    if bool(shed) != bool(cell):
        raise CellRefused("cell" if shed else "shed", "", "empty, where the other of shed and cell"
                          " is not")  # fmt: skip
    return Lot(r.word("lot", True), start, end, r.word("mill"), r.word("brand", True),
               shed=shed, cell=cell, **figures)  # fmt: skip


def _movement(r: _Row) -> Movement:
    kind = r.one_of("kind", KINDS)
    if not kind:
        raise CellRefused("kind", "", f"empty; allowed: {', '.join(KINDS)}")
    origin, to = r.word("from"), r.word("to")
    both, either = bool(origin) and bool(to), bool(origin) or bool(to)
    if kind == "adjust":
        if not either or both:
            raise CellRefused("from", origin, "an adjustment names one place: in from what it takes"
                              " away there, in to what it adds there")  # fmt: skip
    elif not both:
        raise CellRefused("to" if origin else "from", "", "empty")
    elif origin == to:
        raise CellRefused("to", to, "where it came from")
    return Movement(r.word("movement", True), r.time("time"), kind, origin, to,
                    lot=r.word("lot"), document=r.word("document"),
                    **_figures(r, Movement, "tonnes"))  # fmt: skip


def _survey(r: _Row) -> ShedSurvey:
    figures = _figures(r, ShedSurvey)
    if figures["tonnes"] is None and figures["height"] is None:
        raise CellRefused("tonnes", "", "neither tonnes nor height is given")
    if figures["tonnes"] is not None and figures["sigma"] is None and figures["height"] is None:
        raise CellRefused("sigma", "", "empty; a survey in tonnes states its standard uncertainty")
    return ShedSurvey(r.word("shed", True), r.time("time"), r.word("cell"), **figures)


def _order(r: _Row) -> Order:
    earliest, due = r.day("earliest"), r.day("due")
    if due < earliest:
        raise CellRefused("due", str(due), f"before the earliest day, {earliest}")
    return Order(r.word("order", True), r.word("customer", True), r.word("product", True),
                 earliest=earliest, due=due, **_figures(r, Order, "packs"))  # fmt: skip


def _mill_week(r: _Row) -> MillWeek:
    week = r.calendar.first_of_week(r.day("week"))
    return MillWeek(r.word("mill", True), week, r.word("brand", True),
                    **_figures(r, MillWeek, "tonnes"))  # fmt: skip


def _spread_load(r: _Row) -> SpreadLoad:
    return SpreadLoad(r.word("load", True), r.time("time"), r.word("product", True),
                      r.word("farm"), r.word("block", True),
                      **_figures(r, SpreadLoad, "tonnes"))  # fmt: skip


SUGAR_READERS: dict[str, Callable[[_Row], SugarRecord]] = {
    "lots": _lot,
    "movements": _movement,
    "shed_surveys": _survey,
    "orders": _order,
    "mill_weeks": _mill_week,
    "spread_loads": _spread_load,
}
