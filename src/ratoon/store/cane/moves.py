"""Records of cane of some days as bare rows: thousands of bins and tips, asked for at once.

Where a record came from is left out; `cane.records` gives the whole of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection, and_, exists, func, or_, select

from ratoon.base.records import Period
from ratoon.store.cane.kept import corrections
from ratoon.store.cane.tables import cane_records
from ratoon.store.chain import events as chain
from ratoon.store.packed import as_json
from ratoon.store.tables import stops


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


def weighings(
    connection: Connection, within: Period
) -> list[tuple[str, datetime, str, int | None, int | None]]:
    """Bins weighed full in a period, by time: key, moment, note, gross and tare [kg]."""
    t, (gross, tare) = cane_records, _weights(connection)
    query = select(t.c.key, t.c.at, t.c.consignment, gross, tare).where(*_bins_in(within))
    return [tuple(row) for row in connection.execute(query.order_by(t.c.at, t.c.key))]


def weighed(connection: Connection, within: Period, apart: Collection[str]) -> dict[str, int]:
    """Cane of a period's bins with two sound weights by their notes [kg]; bins `apart` left out."""
    t, (gross, tare) = cane_records, _weights(connection)
    query = select(t.c.consignment, func.sum(gross - tare)).where(
        *_bins_in(within), gross > tare, t.c.key.not_in(list(apart))
    )
    return {name: int(kg) for name, kg in connection.execute(query.group_by(t.c.consignment))}


def _weights(connection: Connection) -> tuple[Any, Any]:
    """Gross and tare out of the content of a bin, in the database."""
    content = as_json(connection, cane_records.c.content)
    return content["gross"].as_integer(), content["tare"].as_integer()


def _bins_in(within: Period) -> tuple[Any, ...]:
    t, later = cane_records, cane_records.alias("later")
    return (t.c.kind == "bin", t.c.at >= within.start, t.c.at < within.end,
            ~exists().where(later.c.replaces == t.c.id))  # fmt: skip


def newest(connection: Connection, kinds: Iterable[str]) -> datetime | None:
    """The moment of the newest record of some kinds; None without one."""
    t = cane_records
    found = [connection.scalar(select(func.max(t.c.at)).where(t.c.kind == k)) for k in kinds]
    return max((at for at in found if at is not None), default=None)


def came_since(connection: Connection, event: int, until: datetime, rosters: datetime) -> bool:
    """Whether files after an event tell anything new of the cane or the stops before `until`.

    What has no moment (blocks, farms) and what replaces an older record always does; a roster does
    till `rosters`.
    """
    t, upto = cane_records, chain.newest_file(connection, event)
    before = or_(t.c.at.is_(None), t.c.at < until, t.c.replaces.is_not(None),
                 and_(t.c.kind == "roster", t.c.at < rosters))  # fmt: skip
    asked = (select(t.c.id).where(t.c.file > upto, before),
             select(stops.c.id).where(stops.c.file > upto, stops.c.start < until))  # fmt: skip
    return any(connection.scalar(query.limit(1)) is not None for query in asked)


def corrected_since(connection: Connection, event: int, until: datetime) -> bool:
    """Whether a person corrected or decided on a bin or a note, written before `until`, after an
    event; a note whose time of cutting was moved may have been written whenever."""
    found = [c for c in corrections(connection, event) if c.kind in ("bin", "consignment")]
    if any(c.field == "cut_time" for c in found):
        return True
    t = cane_records
    asked = (select(t.c.id).where(t.c.kind == c.kind, t.c.key == c.subject, t.c.at < until)
             for c in found)  # fmt: skip
    return any(connection.scalar(query.limit(1)) is not None for query in asked)
