"""Issued statements, their files' digests, and statements that wait for a second person."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, and_, insert, select

from ratoon.store.cane import paid as cane_paid
from ratoon.store.cane.plain import IssuedStatement, Proposal
from ratoon.store.cane.tables import statement_files, statement_proposals, statements
from ratoon.store.chain.digest import canonical


def issued(
    connection: Connection, start: date | None = None, end: date | None = None,
    grower: str | None = None,
) -> list[IssuedStatement]:  # fmt: skip
    """Issued statements that touch days `start` to `end`, by grower, days and number."""
    t, files, asked = statements, statement_files, statement_proposals
    query = (
        select(t, files.c.digests, files.c.proposal, asked.c.who.label("proposed"))
        .join(files, files.c.statement == t.c.id, isouter=True)
        .join(asked, asked.c.id == files.c.proposal, isouter=True)
    )
    if start is not None and end is not None:
        query = query.where(and_(t.c.start <= end, t.c.end >= start))
    if grower is not None:
        query = query.where(t.c.grower == grower)
    query = query.order_by(t.c.grower, t.c.start, t.c.end, t.c.number)
    return [
        IssuedStatement(r.grower, r.start, r.end, r.number, r.cents, r.digest, r.content, r.who,
                        r.issued, json.loads(r.digests or "{}"), r.proposal, r.proposed or "")
        for r in connection.execute(query)
    ]  # fmt: skip


def issue(
    connection: Connection, ones: Sequence[IssuedStatement]
) -> list[tuple[int, dict[str, Any]]]:
    """Freeze statements that go together; the row of each, and what the chain is to say of it.

    What their growers were paid for the same days before is let go first: cane may have moved
    from one of them to another.

    Raises
    ------
    StoreError : a bin or consignment is paid by a further statement in force.
    """
    for one in (o for o in ones if o.number > 1):
        cane_paid.release(connection, one.grower, one.start, one.end)
    told = []
    for one in ones:
        values = {"grower": one.grower, "start": one.start, "end": one.end, "number": one.number,
                  "cents": one.cents, "digest": one.digest, "content": one.content,
                  "who": one.who, "issued": one.issued}  # fmt: skip
        key = connection.execute(insert(statements).values(**values)).inserted_primary_key
        number = int(key[0]) if key else 0
        connection.execute(insert(statement_files).values(
            statement=number, digests=canonical(dict(one.files)), proposal=one.proposal
        ))  # fmt: skip
        loads = cane_paid.loads_of(json.loads(one.content))
        cane_paid.claim(connection, number, one.grower, loads)
        told.append((number, {
            "grower": one.grower, "start": one.start.isoformat(), "end": one.end.isoformat(),
            "number": one.number, "cents": one.cents, "statement digest": one.digest,
            "files": dict(one.files), "proposal": one.proposal,
        }))  # fmt: skip
    return told


def propose(connection: Connection, one: Proposal) -> tuple[int, dict[str, Any]]:
    """Keep what a second person is to confirm: its number, and what the chain is to say of it."""
    values = {"start": one.start, "end": one.end, "who": one.who, "proposed": one.proposed,
              "content": canonical(dict(one.statements))}  # fmt: skip
    key = connection.execute(insert(statement_proposals).values(**values)).inserted_primary_key
    number = int(key[0]) if key else 0
    told = {"proposal": number, "start": one.start.isoformat(), "end": one.end.isoformat(),
            "statements": dict(one.statements)}  # fmt: skip
    return number, told


def proposals(connection: Connection, waiting: bool = True) -> list[Proposal]:
    """What was proposed, oldest first; `waiting`: and not confirmed yet."""
    t = statement_proposals
    query = select(t).order_by(t.c.id)
    if waiting:
        done = select(statement_files.c.statement).where(statement_files.c.proposal == t.c.id)
        query = query.where(~done.exists())
    return [Proposal(r.id, r.start, r.end, json.loads(r.content), r.who, r.proposed)
            for r in connection.execute(query)]  # fmt: skip
