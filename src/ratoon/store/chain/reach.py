"""From which instant on an event may change what the records say; what lies before it stands."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, exists, func, select

from ratoon.store.cane.tables import cane_records, cane_series
from ratoon.store.tables import events, readings, results, stops

EVERYTHING = datetime(1, 1, 2, tzinfo=UTC)
"""Where nothing is known to stand."""


def newest_event(connection: Connection) -> tuple[int, str]:
    """Number and hash of the newest event, which covers everything stored before it."""
    row = connection.execute(
        select(events.c.number, events.c.hash).order_by(events.c.number.desc()).limit(1)
    ).first()
    return (row.number, row.hash) if row else (0, "")


def reaches(connection: Connection, after: int) -> list[tuple[int, datetime]]:
    """The events after the one numbered `after`: the number and the earliest instant each touches.

    A file touches its readings and stops from the first of them on, a result that is made again its
    own period; cane, mill files, corrections, and what is made for the first time, everything.
    """
    found = connection.execute(
        select(events.c.number, events.c.what, events.c.detail)
        .where(events.c.number > after)
        .order_by(events.c.number)
    )
    return [(row.number, _reach(connection, row.what, json.loads(row.detail))) for row in found]


def _reach(connection: Connection, what: str, detail: dict[str, Any]) -> datetime:
    if what == "result":
        mine = select(results).where(results.c.id == detail["result"]).subquery()
        again = select(mine.c.start).where(
            exists().where(
                results.c.kind == mine.c.kind, results.c.start == mine.c.start,
                results.c.end == mine.c.end, results.c.id < mine.c.id,
            )
        )  # fmt: skip
        return connection.scalar(again) or EVERYTHING
    if what != "import":
        return EVERYTHING
    file = detail["file"]
    if any(connection.scalar(select(exists().where(table.c.file == file)))
           for table in (cane_records, cane_series)):  # fmt: skip
        return EVERYTHING
    starts = [connection.scalar(select(func.min(table.c.start)).where(table.c.file == file))
              for table in (readings, stops)]  # fmt: skip
    return min((at for at in starts if at is not None), default=EVERYTHING)
