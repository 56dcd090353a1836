"""Cane records, series and corrections: into the tables and out of them.

Every question that one grower may ask takes the grower's name, and the database itself leaves all
others out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, and_, func, insert, literal_column, or_, select

from ratoon.base.errors import StoreError
from ratoon.base.records import Period
from ratoon.store.cane.plain import (
    CaneEntry,
    CaneRow,
    CorrectionRow,
    SeriesEntry,
)
from ratoon.store.cane.tables import cane_corrections, cane_records, cane_series
from ratoon.store.chain import events as chain
from ratoon.store.records import Entry, InputFile, Outcome, Rejected
from ratoon.store.tables import files

_CHUNK = 5000
_ASK = 500


def sift_records(
    connection: Connection, file: InputFile, entries: Sequence[CaneEntry], correct: str | None,
    outcome: Outcome,
) -> list[dict[str, Any]]:  # fmt: skip
    """The rows to add: new records, and corrections when they are asked for."""
    standing = _standing(connection, entries)
    rows: list[dict[str, Any]] = []
    for one in entries:
        old = standing.get((one.kind, one.key))
        if old is not None and old[2] == one.content:
            outcome.unchanged += 1
            continue
        if old is not None and (old[0] == 0 or not correct):
            remedy = "" if old[0] == 0 else '; if the new one is right: --correct "REASON"'
            text = f"another {one.kind} {one.key} stands in {old[3]}{remedy}"
            outcome.rejected.append(Rejected(Entry(one, one.row, one.sheet), one.kind, text))
            continue
        version = old[1] + 1 if old else 1
        rows.append({
            "kind": one.kind, "key": one.key, "version": version, "at": one.at,
            "consignment": one.consignment, "grower": one.grower, "content": one.content,
            "sheet": one.sheet, "row": one.row, "replaces": old[0] if old else None,
        })  # fmt: skip
        standing[one.kind, one.key] = (0, version, one.content, f"{file.name} row {one.row}")
        if old:
            outcome.corrected += 1
        else:
            outcome.accepted += 1
    return rows


def _standing(
    connection: Connection, entries: Sequence[CaneEntry]
) -> dict[tuple[str, str], tuple[int, int, str, str]]:
    """Records in force by kind and key: id, version, content, place."""
    found: dict[tuple[str, str], tuple[int, int, str, str]] = {}
    by_kind: dict[str, list[str]] = {}
    for one in entries:
        by_kind.setdefault(one.kind, []).append(one.key)
    t = cane_records
    for kind, keys in by_kind.items():
        for first in range(0, len(keys), _ASK):
            query = (
                select(t.c.id, t.c.key, t.c.version, t.c.content, t.c.row, files.c.name)
                .join(files, t.c.file == files.c.id)
                .where(t.c.kind == kind, t.c.key.in_(keys[first : first + _ASK]))
                .order_by(t.c.version)
            )
            for row in connection.execute(query):
                place = f"{row.name} row {row.row}"
                found[kind, row.key] = (row.id, row.version, row.content, place)
    return found


def sift_series(
    connection: Connection, entries: Sequence[SeriesEntry], outcome: Outcome
) -> list[dict[str, Any]]:
    """The moments to add; a moment that stands with other values is refused."""
    by_series: dict[str, list[SeriesEntry]] = {}
    for one in entries:
        by_series.setdefault(one.series, []).append(one)
    rows: list[dict[str, Any]] = []
    t = cane_series
    for name, mine in by_series.items():
        low, high = min(e.at for e in mine), max(e.at for e in mine)
        query = select(t.c.at, t.c.first, t.c.second, t.c.third).where(
            t.c.series == name, t.c.at >= low, t.c.at <= high
        )
        known = {row.at: tuple(row)[1:] for row in connection.execute(query)}
        for one in mine:
            values = (*one.values, None, None)[:3]
            old = known.get(one.at)
            if old is not None and old == values:
                outcome.unchanged += 1
            elif old is not None:
                text = "this moment stands with another value; a series is not changed"
                outcome.rejected.append(Rejected(Entry(one, one.row, one.sheet), "time", text))
            else:
                known[one.at] = values
                rows.append({"series": name, "at": one.at, "first": values[0],
                             "second": values[1], "third": values[2], "row": one.row})  # fmt: skip
                outcome.accepted += 1
    return rows


def add_rows(
    connection: Connection, records: list[dict[str, Any]], series: list[dict[str, Any]],
    number: int, at: datetime, correct: str | None,
) -> None:  # fmt: skip
    """Insert what was sifted, as rows of file `number`."""
    for row in records:
        row.update(file=number, entered=at, reason=(correct or "") if row["replaces"] else "")
    for row in series:
        row["file"] = number
    for table, rows in ((cane_records, records), (cane_series, series)):
        for first in range(0, len(rows), _CHUNK):
            connection.execute(insert(table), rows[first : first + _CHUNK])


def records(
    connection: Connection,
    kind: str,
    within: Period | None = None,
    consignments: Iterable[str] | None = None,
    grower: str | None = None,
    keys: Iterable[str] | None = None,
    like: Iterable[str] = (),
) -> list[CaneRow]:
    """Records in force of a kind, by time and key; `grower` leaves out all others' in the query.

    `like` are patterns of keys, one of which a record's has, in capitals or not.

    Bins, samples and fibre are a grower's when their consignment's note in force is. A person's
    newest correction of a note's grower, or of a bin's or sample's consignment, counts before what
    the record itself says: cane that turned out to be another's is that other's to see. Columns of
    a row tell what was recorded.
    """
    t, later = cane_records, cane_records.alias("later")
    query = (
        select(t, files.c.name)
        .join(files, t.c.file == files.c.id)
        .where(t.c.kind == kind, ~select(later.c.id).where(later.c.replaces == t.c.id).exists())
    )
    if within is not None:
        query = query.where(t.c.at >= within.start, t.c.at < within.end)
    if keys is not None:
        query = query.where(t.c.key.in_(list(keys)))
    patterns = [t.c.key.like(pattern) for pattern in like]
    if patterns:
        query = query.where(or_(*patterns))
    if consignments is not None:
        wanted = list(consignments)
        query = query.where(_told(connection, kind, "consignment", t, wanted, wanted))
    if grower is not None and kind in ("consignment", "block"):
        query = query.where(_told(connection, kind, "grower", t, [grower], [grower]))
    elif grower is not None:
        note, newer = cane_records.alias("note"), cane_records.alias("newer")
        own = select(note.c.consignment).where(
            note.c.kind == "consignment",
            _told(connection, "consignment", "grower", note, [grower], [grower]),
            ~select(newer.c.id).where(newer.c.replaces == note.c.id).exists(),
        )  # fmt: skip
        mine = connection.scalars(own).all() if _moved(connection, kind, "consignment") else ()
        query = query.where(_told(connection, kind, "consignment", t, own, mine))
    return [
        CaneRow(r.kind, r.key, r.at, r.consignment, r.grower, r.content,
                f"{r.name} row {r.row}", r.version)
        for r in connection.execute(query.order_by(t.c.at, t.c.key))
    ]  # fmt: skip


def _told(
    connection: Connection, kind: str, field: str, t: Any, values: Any, listed: Iterable[str]
) -> Any:
    """Whether a record's grower or consignment, as corrected, is one of `values`.

    `listed` are the same values as they are known here; they are asked for where a correction is.
    """
    said = and_(t.c[field] != literal_column("''"), t.c[field].in_(values))
    moved = _moved(connection, kind, field)
    if not moved:
        return said
    named = {name for name in listed if name}
    here = [subject for subject, name in moved.items() if name in named]
    return or_(and_(said, t.c.key.not_in(list(moved))), and_(t.c.kind == kind, t.c.key.in_(here)))


def _moved(connection: Connection, kind: str, field: str) -> dict[str, str]:
    """What persons corrected a field of some records to, by record; the newest counts."""
    c = cane_corrections.c
    query = select(c.subject, c.new).where(c.kind == kind, c.field == field).order_by(c.id)
    return {r.subject: r.new for r in connection.execute(query)}


def bins_of_tag(connection: Connection, tag: str, grower: str | None = None) -> list[CaneRow]:
    """Weighings of one bin, by time: their keys begin with the tag."""
    keys = keys_of(connection, "bin", f"{tag}@")
    return records(connection, "bin", grower=grower, keys=keys) if keys else []


def tips_of_tags(connection: Connection, tags: Iterable[str], within: Period) -> list[CaneRow]:
    """Tips of some bins within a period, by time."""
    wanted, t = set(tags), cane_records
    query = select(t.c.key).where(t.c.kind == "tip")
    if len(wanted) == 1:
        query = query.where(t.c.key.startswith(f"{next(iter(wanted))}@", autoescape=True))
    else:
        query = query.where(t.c.at >= within.start, t.c.at <= within.end)
    keys = [k for k in connection.scalars(query) if k.rpartition("@")[0] in wanted]
    found: list[CaneRow] = []
    for first in range(0, len(keys), _ASK):
        found += records(connection, "tip", within, keys=keys[first : first + _ASK])
    return found


def keys_of(connection: Connection, kind: str, begin: str) -> list[str]:
    """Keys of a kind's records that begin with a text."""
    t = cane_records
    query = select(t.c.key).where(t.c.kind == kind, t.c.key.startswith(begin, autoescape=True))
    # SQLite's LIKE takes capitals for small letters
    return list(dict.fromkeys(k for k in connection.scalars(query) if k.startswith(begin)))


