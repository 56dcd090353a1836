"""Records of cane of some days as bare rows: thousands of bins and tips, asked for at once.

Where a record came from is left out; `cane.records` gives the whole of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, exists, func, select

from ratoon.base.records import Period
from ratoon.store.cane_tables import cane_records


class Move(NamedTuple):
    """What stands of one record: its key, moment, note, grower, and content where it was asked."""

    key: str
    at: datetime
    consignment: str
    grower: str
    content: str


def moves(connection: Connection, kind: str, within: Period, whole: bool = True) -> list[Move]:
    """Records in force of a kind in a period, by time; without `whole`, their content is ""."""
    t, later = cane_records, cane_records.alias("later")
    columns = [t.c.key, t.c.at, t.c.consignment, t.c.grower, *([t.c.content] if whole else [])]
    query = (
        select(*columns)
        .where(t.c.kind == kind, t.c.at >= within.start, t.c.at < within.end)
        .where(~exists().where(later.c.replaces == t.c.id))
        .order_by(t.c.at, t.c.key)
    )
    bare = () if whole else ("",)
    return [Move(*row, *bare) for row in connection.execute(query)]


def any_in(connection: Connection, kind: str, within: Period) -> bool:
    """Whether there is a record of a kind in a period."""
    t = cane_records
    query = select(t.c.id).where(t.c.kind == kind, t.c.at >= within.start, t.c.at < within.end)
    return connection.scalar(query.limit(1)) is not None


def newest(connection: Connection, kinds: Iterable[str]) -> datetime | None:
    """The moment of the newest record of some kinds; None without one."""
    t = cane_records
    found = [connection.scalar(select(func.max(t.c.at)).where(t.c.kind == k)) for k in kinds]
    return max((at for at in found if at is not None), default=None)
