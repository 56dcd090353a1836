"""All rows out of a database and into an empty one, the same for SQLite and PostgreSQL.

A table leaves as lines of JSON in the order of its key, all tables from one snapshot, while others
go on writing. Sessions stay behind: a copy of the records lets nobody in.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from itertools import islice
from typing import Any

from sqlalchemy import Connection, Date, Table, func, insert, inspect, select, text

from ratoon.base.errors import StoreError
from ratoon.store import engine, upgrade
from ratoon.store.chain import events as chain
from ratoon.store.chain import verify
from ratoon.store.chain.digest import canonical
from ratoon.store.room import Store
from ratoon.store.tables import SCHEMA_VERSION, UtcTime, metadata

LEFT_BEHIND = frozenset({"sessions"})
_CHUNK = 2000


class Snapshot:
    """The database as it stood when the snapshot was taken."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        newest, first = chain.newest(connection), chain.numbered(connection, 1)
        self.head, self.event = (newest.hash, newest.number) if newest else (chain.FIRST, 0)
        self.store = first.hash if first else ""

    def names(self) -> list[str]:
        """The tables, those that others point to first."""
        there = set(inspect(self._connection).get_table_names())
        kept = (t.name for t in metadata.sorted_tables if t.name not in LEFT_BEHIND)
        return [name for name in kept if name in there]

    def lines(self, name: str) -> Iterator[str]:
        """A table's rows as canonical JSON, one row a line."""
        table = metadata.tables[name]
        query = select(table).order_by(*table.primary_key.columns)
        found = self._connection.execution_options(yield_per=_CHUNK).execute(query)
        for row in found.mappings():
            yield canonical(dict(row)) + "\n"


@contextmanager
def snapshot(store: Store) -> Iterator[Snapshot]:
    """One snapshot of a store, held while it is read."""
    with engine.reading(store._engine) as connection:
        yield Snapshot(connection)


def fill(where: str, version: int, tables: Iterable[tuple[str, Iterable[str]]], head: str) -> None:
    """Make the tables of a version in an empty database and fill them, whole or not at all.

    Parameters
    ----------
    where : path of a file that is not there yet, or URL of an empty database.
    version : of the tables the lines come from.
    tables : names with their lines, as `Snapshot` gave them and in its order.
    head : of the event chain, which must come out again.

    Raises
    ------
    StoreError : not empty, of a newer program, or not the records that the head covers.
    """
    if version > SCHEMA_VERSION:
        raise StoreError(
            f"the records are of a newer ratoon (tables {version})",
            where=where,
            allowed=f"tables up to {SCHEMA_VERSION}",
            todo="Update the program",
        )
    opened = engine.open_engine(where)
    try:
        with engine.writing(opened) as connection:
            if inspect(connection).get_table_names():
                raise StoreError(
                    "the database is not empty", where=engine.place(opened),
                    todo="Restore into a new one: nothing there was changed",
                )  # fmt: skip
            upgrade.steps(connection, str(version))
            for name, lines in tables:
                _load(connection, name, lines)
            if connection.dialect.name == "postgresql":
                _count_on(connection)
            if chain.head(connection) != head:
                raise StoreError("the event chain ends elsewhere than the backup says")
            if version == SCHEMA_VERSION:  # an older one is looked at when it is up to date
                faults = verify.faults(connection)
                if faults:
                    raise StoreError(f"the records are not sound: {faults[0]}")
    finally:
        opened.dispose()


def take_away(where: str) -> None:
    """Take away the tables that `fill` made, where what came after it failed."""
    opened = engine.open_engine(where)
    try:
        with engine.writing(opened) as connection:
            metadata.drop_all(connection)
            connection.execute(text(f"DROP TABLE IF EXISTS {upgrade.STAMP}"))
    finally:
        opened.dispose()


def _load(connection: Connection, name: str, lines: Iterable[str]) -> None:
    table = metadata.tables.get(name)
    if table is None or name in LEFT_BEHIND:
        raise StoreError("the backup holds a table that is not ratoon's", value=name[:40])
    rows = iter(lines)
    while chunk := [_row(table, line) for line in islice(rows, _CHUNK)]:
        connection.execute(insert(table), chunk)


def _row(table: Table, line: str) -> dict[str, Any]:
    try:
        row: dict[str, Any] = json.loads(line)
        for name, value in row.items():
            kind = table.c[name].type
            if value is not None and isinstance(kind, UtcTime):
                row[name] = datetime.fromisoformat(value)
            elif value is not None and isinstance(kind, Date):
                row[name] = date.fromisoformat(value)
    except (ValueError, KeyError, TypeError, AttributeError):
        raise StoreError(f"not a row of table {table.name}", value=line[:60]) from None
    return row


def _count_on(connection: Connection) -> None:
    """PostgreSQL counts ids in sequences, which go on after the highest one filled in."""
    there = set(inspect(connection).get_table_names())
    for table in metadata.sorted_tables:
        if table.name not in there or "id" not in table.c:
            continue
        sequence = connection.scalar(
            text("SELECT pg_get_serial_sequence(:name, 'id')"), {"name": table.name}
        )
        highest = connection.scalar(select(func.max(table.c.id)))
        if sequence and highest:
            connection.execute(
                text("SELECT setval(:sequence, :highest)"),
                {"sequence": sequence, "highest": highest},
            )