def series_values(
    connection: Connection, series: str, start: int, end: int
) -> list[tuple[int, float, float | None, float | None]]:
    """Moments [ms] and values of a series, and its last moment before `start`."""
    t = cane_series
    before = connection.scalar(select(func.max(t.c.at)).where(t.c.series == series, t.c.at < start))
    low = start if before is None else before
    query = select(t.c.at, t.c.first, t.c.second, t.c.third).where(
        t.c.series == series, t.c.at >= low, t.c.at <= end
    )
    return [(r.at, r.first, r.second, r.third) for r in connection.execute(query.order_by(t.c.at))]


def series_names(connection: Connection) -> list[str]:
    """Names of all series."""
    return list(_every_name(connection))


def correct(connection: Connection, row: CorrectionRow) -> tuple[int, dict[str, Any]]:
    """Keep a correction; its number, and what the chain is to say of it."""
    if not row.why.strip():
        raise StoreError("a correction needs its reason")
    values = {"kind": row.kind, "subject": row.subject, "field": row.field, "old": row.old,
              "new": row.new, "who": row.who, "entered": row.when, "why": row.why}  # fmt: skip
    key = connection.execute(insert(cane_corrections).values(**values)).inserted_primary_key
    return key[0] if key else 0, {k: v for k, v in values.items() if k != "entered"}


