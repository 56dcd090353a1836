"""What strikes on record say of mill days, where an account asks for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.records import Period, Reading
from ratoon.jobs.strikes.rows import (
    BEFORE,
    MADE,
    NEAR_EDGE,
    STRIKE,
    boiled_rows,
    rows_in,
    traces_in,
)
from ratoon.store.cane import kept as cane

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.base.strikes import StrikeRow, TraceRow
    from ratoon.store import Store


def _rows_of(
    store: Store, mill: Mill, days: Sequence[date]
) -> tuple[list[Period], list[StrikeRow], list[TraceRow]]:
    """Of mill days in a row their periods, and the strikes that may tell of them; none where none
    is on record."""
    known = known_days(store, mill)
    periods = [mill.calendar.period(d) for d in days if known and known[0] <= d <= known[1]]
    if not periods:
        return [], [], []
    first, last = periods[0].start, periods[-1].end
    rows = list(store.ask(rows_in, Period(first - BEFORE, last + BEFORE), None, MADE))
    traces: list[TraceRow] = []
    for edge in (first, *(p.end for p in periods)):
        traces += store.ask(traces_in, Period(edge - NEAR_EDGE, edge + NEAR_EDGE))
    return periods, rows, traces


def mark_of_strikes(store: Store, mill: Mill, day: date) -> list[list[Any]]:
    """All that a mill day's readings by strikes are made from but the mill file."""
    _, rows, traces = _rows_of(store, mill, [day])
    return [*([r.key, str(r.time), r.pan, r.grade, r.value, r.sigma, r.note] for r in rows),
            *([t.key, [list(v) for v in t.values]] for t in traces)]  # fmt: skip


def by_strikes(store: Store, mill: Mill, days: Sequence[date]) -> list[Reading]:
    """Readings of mill days in a row by their strikes; none where no strike is on record."""
    periods, rows, traces = _rows_of(store, mill, days)
    if not periods:
        return []
    from ratoon.account.readings.strikes import day_readings
    from ratoon.plant.pan.records import strikes_of

    told = strikes_of(boiled_rows(rows, periods[0].start), traces)
    return [r for p in periods for r in day_readings(mill, told, p)]


def known_days(store: Store, mill: Mill) -> tuple[date, date] | None:
    """First and newest mill day of which a strike is on record; None without any."""
    first, newest = store.ask(cane.first, STRIKE), store.ask(cane.newest, STRIKE)
    if first is None or newest is None:
        return None
    return mill.calendar.day_of(first), mill.calendar.day_of(newest)


def not_read(
    store: Store, mill: Mill, first: date, last: date, read: Iterable[Reading]
) -> list[Reading]:  # fmt: skip
    """Readings by strikes of what was not read of a day, for all mill days from one to another."""
    known = known_days(store, mill)
    if known is None:
        return []
    from ratoon.account.readings.strikes import addresses

    wanted, day_of = addresses(mill), mill.calendar.day_of
    mine = set(wanted)
    have = {(r.address, day_of(r.start)) for r in read if r.address in mine and r.start}
    day, last = max(known[0], first), min(known[1], last)
    found: list[Reading] = []
    run: list[date] = []
    while day <= last + timedelta(days=1):
        if day <= last and any((a, day) not in have for a in wanted):
            run.append(day)
        elif run:
            found += by_strikes(store, mill, run)
            run = []
        day += timedelta(days=1)
    return [r for r in found if r.start and (r.address, day_of(r.start)) not in have]
