"""Readings and stops out of the tables: those in force, as they stand or stood."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Select, Table, and_, func, or_, select

from ratoon.base.clock import Calendar
from ratoon.base.records import RUNNING, Period, Reading, Stop
from ratoon.base.season import RAIN
from ratoon.store.cane.tables import cane_records
from ratoon.store.chain import events as chain
from ratoon.store.tables import files, readings, stops


def in_force(table: Table, upto: int | None = None) -> Select[Any]:
    """Rows of a table that no other row replaces, as it stands or stood after file `upto`.

    By the order of files, never by their times: were the machine's clock set back between two
    corrections, both could be in force.
    """
    later = table.alias("later")
    replaced = later.c.replaces == table.c.id
    query = select(table, files.c.name).join(files, table.c.file == files.c.id)
    if upto is not None:
        replaced = and_(replaced, later.c.file <= upto)
        query = query.where(table.c.file <= upto)
    return query.where(~select(later.c.id).where(replaced).exists())


def readings_in(
    connection: Connection,
    period: Period,
    as_of: datetime | None = None,
    addresses: Iterable[str] | None = None,
) -> list[Reading]:
    """Readings whose period lies within `period`, and instants in it, both its ends included."""
    last = func.coalesce(readings.c.end, readings.c.start)
    query = in_force(readings, _file_at(connection, as_of)).where(
        readings.c.start >= period.start,
        readings.c.start <= period.end,
        last <= period.end,
    )
    if addresses is not None:
        query = query.where(readings.c.address.in_(list(addresses)))
    query = query.order_by(readings.c.address, readings.c.start, last, readings.c.id)
    who = chain.importers(connection)
    return [_reading(row, who.get(row.file, "")) for row in connection.execute(query)]


def mill_days(
    connection: Connection, calendar: Calendar, within: Period | None = None, *,
    with_stops: bool = True,
) -> list[date]:  # fmt: skip
    """The mill days with readings over a period and, if asked, those touched by a stop.

    `within`: looks at readings that begin in a period, and at stops that touch it, alone. Rain
    makes no mill day, nor does a stop on a day that is on record in short form.
    """
    lasting = (readings.c.end.is_not(None), readings.c.address != RAIN)
    starts = select(readings.c.start).where(*lasting).distinct()
    stood = select(stops.c.start, stops.c.end).distinct()
    if within is not None:
        starts = starts.where(readings.c.start >= within.start, readings.c.start < within.end)
        stood = stood.where(stops.c.start < within.end, stops.c.end > within.start)
    found = {calendar.day_of(start) for start in connection.scalars(starts)}
    if with_stops:
        t = cane_records
        short = set(connection.scalars(select(t.c.key).where(t.c.kind == "mill day").distinct()))
        for row in connection.execute(stood):
            end = max(min(row.end, chain.now()), row.start) if row.end >= RUNNING else row.end
            days = calendar.days_of(Period(row.start, end))
            found.update(d for d in days if d.isoformat() not in short)
    return sorted(found)


def newest_day(connection: Connection, calendar: Calendar) -> date | None:
    """ "Today": the newest mill day with readings; None before the first."""
    lasting = select(readings.c.start).where(
        readings.c.end.is_not(None), readings.c.address != RAIN
    )
    start = connection.scalar(lasting.order_by(readings.c.start.desc()).limit(1))
    return None if start is None else calendar.day_of(start)


def addresses(connection: Connection) -> list[str]:
    """The addresses that have readings."""
    return sorted(connection.scalars(select(readings.c.address).distinct()))


def _file_at(connection: Connection, as_of: datetime | None) -> int | None:
    """The last file entered by an instant, and with it all before it; None for no instant."""
    if as_of is None:
        return None
    last = select(func.max(files.c.id)).where(files.c.entered <= as_of)
    return connection.scalar(last) or 0


def changed_since(connection: Connection, event: int, period: Period, until: datetime) -> bool:
    """Whether readings and stops of a period are others than those known at an event.

    Parameters
    ----------
    until : what lasts counts when it starts before; instants count to the period's end.

    Only addresses of which a file brought something in since are looked at.
    """
    upto = chain.newest_file(connection, event)
    since = select(files.c.id).where(files.c.id > upto)
    near = (
        readings.c.start >= period.start, readings.c.start <= period.end,
        readings.c.address != RAIN,
    )  # fmt: skip
    counts = or_(readings.c.end.is_(None), readings.c.start < until)
    read = select(readings.c.address).where(readings.c.file.in_(since), *near, counts).distinct()
    touched = list(connection.scalars(read))
    over = (stops.c.start < until, stops.c.end > period.start)
    stopped = select(stops.c.id).where(stops.c.file.in_(since), *over).limit(1)

    def known(upto: int | None) -> list[Any]:
        rows = connection.execute(
            in_force(readings, upto).where(*near, counts, readings.c.address.in_(touched))
        )
        return sorted(
            repr((r.address, r.start, r.end, r.value, r.unit, r.sigma, r.source))
            for r in map(_reading, rows)
        )

    def stood(upto: int | None) -> list[str]:
        return sorted(
            repr(_stop(row)) for row in connection.execute(in_force(stops, upto).where(*over))
        )

    if touched and known(None) != known(upto):
        return True
    return connection.scalar(stopped) is not None and stood(None) != stood(upto)


def stops_in(connection: Connection, period: Period, as_of: datetime | None = None) -> list[Stop]:
    """Stops that overlap `period`, whole as they were entered; a running one as far as it ran."""
    query = (
        in_force(stops, _file_at(connection, as_of))
        .where(stops.c.start < period.end, stops.c.end > period.start)
        .order_by(stops.c.start, stops.c.station)
    )
    now = as_of or chain.now()
    return [_stop(row).until(period, now) for row in connection.execute(query)]


def place_of(name: str, sheet: str, row: int) -> str:
    return f"{name} {'sheet ' + sheet + ' ' if sheet else ''}row {row}"


def place_of_row(row: Any) -> str:
    """Where a stored row was written down: file, sheet and row."""
    return place_of(row.name, row.sheet, row.row)


def record_of(row: Any) -> Reading | Stop:
    """The reading or the stop that a stored row holds."""
    return _reading(row) if hasattr(row, "address") else _stop(row)


def _reading(row: Any, who: str = "") -> Reading:
    return Reading(
        address=row.address,
        value=row.value,
        sigma=row.sigma,
        start=row.start,
        end=row.end,
        unit=row.unit,
        given=row.given,
        source=place_of(row.name, row.sheet, row.row) + (f", {row.source}" if row.source else ""),
        note=row.note,
        entered=row.entered,
        entered_by=who,
    )


def _stop(row: Any) -> Stop:
    return Stop(row.start, row.end, row.station, row.cause, row.note)
