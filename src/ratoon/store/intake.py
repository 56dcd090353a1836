"""Readings and stops of a file into the tables.

The same reading twice changes nothing; another value for the same address and period is refused,
naming the row that stands, unless a reason for the correction is given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from ratoon.base.errors import StoreError
from ratoon.base.records import Reading, Stop
from ratoon.store.cane import kept as cane
from ratoon.store.cane.plain import CaneEntry, SeriesEntry
from ratoon.store.cane.tables import cane_records, cane_series
from ratoon.store.chain.digest import digest, digest_of_bytes
from ratoon.store.entries import in_force, place_of, record_of
from ratoon.store.records import Entry, InputFile, Outcome, Rejected
from ratoon.store.tables import files, readings, stops

Key = tuple[Any, ...]
Beside = dict[str, float | str | None]
_CHUNK = 5000
_SAME = 1e-12
"""Relative difference under which two values are one: 10,199 t and 10,199,000 kg."""


@dataclass(slots=True)
class _Standing:
    """The row in force for a key; `id` is 0 while it comes from the file being stored.

    `beside`: what is corrected though the content stays: a reading's sigma and note, a stop's note.
    """

    id: int
    version: int
    content: tuple[Any, ...]
    beside: Beside
    shown: str
    place: str


def store_file(
    connection: Connection,
    file: InputFile,
    entries: Sequence[Entry],
    correct: str | None,
    at: datetime,
    seen: int | None = None,
) -> tuple[Outcome, dict[str, Any] | None]:
    """Store the entries of a file in the writing transaction that `connection` holds.

    Returns
    -------
    The outcome, and what the event chain is to say; None when nothing new came in.
    """
    outcome = Outcome()
    new_readings = _sift(connection, file, readings, entries, correct, outcome, seen)
    new_stops = _sift(connection, file, stops, entries, correct, outcome, seen)
    new_records = cane.sift_records(
        connection, file, [e.record for e in entries if isinstance(e.record, CaneEntry)], correct,
        outcome,
    )  # fmt: skip
    new_points = cane.sift_series(
        connection, [e.record for e in entries if isinstance(e.record, SeriesEntry)], outcome
    )
    stored = len(new_readings) + len(new_stops) + len(new_records) + len(new_points)
    if not stored:
        return outcome, None
    key = connection.execute(
        insert(files).values(
            name=file.name,
            digest=file.digest,
            size=file.size,
            layout=file.layout,
            stored=stored,
            entered=at,
        )
    ).inserted_primary_key
    number = key[0] if key else 0
    for table, rows in ((readings, new_readings), (stops, new_stops)):
        for row in rows:
            row.update(file=number, entered=at, reason=correct if row["replaces"] else "")
        for first in range(0, len(rows), _CHUNK):
            connection.execute(insert(table), rows[first : first + _CHUNK])
    cane.add_rows(connection, new_records, new_points, number, at, correct)
    return outcome, {
        "file": number,
        "name": file.name,
        "digest": file.digest,
        "accepted": outcome.accepted,
        "corrected": outcome.corrected,
        "refused": len(outcome.rejected),
        "stored": digest_of_file_rows(connection, number)[0],
    }


def digest_of_file_rows(connection: Connection, number: int) -> tuple[str, int]:
    """Digest of every row that a file brought in, as the tables hold them now, and their number."""
    rows: list[list[Any]] = []
    count = 0
    for table in (readings, stops):
        found = connection.execute(select(table).where(table.c.file == number).order_by(table.c.id))
        rows.extend([table.name, *row] for row in found)
        count = len(rows)
    # thousands of rows a file: their text is digested whole, cell by cell would be slow
    for table, order in ((cane_records, cane_records.c.id), (cane_series, cane_series.c.row)):
        found = connection.execute(select(table).where(table.c.file == number).order_by(order))
        texts = [repr(tuple(row)) for row in found]
        count += len(texts)
        if texts:
            rows.append([table.name, digest_of_bytes("\n".join(texts).encode())])
    return digest(rows), count


def _sift(
    connection: Connection,
    file: InputFile,
    table: Table,
    entries: Sequence[Entry],
    correct: str | None,
    outcome: Outcome,
    seen: int | None,
) -> list[dict[str, Any]]:
    """The rows to add to `table`: those that are new, and corrections when they are asked for."""
    kind = Reading if table is readings else Stop
    mine = [entry for entry in entries if isinstance(entry.record, kind)]
    if not mine:
        return []
    standing = _standing(connection, table, mine)
    rows = []
    for entry in mine:
        key, row, beside = _row(entry)
        old = standing.get(key)
        content = _content(entry.record)
        if old is not None and _same(old.content, content):
            if old.id == 0 or not correct or not _told_otherwise(old.beside, beside):
                outcome.unchanged += 1
                continue
            beside = old.beside | {k: v for k, v in beside.items() if v not in (None, "")}
            row |= beside
        elif old is not None and (old.id == 0 or not correct):
            outcome.rejected.append(_contradiction(entry, old))
            continue
        if old is not None and seen is not None and old.id > seen:
            outcome.rejected.append(_unseen(entry, old))
            continue
        row["version"] = old.version + 1 if old else 1
        row["replaces"] = old.id if old else None
        rows.append(row)
        where = place_of(file.name, entry.sheet, entry.row)
        standing[key] = _Standing(
            0, row["version"], content, beside, _shown(entry.record), where + " of this file"
        )
        if old:
            outcome.corrected += 1
        else:
            outcome.accepted += 1
    return rows


def _standing(
    connection: Connection, table: Table, entries: Sequence[Entry]
) -> dict[Key, _Standing]:
    """The rows in force over the stretch of time that the entries cover, by key."""
    starts = [entry.record.start for entry in entries if entry.record.start is not None]
    query = in_force(table).where(table.c.start >= min(starts), table.c.start <= max(starts))
    found: dict[Key, _Standing] = {}
    for row in connection.execute(query):
        record = record_of(row)
        found[_key(record)] = _Standing(
            row.id,
            row.version,
            _content(record),
            _beside(record),
            _shown(record),
            place_of(row.name, row.sheet, row.row),
        )
    return found


def _row(entry: Entry) -> tuple[Key, dict[str, Any], Beside]:
    """Key, columns and what stands beside; file, version and time of entry come later."""
    record = entry.record
    common = {"note": record.note, "sheet": entry.sheet, "row": entry.row, "start": record.start}
    if isinstance(record, Stop):
        own = {"end": record.end, "station": record.station, "cause": record.cause}
        return _key(record), common | own, _beside(record)
    if record.start is None or record.given is None:
        raise StoreError("a reading without time or given value", where=record.address)
    own = {
        "address": record.address,
        "end": record.end,
        "value": record.value,
        "unit": record.unit,
        "given": record.given,
        "sigma": record.sigma,
        "source": record.source,
    }
    return _key(record), common | own, _beside(record)


def _key(record: Reading | Stop) -> Key:
    if isinstance(record, Stop):
        return (record.station, record.start)
    return (record.address, record.start, record.end)


def _content(record: Reading | Stop) -> tuple[Any, ...]:
    """What must be equal for two records of one key to be the same."""
    return (record.end, record.cause) if isinstance(record, Stop) else (record.value,)


def _beside(record: Reading | Stop) -> Beside:
    note: Beside = {"note": record.note}
    return note if isinstance(record, Stop) else note | {"sigma": record.sigma}


def _told_otherwise(old: Beside, new: Beside) -> bool:
    """Whether what stands beside is told, and told otherwise; what is left out corrects nothing."""
    return any(v not in (None, "") and not _same((old[k],), (v,)) for k, v in new.items())


def _same(one: tuple[Any, ...], two: tuple[Any, ...]) -> bool:
    return all(
        math.isclose(a, b, rel_tol=_SAME)
        if isinstance(a, float) and isinstance(b, float)
        else a == b
        for a, b in zip(one, two)
    )


def _shown(record: Reading | Stop) -> str:
    if isinstance(record, Stop):
        return f"{'running' if record.running else f'{record.hours:g} h'}, {record.cause}"
    return f"{record.given:g} {record.unit}".strip()


def _contradiction(entry: Entry, old: _Standing) -> Rejected:
    stop = isinstance(entry.record, Stop)
    remedy = "" if old.id == 0 else '; if the new one is right, import with --correct "REASON"'
    what = "stop" if stop else "reading"
    return Rejected(
        entry,
        "end" if stop else "value",
        f"another {what} stands for the same {'station' if stop else 'quantity'} and time: "
        f"{old.shown} in {old.place}{remedy}",
    )


def _unseen(entry: Entry, old: _Standing) -> Rejected:
    return Rejected(
        entry,
        "end" if isinstance(entry.record, Stop) else "value",
        f"{old.shown} was entered by somebody else since this page was opened, in {old.place}",
        unseen=True,
    )
