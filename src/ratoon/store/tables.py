"""The tables, the same on SQLite and PostgreSQL.

Nothing in them is ever changed: a correction is a new row whose `replaces` names the old one, and
the row in force is the one that no other replaces.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    Column,
    Date,
    DateTime,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    func,
)
from sqlalchemy.engine import Dialect

from ratoon.base.errors import StoreError

SCHEMA_VERSION = 1
"""Version of these tables; a database of a newer one is refused."""


class UtcTime(TypeDecorator[datetime]):
    """An instant: `timestamptz` on PostgreSQL, ISO text in UTC on SQLite; always aware outside."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise StoreError("a time without zone cannot be stored", value=value.isoformat())
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        at: datetime = value
        return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


metadata = MetaData()

meta = Table(
    "meta",
    metadata,
    Column("key", String(40), primary_key=True),
    Column("value", Text, nullable=False),
)

files = Table(
    "files",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("digest", String(64), nullable=False),
    Column("size", Integer, nullable=False),
    Column("layout", String(20), nullable=False),
    Column("stored", Integer, nullable=False),
    Column("entered", UtcTime, nullable=False),
)

readings = Table(
    "readings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("address", String(120), nullable=False),
    Column("start", UtcTime, nullable=False),
    Column("end", UtcTime),
    Column("version", Integer, nullable=False),
    Column("value", Double, nullable=False),
    Column("unit", String(20), nullable=False),
    Column("given", Double, nullable=False),
    Column("sigma", Double),
    Column("source", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("file", ForeignKey("files.id"), nullable=False, index=True),
    Column("sheet", Text, nullable=False),
    Column("row", Integer, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Column("replaces", ForeignKey("readings.id"), unique=True),
    Column("reason", Text, nullable=False),
)
Index("readings_by_start", readings.c.start)
# two writers cannot store the same reading twice, whatever they both saw before
Index(
    "readings_once",
    readings.c.address,
    readings.c.start,
    func.coalesce(readings.c.end, readings.c.start),
    readings.c.version,
    unique=True,
)

stops = Table(
    "stops",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("start", UtcTime, nullable=False),
    Column("end", UtcTime, nullable=False),
    Column("station", String(120), nullable=False),
    Column("version", Integer, nullable=False),
    Column("cause", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("file", ForeignKey("files.id"), nullable=False, index=True),
    Column("sheet", Text, nullable=False),
    Column("row", Integer, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Column("replaces", ForeignKey("stops.id"), unique=True),
    Column("reason", Text, nullable=False),
)
Index("stops_once", stops.c.station, stops.c.start, stops.c.version, unique=True)

settings = Table(
    "settings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("holds_from", Date, nullable=False),
    Column("digest", String(64), nullable=False),
    Column("text", Text, nullable=False),
    Column("entered", UtcTime, nullable=False),
)

results = Table(
    "results",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(40), nullable=False),
    Column("start", UtcTime, nullable=False),
    Column("end", UtcTime, nullable=False),
    Column("inputs_digest", String(64), nullable=False),
    Column("versions", Text, nullable=False),
    Column("answer", Text, nullable=False),
    Column("made", UtcTime, nullable=False),
)
Index("results_by_period", results.c.kind, results.c.start, results.c.end)

events = Table(
    "events",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", UtcTime, nullable=False),
    Column("who", Text, nullable=False),
    Column("what", String(40), nullable=False),
    Column("detail", Text, nullable=False),
    Column("hash", String(64), nullable=False),
)
