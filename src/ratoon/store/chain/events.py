"""The event chain: who did what, each event's hash covering all the events before it.

A row changed, taken out or put in later shows when the chain is walked. The head is printed on
each morning sheet, so that a chain rewritten as a whole shows as well.
"""

from __future__ import annotations

import getpass
import json
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select

from ratoon.store.chain import covered
from ratoon.store.chain.digest import canonical, digest, utc_text
from ratoon.store.records import Event, Result
from ratoon.store.tables import events

FIRST = "0" * 64
"""The hash before the first event."""
SEEN = "event"
"""Where the versions of an answer tell the newest event that stood when its records were read."""


def now() -> datetime:
    """The machine's clock in UTC; nothing compares it with the mill's time."""
    return datetime.now(UTC)


def login() -> str:
    """The login name of the person who runs the program; empty where the machine does not tell."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""


def _hash(number: int, at: datetime, who: str, what: str, detail: str, before: str) -> str:
    return digest([number, utc_text(at), who, what, detail, before])


def append(
    connection: Connection,
    what: str,
    detail: dict[str, Any],
    who: str = "",
    rows: Iterable[tuple[Table, int]] = (),
) -> str:
    """Append an event inside a writing transaction and give the new head of the chain.

    Parameters
    ----------
    rows : tables and numbers of the rows that it stores; the event covers every column of each.
    """
    if row_digests := covered.digests(connection, rows):
        detail = {**detail, covered.ROWS: row_digests}
    last = connection.execute(
        select(events.c.number, events.c.hash).order_by(events.c.number.desc()).limit(1)
    ).first()
    number, before = (last.number + 1, last.hash) if last else (1, FIRST)
    at, who, text = now(), who or login(), canonical(detail)
    head = _hash(number, at, who, what, text, before)
    connection.execute(
        insert(events).values(number=number, at=at, who=who, what=what, detail=text, hash=head)
    )
    return head


def head(connection: Connection) -> str:
    """The hash of the newest event."""
    last = connection.scalar(select(events.c.hash).order_by(events.c.number.desc()).limit(1))
    return last or FIRST


def numbered(connection: Connection, number: int) -> Event | None:
    """The event of a number; None when there is none."""
    row = connection.execute(select(events).where(events.c.number == number)).first()
    return None if row is None else _event(row)


def newest(connection: Connection) -> Event | None:
    """The newest event; None before the first."""
    row = connection.execute(select(events).order_by(events.c.number.desc()).limit(1)).first()
    return None if row is None else _event(row)


def _that_says(connection: Connection, what: str, said: str) -> Any:
    """The newest event of a kind whose detail says so; canonical JSON has no spaces."""
    query = select(events).where(events.c.what == what, events.c.detail.like(f"%{said}%"))
    return connection.execute(query.order_by(events.c.number.desc()).limit(1)).first()


def head_at_result(connection: Connection, number: int) -> str:
    """The head of the chain when the result of a number was kept; "" when it never was."""
    row = _that_says(connection, "result", f'"result":{number},')
    return row.hash if row else ""


def seen_by(connection: Connection, kept: Result) -> int:
    """The newest event that stood when a kept answer's records were read."""
    if told := kept.versions.get(SEEN):
        return int(told)
    row = _that_says(connection, "result", f'"result":{kept.id},')  # of an older program
    return row.number if row else 0


def of_statement(connection: Connection, digest_: str) -> int:
    """The event by which a statement was issued; 0 when it never was."""
    row = _that_says(connection, "statement", f'"statement digest":"{digest_}"')
    return row.number if row else 0


def newest_file(connection: Connection, upto: int) -> int:
    """The last file that an event up to a number stored; 0 before the first."""
    query = select(events.c.detail).where(events.c.what == "import", events.c.number <= upto)
    detail = connection.scalar(query.order_by(events.c.number.desc()).limit(1))
    return int(json.loads(detail)["file"]) if detail else 0


def count(connection: Connection, what: str, upto: int) -> int:
    """How many events of a kind there are up to a number."""
    query = select(func.count()).where(events.c.what == what, events.c.number <= upto)
    return connection.scalar(query) or 0


def read_after(connection: Connection, at: datetime, kinds: Iterable[str]) -> list[Event]:
    """Events of some kinds younger than an instant, oldest first."""
    query = select(events).where(events.c.at > at, events.c.what.in_(list(kinds)))
    rows = connection.execute(query.order_by(events.c.number))
    return [_event(row) for row in rows]


def read(connection: Connection) -> list[Event]:
    """All events, oldest first."""
    rows = connection.execute(select(events).order_by(events.c.number))
    return [_event(row) for row in rows]


def _event(row: Any) -> Event:
    return Event(row.number, row.at, row.who, row.what, json.loads(row.detail), row.hash)


def of_kind(connection: Connection, what: str) -> list[Event]:
    """All events of a kind, oldest first."""
    rows = connection.execute(select(events).where(events.c.what == what).order_by(events.c.number))
    return [_event(row) for row in rows]


def importers(connection: Connection) -> dict[int, str]:
    """Who brought in each stored file, by the file's number."""
    rows = connection.execute(
        select(events.c.who, events.c.detail).where(events.c.what == "import")
    )
    return {json.loads(row.detail).get("file", 0): row.who for row in rows}


def faults(connection: Connection) -> list[str]:
    """What is wrong with the chain, one line a fault; empty when it holds."""
    found: list[str] = []
    before = FIRST
    for count, row in enumerate(
        connection.execute(select(events).order_by(events.c.number)), start=1
    ):
        if row.number != count:
            return [*found, f"event chain: event {count} is missing, {row.number} follows"]
        expected = _hash(row.number, row.at, row.who, row.what, row.detail, before)
        if row.hash != expected:
            found.append(f"event chain: event {row.number} ({row.what}) was changed afterwards")
        before = row.hash
    if before == FIRST:
        found.append("event chain: no events, not even the making of the database")
    return found
