"""Rows of cells to readings, stops and records of cane, by the layout they stand in."""

from __future__ import annotations

from collections.abc import Mapping

from ratoon.base.records import Reading, Stop
from ratoon.base.strikes import StrikeRow, TraceRow
from ratoon.importers import cells, mill_rows
from ratoon.importers.cane_rows import READERS, CaneRecord, understand_cane
from ratoon.importers.layouts import (
    LOST_TIME,
    READINGS,
    SHIFTS,
    STOCK_TAKE,
    STRIKES,
    TRACES,
    Layout,
)
from ratoon.importers.one_reading import Given, Meaning, address_of, make_reading, times_of
from ratoon.importers.records import Cell, CellRefused
from ratoon.importers.strike_rows import understand_strike, understand_trace

__all__ = ["Meaning", "understand"]


def understand(
    layout: Layout, row: Mapping[str, Cell], mark: str, meaning: Meaning
) -> Reading | Stop | StrikeRow | TraceRow | CaneRecord:
    """The reading, stop, or record of cane or of a strike that a row holds.

    Raises
    ------
    CellRefused : the first cell that is not what its column wants.
    """
    if layout is READINGS:
        return _reading(row, mark, meaning)
    if layout is SHIFTS:
        return mill_rows.shift_figure(row, mark, meaning)
    if layout is STOCK_TAKE:
        return mill_rows.tank_level(row, mark, meaning)
    if layout is LOST_TIME:
        return mill_rows.lost_hours(row, mark, meaning)
    if layout is STRIKES:
        return understand_strike(row, mark, meaning)
    if layout is TRACES:
        return understand_trace(row, mark, meaning)
    if layout.name in READERS:
        return understand_cane(layout.name, row, mark, meaning.calendar)
    return _stop(row, meaning)


def _reading(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> Reading:
    info = address_of(cells.word("address", row["address"], needed=True), meaning.known)
    times = times_of(row, meaning.calendar, level=info.level)
    words = cells.word("source", row["source"]), cells.word("note", row["note"])
    given = Given(row["value"], row["unit"], row["sigma"])
    return make_reading(info, times, given, mark, meaning, words)


def _stop(row: Mapping[str, Cell], meaning: Meaning) -> Stop:
    start, end = times_of(row, meaning.calendar, needs_end=True)
    station = cells.word("station", row["station"], needed=True)
    cause = cells.word("cause", row["cause"], needed=True)
    if end is None:
        raise CellRefused("end", "", "empty; a stop ends some time")
    return Stop(start, end, station, cause, cells.word("note", row["note"]))
