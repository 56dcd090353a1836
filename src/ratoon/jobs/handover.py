"""The handover of a shift to the next: who has read it, and what people themselves are to do.

A handover is a note of its shift. That somebody read it is an event with their name, which nothing
takes out again; who wrote it does not read it for the next shift.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput
from ratoon.base.records import RUNNING, Period
from ratoon.store.chain import events as chain
from ratoon.store.written import notes_in

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from ratoon.base.clock import Calendar
    from ratoon.store import Note, Store

READ = "handover read"
HANDOVER = "handover"
BACK = timedelta(days=2)
"""How long a handover not yet acknowledged is shown to the shifts that follow."""
LONGEST_NAME = 120


@dataclass(frozen=True, slots=True)
class Handover:
    """What a shift hands over: its words, by whom, and who has read it when."""

    number: int
    date: str
    shift: str
    station: str
    text: str
    who: str
    entered: str
    read: tuple[tuple[str, str], ...]


def handovers(store: Store, calendar: Calendar, period: Period) -> list[Handover]:
    """Handovers of a mill day's shifts, and those before it not yet acknowledged, newest first."""
    wide = Period(period.start - BACK, period.end)
    notes, read = store.ask(_told, wide)
    found = []
    for note in notes:
        names = tuple((name, f"{calendar.to_local(at):%Y-%m-%d %H:%M}")
                      for number, name, at in read if number == note.number)  # fmt: skip
        if note.start < period.start and names:
            continue
        day = calendar.day_of(note.start)
        shift = next((s.name for s, p in calendar.shift_periods(day) if p.start == note.start), "")
        at = f"{calendar.to_local(note.entered):%Y-%m-%d %H:%M}" if note.entered else ""
        found.append(Handover(note.number, day.isoformat(), shift, note.station, note.text,
                              note.who, at, names))  # fmt: skip
    return found[::-1]


def _told(
    connection: Connection, wide: Period
) -> tuple[list[Note], list[tuple[int, str, datetime]]]:
    notes = [n for n in notes_in(connection, wide) if n.in_force and n.kind == HANDOVER]
    if not notes:
        return [], []
    read = [(e.detail["about"]["note"], e.detail["about"]["by"], e.at)
            for e in chain.of_kind(connection, READ)]  # fmt: skip
    return notes, read


def read_handover(store: Store, number: int | None, name: str, login: str) -> None:
    """Record that a person has read a handover.

    Raises
    ------
    BadInput : no name, no such handover, or one that they wrote or have read.
    """
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME:
        raise BadInput("who has read it must be told", where="name",
                       allowed=f"1 to {LONGEST_NAME} letters")  # fmt: skip
    always = Period(datetime(1, 1, 2, tzinfo=UTC), RUNNING)
    notes, read = store.ask(_told, always)
    note = next((n for n in notes if n.number == number), None)
    if note is None:
        raise BadInput("there is no such handover, or it was changed meanwhile", where="handover",
                       todo="Open the page again.")  # fmt: skip
    if note.who and note.who in (login, name):
        raise BadInput("it is acknowledged by the next shift, not by who wrote it", where="name",
                       value=name)  # fmt: skip
    if (note.number, name) not in [(n, by) for n, by, _ in read]:
        with store.writing(login or name) as transaction:
            transaction.add_event(READ, {"note": note.number, "by": name})
