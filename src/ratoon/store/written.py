"""What people write by hand: notes of a shift, drafts of a form; and every version of a reading."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select

from ratoon.base.errors import StoreError
from ratoon.base.records import Decision, Period
from ratoon.store.chain import events as chain
from ratoon.store.chain.digest import digest
from ratoon.store.entries import place_of_row, record_of
from ratoon.store.records import Note, Version
from ratoon.store.tables import drafts, events, files, notes, readings, stops

MOST_DRAFT = 60_000
"""Longest draft kept [characters]."""


def add_note(
    connection: Connection, note: Note, at: datetime, who: str
) -> tuple[int, dict[str, Any]]:
    """Append a note; one that replaces another needs a reason and the one in force.

    Returns
    -------
    Its number, and what the event chain is to say.
    """
    if note.replaces is not None:
        later = select(notes.c.id).where(notes.c.replaces == note.replaces)
        if connection.scalar(select(notes.c.id).where(notes.c.id == note.replaces)) is None:
            raise StoreError("there is no such note", value=note.replaces)
        if connection.scalar(later) is not None:
            raise StoreError("this note was changed by somebody meanwhile", value=note.replaces,
                             todo="Open the page again")  # fmt: skip
    row = {
        "start": note.start, "end": note.end, "kind": note.kind, "station": note.station,
        "text": note.text, "who": who, "entered": at, "replaces": note.replaces,
        "reason": note.reason,
    }  # fmt: skip
    key = connection.execute(insert(notes).values(row)).inserted_primary_key
    number = key[0] if key else 0
    about = {"note": number, "of": note.kind, "replaces": note.replaces}
    return number, {**about, "stored": digest(row)}


def note_faults(connection: Connection, said: dict[int, dict[str, Any]]) -> list[str]:
    """Notes whose row is not what the event of their keeping says."""
    held = {row["id"]: dict(row) for row in connection.execute(select(notes)).mappings()}
    found = [f"note {n}: stands in the chain, is not there" for n in said.keys() - held.keys()]
    for number, row in held.items():
        del row["id"]
        if number not in said:
            found.append(f"note {number}: stored without an event in the chain")
        elif digest(row) != said[number]["stored"]:
            found.append(f"note {number}: was changed afterwards")
    return found


def notes_in(connection: Connection, period: Period) -> list[Note]:
    """All notes of a period with those they replace, oldest first."""
    rows = connection.execute(
        select(notes)
        .where(notes.c.start < period.end, notes.c.end > period.start)
        .order_by(notes.c.start, notes.c.id)
    ).all()
    replaced = {row.replaces for row in rows}
    return [
        Note(row.start, row.end, row.kind, row.station, row.text, row.replaces, row.reason,
             row.id, row.who, row.entered, row.id not in replaced)
        for row in rows
    ]  # fmt: skip


def notes_with(connection: Connection, words: Iterable[str]) -> list[Note]:
    """Notes in force that hold every word, whatever its case, the newest first."""
    later = notes.alias("later")
    query = select(notes).where(~select(later.c.id).where(later.c.replaces == notes.c.id).exists())
    for word in words:
        query = query.where(func.lower(notes.c.text).contains(word.lower(), autoescape=True))
    rows = connection.execute(query.order_by(notes.c.start.desc(), notes.c.id.desc()))
    return [Note(row.start, row.end, row.kind, row.station, row.text, row.replaces, row.reason,
                 row.id, row.who, row.entered) for row in rows]  # fmt: skip


DECIDED = "reading decided"
"""The event of a person's word on a reading."""


def decisions_in(connection: Connection, period: Period, after: int = 0) -> list[Decision]:
    """What people said of readings of a period in events after one, the last word of each."""
    query = select(events).where(events.c.what == DECIDED, events.c.number > after)
    found: dict[tuple[datetime, str], Decision] = {}
    for row in connection.execute(query.order_by(events.c.number)):
        said = json.loads(row.detail)["about"]
        start, end = (datetime.fromisoformat(said[name]) for name in ("start", "end"))
        if period.start <= start < period.end:
            found[start, said["address"]] = Decision(
                start, end, said["address"], said["set_aside"], said["why"], row.who
            )
    return list(found.values())


def told_of(one: Decision) -> dict[str, Any]:
    """What the event of a person's word on a reading says."""
    return {"address": one.address, "start": one.start.isoformat(), "end": one.end.isoformat(),
            "set_aside": one.set_aside, "why": one.why}  # fmt: skip


def keep_draft(connection: Connection, who: str, form: str, text: str, at: datetime) -> None:
    """Keep what somebody has typed into a form; an empty text takes the draft away.

    Raises
    ------
    StoreError : a text too long to be a form's.
    """
    if len(text) > MOST_DRAFT:
        raise StoreError("the draft is too long", value=len(text), allowed=f"{MOST_DRAFT} letters")
    mine = (drafts.c.who == who) & (drafts.c.form == form)
    connection.execute(delete(drafts).where(mine))
    if text:
        connection.execute(insert(drafts).values(who=who, form=form, text=text, saved=at))


def draft_of(connection: Connection, who: str, form: str) -> tuple[str, datetime] | None:
    """What somebody has typed into a form and not sent, and when it was kept."""
    row = connection.execute(
        select(drafts.c.text, drafts.c.saved).where(drafts.c.who == who, drafts.c.form == form)
    ).first()
    return None if row is None else (row.text, row.saved)


def forget_drafts(connection: Connection, who: str) -> None:
    """Take away all that somebody has typed and not sent."""
    connection.execute(delete(drafts).where(drafts.c.who == who))


def reading_versions(
    connection: Connection, addresses: Iterable[str], period: Period
) -> list[Version]:
    """Every row of some addresses within a period with those replaced, in order of time."""
    last = func.coalesce(readings.c.end, readings.c.start)
    query = (
        select(readings, files.c.name)
        .join(files, readings.c.file == files.c.id)
        .where(readings.c.address.in_(list(addresses)), readings.c.start >= period.start,
               readings.c.start <= period.end, last <= period.end)
        .order_by(readings.c.start, readings.c.address, readings.c.version)
    )  # fmt: skip
    return _versions(connection, connection.execute(query).all(), readings)


def stop_versions(connection: Connection, period: Period) -> list[Version]:
    """Every row of the stops that touch a period, those replaced too."""
    query = (
        select(stops, files.c.name)
        .join(files, stops.c.file == files.c.id)
        .where(stops.c.start < period.end, stops.c.start >= period.start)
        .order_by(stops.c.start, stops.c.station, stops.c.version)
    )
    return _versions(connection, connection.execute(query).all(), stops)


def _versions(connection: Connection, rows: Any, table: Any) -> list[Version]:
    newer = select(table.c.replaces).where(table.c.replaces.is_not(None))
    replaced = set(connection.scalars(newer))
    people = chain.importers(connection)
    return [
        Version(
            record=record_of(row),
            number=row.id,
            version=row.version,
            in_force=row.id not in replaced,
            place=place_of_row(row),
            entered=row.entered,
            who=people.get(row.file, ""),
            reason=row.reason,
        )
        for row in rows
    ]
