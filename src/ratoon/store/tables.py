"""The tables, the same on SQLite and PostgreSQL.

No record of the mill is ever changed: a correction is a new row whose `replaces` names the old one,
and the row in force is the one that no other replaces. Only people, their sessions and their
drafts are rows that change; each change of a person is an event in the chain.

A change here is a new `SCHEMA_VERSION` and a step in `versions`, which must give the same tables.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
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
from sqlalchemy.types import TypeEngine

from ratoon.base.errors import StoreError
from ratoon.store.packed import Packed, as_given

SCHEMA_VERSION = 7
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


class UtcCount(UtcTime):
    """An instant of one of very many rows: microseconds since 1970 UTC on SQLite, a third of the
    room that its text takes in the table and in each index."""

    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return as_given(dialect, "DATETIME", DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        utc = super().process_bind_param(value, dialect)
        if utc is None or dialect.name != "sqlite":
            return utc
        return (utc - _SINCE) // _MICROSECOND

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if isinstance(value, int):
            try:
                value = _SINCE + timedelta(microseconds=value)
            except OverflowError:
                raise ValueError(f"{value} is no instant") from None
        elif isinstance(value, str):  # of an older program
            value = datetime.fromisoformat(value)
        return super().process_result_value(value, dialect)


_SINCE, _MICROSECOND = datetime(1970, 1, 1), timedelta(microseconds=1)
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
    Column("answer", Packed, nullable=False),
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

people = Table(
    "people",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("login", String(40), nullable=False, unique=True),
    Column("name", String(120), nullable=False),
    # the argon2 hash of the password, never the password
    Column("secret", Text, nullable=False),
    Column("one_time", Integer, nullable=False),
    Column("disabled", UtcTime),
    # whose cane a grower may see; empty for everybody else
    Column("grower", String(120), nullable=False),
    Column("entered", UtcTime, nullable=False),
)

roles = Table(
    "roles",
    metadata,
    Column("person", ForeignKey("people.id"), primary_key=True),
    Column("role", String(20), primary_key=True),
)

sessions = Table(
    "sessions",
    metadata,
    Column("id", Integer, primary_key=True),
    # SHA-256 of the token in the cookie: a reader of this table can enter nowhere
    Column("digest", String(64), nullable=False, unique=True),
    Column("person", ForeignKey("people.id"), nullable=False, index=True),
    Column("made", UtcTime, nullable=False),
    Column("seen", UtcTime, nullable=False),
    Column("ends", UtcTime, nullable=False),
    Column("place", String(200), nullable=False),
)

drafts = Table(
    "drafts",
    metadata,
    Column("who", String(40), primary_key=True),
    Column("form", String(120), primary_key=True),
    Column("text", Text, nullable=False),
    Column("saved", UtcTime, nullable=False),
)

notes = Table(
    "notes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("start", UtcTime, nullable=False),
    Column("end", UtcTime, nullable=False),
    # "note" of a shift, or "handover" to the next
    Column("kind", String(20), nullable=False),
    Column("station", String(120), nullable=False),
    Column("text", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Column("replaces", ForeignKey("notes.id"), unique=True),
    Column("reason", Text, nullable=False),
)
Index("notes_by_start", notes.c.start)
