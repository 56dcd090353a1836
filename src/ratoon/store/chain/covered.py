"""Which rows the event chain covers whole, and whether they are as their events say.

An event that stores a row tells its number and the digest of all its columns, so that no column
can be changed unseen: a mill file's first day, an answer's period, the time of a statement.
Readings, stops and cane are covered by the digest of all rows of their file.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, Table, select

from ratoon.store.cane.tables import cane_corrections, statement_proposals, statements
from ratoon.store.chain.digest import digest
from ratoon.store.tables import files, notes, people, results, sessions, settings

ROWS = "rows"
"""Where an event's detail tells the rows that it stores: table -> [number, digest] of each."""
NAMES: Mapping[Table, str] = {
    files: "file",
    settings: "mill file",
    results: "answer",
    notes: "note",
    people: "person",
    cane_corrections: "correction of cane",
    statements: "statement",
    statement_proposals: "proposal of statements",
}
"""The tables whose rows are covered one by one, and what a row of each is called."""
_CHANGING = {sessions: frozenset({"seen"})}

Said = dict[str, dict[int, str]]


def row_digest(connection: Connection, table: Table, number: int) -> str:
    """Digest of all columns of a row that stay, as the table holds them now; "" if not there."""
    row = connection.execute(select(table).where(table.c.id == number)).mappings().first()
    return "" if row is None else _digest(table, row)


def _digest(table: Table, row: Mapping[Any, Any]) -> str:
    left = _CHANGING.get(table, frozenset())
    return digest({name: value for name, value in row.items() if name not in left})


def digests(connection: Connection, rows: Iterable[tuple[Table, int]]) -> dict[str, Any]:
    """What an event says of the rows that it stores."""
    found: dict[str, list[Any]] = {}
    for table, number in rows:
        found.setdefault(table.name, []).append([number, row_digest(connection, table, number)])
    return found


def hear(said: Said, detail: Mapping[str, Any]) -> None:
    """Take up what one event tells of its rows; a later event of a row counts."""
    for name, pairs in detail.get(ROWS, {}).items():
        said.setdefault(name, {}).update((number, mark) for number, mark in pairs)


def uncovered(connection: Connection, said: Said) -> Iterator[tuple[Table, int]]:
    """Rows that no event covers whole yet: those of an older program."""
    for table in NAMES:
        known = said.get(table.name, {})
        for number in connection.scalars(select(table.c.id).order_by(table.c.id)):
            if number not in known:
                yield table, number


def faults(connection: Connection, said: Said) -> list[str]:
    """Rows that are not as their events say, one line a fault."""
    found: list[str] = []
    for table, name in NAMES.items():
        known = dict(said.get(table.name, {}))
        for row in connection.execute(select(table).order_by(table.c.id)).mappings():
            mark = known.pop(row["id"], "")
            if not mark:
                found.append(f"{name} {row['id']}: stored without an event that covers it")
            elif _digest(table, row) != mark:
                found.append(f"{name} {row['id']}: was changed afterwards")
        found += [f"{name} {n}: stands in the chain, is not there" for n in known]
    return found
