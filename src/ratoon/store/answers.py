"""Mill files and answers: kept whole, appended, the newest shown."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Select, func, insert, select

from ratoon.base.errors import StoreError
from ratoon.base.records import Period
from ratoon.store.chain import events as chain
from ratoon.store.chain.digest import canonical, digest_of_bytes
from ratoon.store.chain.reach import newest_event
from ratoon.store.packed import as_json
from ratoon.store.records import Result, Snapshot
from ratoon.store.tables import results, settings


def keep_settings(
    connection: Connection, text: str, holds_from: date, at: datetime
) -> dict[str, Any] | None:
    """Keep a mill file's text unless it is the one in force on `holds_from` already, or the one
    that is kept for the days to come.
    """
    mark = digest_of_bytes(text.encode())
    standing = (settings_on(connection, day) for day in (holds_from, date.max))
    if any(kept is not None and kept.digest == mark for kept in standing):
        return None
    key = connection.execute(
        insert(settings).values(holds_from=holds_from, digest=mark, text=text, entered=at)
    ).inserted_primary_key
    return {"settings": key[0] if key else 0, "digest": mark, "holds_from": holds_from}


def settings_on(connection: Connection, day: date) -> Snapshot | None:
    """The mill file that holds on a mill day; before the first, the first one kept."""
    newest = (settings.c.holds_from.desc(), settings.c.id.desc())
    row = connection.execute(
        select(settings).where(settings.c.holds_from <= day).order_by(*newest).limit(1)
    ).first()
    if row is None:
        oldest = (settings.c.holds_from, settings.c.id)
        row = connection.execute(select(settings).order_by(*oldest).limit(1)).first()
    return None if row is None else Snapshot(row.text, row.digest, row.holds_from, row.entered)


def add_result(
    connection: Connection,
    kind: str,
    period: Period,
    inputs_digest: str,
    versions: dict[str, str],
    answer: Any,
    at: datetime,
    seen: int | None = None,
) -> dict[str, Any]:
    """Append an answer; what the event chain is to say is returned.

    `seen` is the newest event when its records were read; by default that of now.
    """
    text = canonical(answer)
    versions = {**versions, chain.SEEN: str(newest_event(connection)[0] if seen is None else seen)}
    key = connection.execute(
        insert(results).values(
            kind=kind,
            start=period.start,
            end=period.end,
            inputs_digest=inputs_digest,
            versions=canonical(versions),
            answer=text,
            made=at,
        )
    ).inserted_primary_key
    return {
        "result": key[0] if key else 0,
        "kind": kind,
        "start": period.start,
        "end": period.end,
        "inputs_digest": inputs_digest,
        "answer": digest_of_bytes(text.encode()),
    }


def newest_result(connection: Connection, kind: str, period: Period) -> Result | None:
    """The answer appended last for a kind and a period."""
    row = connection.execute(
        select(results)
        .where(results.c.kind == kind, results.c.start == period.start, results.c.end == period.end)
        .order_by(results.c.id.desc())
        .limit(1)
    ).first()
    return None if row is None else _result(row)


def last_before(connection: Connection, kinds: Iterable[str], within: Period) -> Result | None:
    """The newest answer of some kinds for the latest period that ends inside a stretch."""
    row = connection.execute(
        select(results)
        .where(results.c.kind.in_(list(kinds)), results.c.end > within.start,
               results.c.end <= within.end)
        .order_by(results.c.end.desc(), results.c.id.desc())
        .limit(1)
    ).first()  # fmt: skip
    return None if row is None else _result(row)


def newest_results(connection: Connection, kind: str, within: Period | None = None) -> list[Result]:
    """The newest answer of each period of a kind, by period."""
    query = select(results).where(results.c.id.in_(_newest(kind, within)))
    by_period = query.order_by(results.c.start, results.c.end)
    return [_result(row) for row in connection.execute(by_period)]


def newest_parts(
    connection: Connection, kind: str, key: str, within: Period
) -> list[tuple[Period, str, Any]]:
    """What the newest answer of each period holds under a key, with the answer's inputs' digest.

    The rest of the answers is not read out of the database; None where a key is not there.
    """
    r = results.c
    answer = as_json(connection, r.answer)
    query = select(r.start, r.end, r.inputs_digest, answer[key].label("part"))
    rows = connection.execute(query.where(r.id.in_(_newest(kind, within))).order_by(r.start, r.end))
    return [(Period(row.start, row.end), row.inputs_digest, row.part) for row in rows]


def kinds_kept(connection: Connection, kinds: Iterable[str], within: Period) -> set[str]:
    """Those of some kinds of which an answer is kept for a period within a stretch."""
    query = select(results.c.kind).where(
        results.c.kind.in_(list(kinds)), results.c.start >= within.start,
        results.c.end <= within.end,
    )  # fmt: skip
    return set(connection.scalars(query.distinct()))


def _newest(kind: str, within: Period | None) -> Select[tuple[int]]:
    """Numbers of the newest answers of a kind."""
    query = select(func.max(results.c.id)).where(results.c.kind == kind)
    if within is not None:
        query = query.where(results.c.start >= within.start, results.c.end <= within.end)
    return query.group_by(results.c.start, results.c.end)


def results_after(
    connection: Connection, kinds: Iterable[str], after: int
) -> list[tuple[int, Result]]:
    """The answers of some kinds appended after the one numbered `after`, in order."""
    rows = connection.execute(
        select(results)
        .where(results.c.id > after, results.c.kind.in_(list(kinds)))
        .order_by(results.c.id)
    )
    return [(row.id, _result(row)) for row in rows]


def any_after(connection: Connection, kinds: Iterable[str], after: int, within: Period) -> bool:
    """Whether an answer of some kinds that reaches into a stretch came after the one numbered."""
    query = select(results.c.id).where(
        results.c.id > after, results.c.kind.in_(list(kinds)), results.c.end > within.start,
        results.c.start < within.end,
    )  # fmt: skip
    return connection.scalar(query.limit(1)) is not None


def periods_with_result(connection: Connection, kind: str) -> list[Period]:
    """The periods that have an answer of a kind, in order; the answers themselves stay put."""
    rows = connection.execute(
        select(results.c.start, results.c.end).where(results.c.kind == kind).distinct()
    )
    return [Period(*pair) for pair in sorted((row.start, row.end) for row in rows)]


def _result(row: Any) -> Result:
    try:
        versions, answer = json.loads(row.versions), json.loads(row.answer)
    except ValueError:
        raise StoreError(
            f"the stored answer {row.id} ({row.kind}) is damaged", todo="Run `ratoon doctor`"
        ) from None
    return Result(
        row.kind, Period(row.start, row.end), row.inputs_digest, versions, answer, row.made, row.id
    )