def corrections(connection: Connection, after: int = 0) -> list[CorrectionRow]:
    """Corrections that came after an event, oldest first; all by default."""
    t = cane_corrections
    known = chain.count(connection, "correction", after) if after else 0  # one event for each
    return [
        CorrectionRow(r.kind, r.subject, r.field, r.old, r.new, r.who, r.entered, r.why)
        for r in connection.execute(select(t).order_by(t.c.id)).all()[known:]
    ]


def reasons(
    connection: Connection, consignments: Iterable[str], after: int
) -> list[tuple[str, str]]:
    """Consignments of records that files corrected after an event, with the reasons given."""
    wanted, t, found = list(consignments), cane_records, []
    known = chain.newest_file(connection, after)
    for first in range(0, len(wanted), _ASK):
        query = select(t.c.consignment, t.c.reason).where(
            t.c.consignment.in_(wanted[first : first + _ASK]), t.c.replaces.is_not(None),
            t.c.file > known,
        )  # fmt: skip
        found += [(r.consignment, r.reason) for r in connection.execute(query.order_by(t.c.id))]
    return found


def appended(connection: Connection, kinds: Iterable[str], event: int, within: Period) -> bool:
    """Whether records of some kinds within a time came in after an event."""
    t = cane_records
    since = select(files.c.id).where(files.c.id > chain.newest_file(connection, event))
    # through the few files that came since: a season has many traces
    query = select(t.c.id).where(
        t.c.file.in_(since), t.c.kind.in_(list(kinds)), t.c.at >= within.start, t.c.at < within.end
    )
    return connection.scalar(query.limit(1)) is not None


def first(connection: Connection, kind: str, start: datetime | None = None) -> datetime | None:
    """The first instant of a kind of record, from a moment on; None without any."""
    t = cane_records
    query = select(func.min(t.c.at)).where(t.c.kind == kind)
    found: datetime | None = connection.scalar(
        query if start is None else query.where(t.c.at >= start)
    )
    return found


def newest(connection: Connection, kind: str) -> datetime | None:
    """The newest instant of a kind of record; None without any."""
    t = cane_records
    found: datetime | None = connection.scalar(select(func.max(t.c.at)).where(t.c.kind == kind))
    return found


def files_about(connection: Connection, within: Period, series: Period) -> list[Any]:
    """What could change an answer: files with records within, or series values, corrections."""
    t, s = cane_records, cane_series
    low, high = (round(at.timestamp() * 1000) for at in (series.start, series.end))
    # a file and a kind at a time, through the index: a season has few files and many bins
    own = select(files.c.id).where(or_(*(
        select(t.c.id).where(t.c.file == files.c.id, t.c.kind == kind, t.c.at >= within.start,
                             t.c.at < within.end).exists()
        for kind in ("bin", "tip", "sample", "fibre", "consignment")
    )))  # fmt: skip
    undated = select(t.c.file).where(
        t.c.kind.in_(("block", "block season", "consignment", "harvest")), t.c.at.is_(None)
    )
    numbers = {*connection.scalars(own), *connection.scalars(undated)}
    for name in series_names(connection):
        few = select(s.c.file).where(s.c.series == name, s.c.at >= low, s.c.at < high).distinct()
        numbers |= set(connection.scalars(few))
    digests = connection.scalars(select(files.c.digest).where(files.c.id.in_(numbers)))
    return [sorted(digests), _corrections_about(connection, within)]


def _corrections_about(connection: Connection, within: Period) -> list[int]:
    """Corrections of records within, or of something without a time of its own."""
    t, c = cane_records, cane_corrections
    same = and_(t.c.kind == c.c.kind, t.c.key == c.c.subject)
    beside = and_(same, (t.c.at < within.start) | (t.c.at >= within.end))
    inside = and_(same, t.c.at >= within.start, t.c.at < within.end)
    # a correction may have moved a record from outside into the days, so both ends must be out
    query = select(c.c.id).where(
        select(t.c.id).where(inside).exists() | ~select(t.c.id).where(beside).exists()
    )
    return sorted(connection.scalars(query))


def _every_name(connection: Connection, last: str = "") -> Iterator[str]:
    """Names of series one by one through the index: a DISTINCT would read every moment."""
    t = cane_series
    while True:
        found = connection.scalar(select(func.min(t.c.series)).where(t.c.series > last))
        if found is None:
            return
        last = found
        yield last
