"""Stops that people type: begun and ended with a button, corrected in all they say, taken back.

A stop is one by its start and its station. Another end or cause is a new row in its place; another
start or station is a new stop, and the old one is withdrawn in the same transaction. Nothing is
overwritten: the page shows all that stood before.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput
from ratoon.base.records import PART, RUNNING, Period, Stop
from ratoon.jobs.files.stops import clock_of, judge
from ratoon.jobs.files.typed import Entered, Row, store_typed
from ratoon.store.written import stop_versions

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store

NOT_KNOWN = "not known yet"
"""The cause of a stop that has just begun."""
ENDED = "ended"
"""The reason of the row that gives a running stop its end."""


@dataclass(slots=True)
class TypedStop:
    """What became of a typed stop: kept as `stop`, or refused, or kept only if it is meant so."""

    stop: Stop | None = None
    refused: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)
    unchanged: bool = False


def enter_stop(
    store: Store, mill: Mill, row: Row, who: str, page_day: date, reason: str, sure: bool,
    seen: int | None = None, was: Stop | None = None,
) -> TypedStop:  # fmt: skip
    """Store a typed stop, once it is known that it can be and that it is meant.

    Parameters
    ----------
    row : start, end, station, cause, equipment, fault, note; a stop without an end is running.
    page_day : the mill day on whose page it was typed. sure : the person says that it is so.
    was : the stop in whose place it comes, which had another start or station.
    """
    from ratoon.importers.records import CellRefused
    from ratoon.store import Entry

    try:
        read = _read(mill, row)
    except CellRefused as refused:
        value = "" if refused.value is None else str(refused.value)
        return TypedStop(refused=[f"{refused.column}: {value} {refused.reason}".replace("  ", " ")])
    moved = was is not None and (was.start, was.station) != (read.start, read.station)
    judged = judge(mill, store, read, page_day, instead_of=was if moved else None)
    if moved and not reason.strip():
        judged.refused.append("reason: a stop is moved with a reason: write why")
    if judged.refused or (judged.to_ask and not sure):
        return TypedStop(refused=judged.refused, asked=judged.to_ask, odd=judged.odd)
    entries = [Entry(judged.stop, 1)]
    if moved and was is not None:
        if _standing(store, judged.stop) is not None:
            return TypedStop(refused=["start: another stop is on record at that time and station; "
                                      "correct that one"])  # fmt: skip
        entries.append(Entry(_without_length(store, was), 2))
        local = mill.calendar.written(judged.stop.start).replace("T", " ")
        reason = f"{reason.strip()}: written at {local}, {judged.stop.station}"
    elif (old := _standing(store, judged.stop)) and old.running and not judged.stop.running:
        reason = reason or ENDED
    done = Entered()
    store_typed(store, entries, who, "journal", reason, done, "stops", seen)
    lines = _as_lines(done)
    if done.unchanged and not reason:
        lines += _note_not_kept(store, judged.stop)
    if lines:
        return TypedStop(refused=lines)
    return TypedStop(judged.stop, odd=judged.odd, unchanged=bool(done.unchanged))


def now_at(mill: Mill, store: Store, where: str) -> str:
    """The minute that is now, as a person of this mill writes it.

    Raises
    ------
    BadInput : this machine's clock does not tell this mill's time.
    """
    now = clock_of(mill, store, None)
    if now is None:
        raise BadInput("this machine's clock does not tell the time of this mill's readings",
                       where=where, todo="Write the time.")  # fmt: skip
    return mill.calendar.written(now.replace(second=0, microsecond=0))


def withdraw_stop(
    store: Store, stop: Stop, who: str, reason: str, seen: int | None = None
) -> TypedStop:
    """Say that a stop never was: it is corrected to no length at all, and stays to be seen.

    Raises
    ------
    BadInput : there is no such stop.
    """
    from ratoon.store import Entry

    done = Entered()
    store_typed(
        store, [Entry(_without_length(store, stop), 1)], who, "journal", reason, done, "stops", seen
    )
    if done.refused:
        return TypedStop(refused=_as_lines(done))
    return TypedStop(stop, unchanged=bool(done.unchanged))


def standing_stop(store: Store, start: datetime, station: str) -> Stop:
    """The stop in force of a start and a station.

    Raises
    ------
    BadInput : there is no such stop.
    """
    found = _standing(store, Stop(start, start, station, ""))
    if found is None:
        raise BadInput("no stop of this start and station is written down", where="start",
                       value=f"{start:%Y-%m-%dT%H:%MZ} {station}"[:80],
                       todo="Open the page again.")  # fmt: skip
    return found


def _without_length(store: Store, stop: Stop) -> Stop:
    old = standing_stop(store, stop.start, stop.station)
    return replace(old, end=old.start)


def _read(mill: Mill, row: Row) -> Stop:
    """The stop that the boxes hold, by the rules of a file's rows."""
    from ratoon.importers.layouts import STOPS
    from ratoon.importers.rows import Meaning, understand

    whole = {name: row.get(name, "") for name in STOPS.names}
    below = [" ".join(row.get(name, "").split()) for name in ("equipment", "fault")]
    if any(below):
        whole["cause"] = PART.join([whole["cause"].strip(), *below]).removesuffix(PART)
    running = not whole["end"].strip()
    if running:
        whole["end"] = _later(mill, whole["start"])
    read = understand(STOPS, whole, ".", Meaning(mill.addresses, mill.calendar))
    assert isinstance(read, Stop)
    return replace(read, end=RUNNING) if running else read


def _later(mill: Mill, start: str) -> str:
    """A time after a start, so that the row of a running stop can be read; "" after none."""
    try:
        return mill.calendar.written(mill.calendar.read(start) + timedelta(minutes=1))
    except BadInput:
        return ""  # the start is refused in its own words


def _as_lines(done: Entered) -> list[str]:
    return [f"{r.column}: {r.value} {r.reason}".replace("  ", " ") for r in done.refused]


def _note_not_kept(store: Store, stop: Stop) -> list[str]:
    """A stop that stands was typed again with another note: the note is a correction."""
    stands = _standing(store, stop)
    if stands is None or stop.note in ("", stands.note):
        return []
    return [f"note: this stop stands already, with the note {stands.note[:60]!r}. To change the "
            "note, write the reason for the correction"]  # fmt: skip


def _standing(store: Store, stop: Stop) -> Stop | None:
    """The row in force of a stop's start and station."""
    found = store.ask(stop_versions, Period(stop.start, stop.start + timedelta(seconds=1)))
    rows = [v.record for v in found if v.in_force and isinstance(v.record, Stop)]
    return next((r for r in rows if (r.start, r.station) == (stop.start, stop.station)), None)
