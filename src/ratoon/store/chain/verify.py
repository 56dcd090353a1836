"""Is the database sound? The event chain covers every stored row; here all is compared."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, Table, select, text

from ratoon.base.errors import StoreError
from ratoon.store import people, written
from ratoon.store.cane import verify as cane_verify
from ratoon.store.chain import covered
from ratoon.store.chain import events as chain
from ratoon.store.chain.digest import digest_of_bytes
from ratoon.store.intake import digest_of_file_rows
from ratoon.store.tables import events, files, meta, readings, results, settings, stops


def faults(connection: Connection) -> list[str]:
    """What is wrong, one line a fault; empty when the database is sound."""
    found: list[str] = []
    for look in (_machine_faults, chain.faults, _version_of_tables_faults, _told_faults,
                 people.session_faults, _version_faults):  # fmt: skip
        try:
            found += look(connection)
        except (StoreError, ValueError, TypeError, KeyError, AttributeError) as error:
            # what no program of ours wrote: text in place of a date, half a JSON text
            found.append(f"a row holds what cannot be read: {error}")
    return list(dict.fromkeys(found))  # a change may show in two ways


def _told_faults(connection: Connection) -> list[str]:
    """Rows that are not as the events about them say."""
    whole: covered.Said = {}
    said: dict[str, dict[int, dict[str, Any]]] = {
        "file": {},
        "settings": {},
        "result": {},
        "person": {},
    }
    noted: dict[int, dict[str, Any]] = {}
    cane: dict[str, list[cane_verify.Said]] = {"statement": [], "correction": []}
    query = select(events.c.what, events.c.detail, events.c.who).order_by(events.c.number)
    for row in connection.execute(query):
        detail = json.loads(row.detail)
        covered.hear(whole, detail)
        if row.what in cane:
            cane[row.what].append((row.who, detail["about"]))
        if row.what == "note":
            noted[detail["about"]["note"]] = detail["about"]
        for kind, known in said.items():
            if kind in detail:
                known[detail[kind]] = detail
    return (
        _file_faults(connection, said["file"])
        + _text_faults(connection, settings, "text", said["settings"], "digest", "mill file")
        + _text_faults(connection, results, "answer", said["result"], "answer", "answer")
        + written.note_faults(connection, noted)
        + people.faults(connection, said["person"])
        + cane_verify.faults(connection, cane["statement"], cane["correction"])
        + covered.faults(connection, whole)
    )


def uncovered(connection: Connection) -> list[tuple[Table, int]]:
    """Rows that an older program stored, whose events do not cover every column."""
    whole: covered.Said = {}
    for text_ in connection.scalars(select(events.c.detail).order_by(events.c.number)):
        covered.hear(whole, json.loads(text_))
    return list(covered.uncovered(connection, whole))


def _version_of_tables_faults(connection: Connection) -> list[str]:
    """What the database says of its own tables, against the chain."""
    query = select(events.c.detail).where(events.c.what.in_(("database made", "tables changed")))
    said = [json.loads(detail) for detail in connection.scalars(query.order_by(events.c.number))]
    version = str(said[-1].get("to", said[-1].get("schema"))) if said else ""
    held = [tuple(row) for row in connection.execute(select(meta))]
    stamped = connection.scalars(text("SELECT version_num FROM alembic_version")).all()
    if held == [("schema", version)] and stamped == [version]:
        return []
    return ["table meta: the version of the tables was changed afterwards"]


def _machine_faults(connection: Connection) -> list[str]:
    """What the database itself can tell of its pages and references."""
    if connection.dialect.name != "sqlite":
        return []
    checks = [str(row[0]) for row in connection.execute(text("PRAGMA integrity_check"))]
    found = [f"database file: {line}" for line in checks if line != "ok"]
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        found.append(f"table {row[0]}: row {row[1]} points to a row of {row[2]} that is missing")
    return found


def _file_faults(connection: Connection, said: dict[int, dict[str, Any]]) -> list[str]:
    found: list[str] = []
    held = {row.id: row for row in connection.execute(select(files))}
    for number in sorted(said.keys() - held.keys()):
        found.append(
            f"file {said[number]['name']}: its import stands in the chain, its rows do not"
        )
    for number, row in held.items():
        if number not in said:
            found.append(f"file {row.name}: stored without an event in the chain")
            continue
        mark, count = digest_of_file_rows(connection, number)
        if count != row.stored:
            found.append(f"file {row.name}: {row.stored} rows were stored, {count} are there")
        elif mark != said[number]["stored"]:
            found.append(f"file {row.name}: its stored rows were changed afterwards")
        if row.digest != said[number]["digest"]:
            found.append(f"file {row.name}: the digest of the file was changed afterwards")
    return found


def _text_faults(
    connection: Connection,
    table: Any,
    column: str,
    said: dict[int, dict[str, Any]],
    key: str,
    name: str,
) -> list[str]:
    """Rows of one text column compared with the digests in the chain."""
    found: list[str] = []
    query = select(table.c.id, table.c[column])
    held = {row[0]: str(row[1]) for row in connection.execute(query)}
    for number in sorted(said.keys() | held.keys()):
        if number not in held:
            found.append(f"{name} {number}: stands in the chain, is not there")
        elif number not in said:
            found.append(f"{name} {number}: stored without an event in the chain")
        elif digest_of_bytes(held[number].encode()) != said[number][key]:
            found.append(f"{name} {number}: was changed afterwards")
    return found


def _version_faults(connection: Connection) -> list[str]:
    """Corrections must replace the version just before them, of the same key."""
    found: list[str] = []
    for table, keys in ((readings, ("address", "start", "end")), (stops, ("station", "start"))):
        old = table.alias("old")
        rows = connection.execute(
            select(
                table, *(old.c[key].label(f"old_{key}") for key in keys), old.c.version.label("v")
            )
            .join_from(table, old, table.c.replaces == old.c.id, isouter=True)
            .where((table.c.version > 1) | table.c.replaces.is_not(None))
        ).mappings()
        for row in rows:
            same = all(row[key] == row[f"old_{key}"] for key in keys)
            if not same or row["v"] != row["version"] - 1:
                found.append(f"table {table.name}: row {row['id']} corrects another reading's row")
    return found
