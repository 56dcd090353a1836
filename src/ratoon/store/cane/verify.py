"""Statements and corrections of cane against the event chain: what was issued stands as it was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, select

from ratoon.store.cane import paid as cane_paid
from ratoon.store.cane.tables import cane_corrections, cane_records, statement_files, statements
from ratoon.store.chain.digest import canonical, digest_of_bytes

Said = tuple[str, Mapping[str, Any]]  # who, and what the event says


def faults(connection: Connection, issued: Sequence[Said], corrected: Sequence[Said]) -> list[str]:
    """What is wrong, one line a fault.

    Parameters
    ----------
    issued, corrected : events of statements and of corrections, in order.
    """
    return [
        *_statement_faults(connection, issued),
        *cane_paid.faults(connection),
        *_correction_faults(connection, corrected),
        *_version_faults(connection),
    ]


def _statement_faults(connection: Connection, said: Sequence[Said]) -> list[str]:
    found: list[str] = []
    events = {_name(about): (who, about) for who, about in said}
    kept = {r.statement: r.digests for r in connection.execute(select(statement_files))}
    for row in connection.execute(select(statements)).mappings():
        name = _name({**row, "start": row["start"].isoformat(), "end": row["end"].isoformat()})
        who, about = events.pop(name, ("", None))
        if about is None:
            found.append(f"statement {name}: stored without an event in the chain")
        elif digest_of_bytes(row["content"].encode()) != about["statement digest"]:
            found.append(f"statement {name}: was changed afterwards")
        elif (row["digest"], row["cents"], row["who"]) != (
            about["statement digest"], about["cents"], who
        ):  # fmt: skip
            found.append(f"statement {name}: its digest, total or issuer was changed afterwards")
        elif canonical(about.get("files", {})) != kept.get(row["id"], "{}"):
            found.append(f"statement {name}: the digests of its files were changed afterwards")
    return found + [f"statement {n}: stands in the chain, is not there" for n in events]


def _name(about: Mapping[str, Any]) -> str:
    return f"{about['grower']} {about['start']} to {about['end']} number {about['number']}"


def _correction_faults(connection: Connection, said: Sequence[Said]) -> list[str]:
    query = select(cane_corrections).order_by(cane_corrections.c.id)
    rows = list(connection.execute(query).mappings())
    found = []
    if len(rows) != len(said):
        found.append(f"corrections of cane: {len(said)} stand in the chain, {len(rows)} are there")
    for row, (_, about) in zip(rows, said, strict=False):
        if any(row[key] != value for key, value in about.items()):
            found.append(f"correction of {row['kind']} {row['subject']}: was changed afterwards")
    return found


def _version_faults(connection: Connection) -> list[str]:
    """A corrected record must replace the version just before it, of the same key."""
    t, old = cane_records, cane_records.alias("old")
    query = (
        select(t.c.id, t.c.kind, t.c.key, t.c.version, old.c.kind, old.c.key, old.c.version)
        .join_from(t, old, t.c.replaces == old.c.id, isouter=True)
        .where((t.c.version > 1) | t.c.replaces.is_not(None))
    )
    return [
        f"table cane_records: row {row[0]} corrects another record's row"
        for row in connection.execute(query)
        if tuple(row[1:3]) != tuple(row[4:6]) or row[6] != row[3] - 1
    ]
