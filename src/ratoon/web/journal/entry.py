"""What is written into the journal, and its page as it stands: stops, notes, handovers, jobs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date as date_type
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from ratoon.base.errors import BadInput
from ratoon.base.records import RUNNING, Period, Stop
from ratoon.base.words import capital, sentence
from ratoon.jobs.files.typed_stops import NOT_KNOWN, TypedStop, now_at
from ratoon.store.entries import stops_in
from ratoon.store.written import notes_in, stop_versions
from ratoon.web.days import DayPlace
from ratoon.web.door.visit import visitor, who
from ratoon.web.journal.page import JournalPage, journal_page, key_of
from ratoon.web.shared import Pages

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.jobs.handover import Handover
    from ratoon.jobs.sheet.actions import JobRecord
    from ratoon.store import Note, Version

BEFORE = timedelta(days=2)  # a stop that began earlier and still lasts is shown too


@dataclass(frozen=True, slots=True)
class Kept:
    """A stop just kept: its key, the day on whose page it was typed if another, or no change."""

    key: str
    typed_on: str = ""
    unchanged: bool = False

    def word(self, withdrawn: bool) -> str:
        """What became of it."""
        if self.unchanged:
            return "Nothing is changed, it stood already"
        return "Withdrawn" if withdrawn else "Kept"


class Journal:
    """Reads and writes the journal of a mill."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages

    def page(
        self, place: DayPlace, line: str = "", refused: Sequence[str] = (),
        typed: Mapping[str, str] | None = None, asked: Sequence[str] = (),
        kept: Kept | None = None,
    ) -> JournalPage:  # fmt: skip
        """The journal of a day as it stands; `kept` names a stop just kept."""
        mill = self._pages.history.mill
        period = mill.calendar.period(date_type.fromisoformat(place.date))
        begun, notes = self._written(period)
        stops = [v for v in begun if _last_end(begun, v) > period.start]
        page = journal_page(mill, self._pages.history.days(), place, stops, notes, *self._season(
            period), line, refused, typed, asked)  # fmt: skip
        return page if kept is None else replace(page, told=self._told(page, kept))

    def _written(self, period: Period) -> tuple[list[Version], list[Note]]:
        """Stops that touch a day, with what stood before them, and notes; none without records."""
        store = self._pages.door.store()
        if store is None:
            return [], []
        earliest = min((s.start for s in store.ask(stops_in, period)), default=period.start)
        since = min(earliest, period.start - BEFORE)
        return store.ask(stop_versions, Period(since, period.end)), store.ask(notes_in, period)

    def _season(self, period: Period) -> tuple[list[Stop], list[Handover], list[JobRecord]]:
        """Stops of the season to a day's end, what its shifts were handed, and jobs to be done."""
        from ratoon.jobs.handover import handovers
        from ratoon.jobs.sheet.actions import list_jobs

        store, mill = self._pages.door.store(), self._pages.history.mill
        if store is None:
            return [], [], []
        day = mill.calendar.day_of(period.start)
        first = mill.calendar.period(mill.calendar.first_of_season(day)).start
        return (store.ask(stops_in, Period(min(first, period.start), period.end)),
                handovers(store, mill.calendar, period),
                list_jobs(self._pages.history.opened))  # fmt: skip

    def _told(self, page: JournalPage, kept: Kept) -> tuple[str, ...]:
        """What is to be said of a stop just kept, from the records as they stand."""
        from ratoon.jobs.files.stops import judge

        row = next((s for s in page.stops if s.key == kept.key), None)
        if row is None:
            return ()
        lasted = f"to {row.end.replace('T', ' ')}, {row.length}" if row.end else "running"
        lines = [f"{kept.word(row.withdrawn)}: {row.station}, {row.start.replace('T', ' ')} "
                f"{lasted}, {row.cause}."]  # fmt: skip
        if kept.typed_on:
            lines.append(f"It begins on this mill day, {page.place.date}, and is kept here; it was "
                        f"typed on the page of {kept.typed_on}.")  # fmt: skip
        if not row.withdrawn:
            mill = self._pages.history.mill
            start = mill.calendar.read(row.start)
            end = RUNNING if row.running else mill.calendar.read(row.end)
            stop = Stop(start, end, row.station, row.cause)
            odd = judge(mill, self._pages.store(), stop, mill.calendar.day_of(start),
                        before_it=True).odd  # fmt: skip
            lines.extend(sentence(capital(o)) for o in odd)
        if not kept.unchanged:
            lines.append("It counts once the day is accounted again.")
        return tuple(lines)

    def add_stop(
        self, place: DayPlace, form: Mapping[str, str], act: str, reason: str, sure: bool,
        seen: int | None,
    ) -> TypedStop:  # fmt: skip
        """Keep a stop, begin one, end one, or correct one with a reason.

        `seen`: the row that was on the page. Where no time is told, a stop begins or ends now.
        """
        from ratoon.jobs.files.typed_stops import enter_stop, standing_stop

        store, mill, row = self._pages.door.begin(), self._pages.history.mill, dict(form)
        page_day, was = date_type.fromisoformat(place.date), None
        if act == "begin":
            row["end"] = ""
            if not row["start"].strip():
                row["start"] = now_at(mill, store, "start")
                page_day = mill.calendar.day_of(_at(mill.calendar, row["start"], "start"))
            row["station"], row["cause"] = row["station"] or "mills", row["cause"] or NOT_KNOWN
        elif act == "end":
            row["end"] = row["end"].strip() or now_at(mill, store, "end")
        elif form["was_start"]:
            start = _at(mill.calendar, form["was_start"], "start")
            was = standing_stop(store, start, form["was_station"])
        if not row["end"] and act != "begin" and not (was and was.running):
            return TypedStop(refused=["end: empty; a stop that is still running is begun with the "
                                      "button for it"])  # fmt: skip
        return enter_stop(store, mill, row, who(), page_day, reason, sure or act == "end", seen,
                          was)  # fmt: skip

    def kept_at(self, stop: Stop, typed: TypedStop, typed_on: str) -> str:
        """The address that shows a stop where it is kept, and says so."""
        day = self._pages.history.mill.calendar.day_of(stop.start).isoformat()
        asked = {"kept": key_of(stop.start, stop.station)}
        if day != typed_on:
            asked["typed_on"] = typed_on
        if typed.unchanged:
            asked["unchanged"] = "yes"
        return f"/journal/{day}?{urlencode(asked)}"

    def withdraw(self, form: Mapping[str, str], reason: str, seen: int | None) -> TypedStop:
        """Take a stop back: it stays to be seen, with no length."""
        from ratoon.jobs.files.typed_stops import withdraw_stop

        if not reason.strip():
            raise BadInput("a stop is withdrawn with a reason", where="reason",
                           todo="Write why it never was.")  # fmt: skip
        calendar = self._pages.history.mill.calendar
        start, end = (_at(calendar, form[k], k) if form[k] else RUNNING for k in ("start", "end"))
        stop = Stop(start, end, form["station"], form["cause"], form["note"])
        return withdraw_stop(self._pages.store(), stop, who(), reason, seen)

    def add_note(self, place: DayPlace, form: Mapping[str, str], replaces: int | None) -> None:
        """Keep a note of a shift, or one in place of another."""
        from ratoon.store import Note

        if not form["text"].strip():
            raise BadInput("the note is empty", where="text", todo="Write the note first.")
        if replaces is not None and not form["reason"].strip():
            raise BadInput("a note is changed with a reason", where="reason",
                           todo="Write why it is changed.")  # fmt: skip
        calendar = self._pages.history.mill.calendar
        shifts = calendar.shift_periods(date_type.fromisoformat(place.date))
        found = [p for s, p in shifts if s.name == form["shift"]]
        if not found:
            known = ", ".join(s.name for s, _ in shifts)
            raise BadInput("no such shift", where="shift", value=form["shift"], allowed=known)
        kind = form["kind"] if form["kind"] in ("note", "handover") else "note"
        note = Note(found[0].start, found[0].end, kind, form["station"], form["text"].strip(),
                    replaces, form["reason"].strip())  # fmt: skip
        with self._pages.door.begin().writing(who()) as transaction:
            transaction.add_note(note)

    def read_handover(self, number: str, name: str) -> None:
        """Record who has read a handover: the person signed in, or the name that is told."""
        from ratoon.jobs.handover import read_handover

        read_handover(self._pages.store(), number_of(number) or 0, visitor().name or name, who())

    def act_on(self, form: Mapping[str, str]) -> None:
        """Set a job of a person's own, or record that one was done."""
        from ratoon.jobs.sheet.actions import mark_done, set_job

        self._pages.door.begin()
        opened, by = self._pages.history.opened, visitor().name or form["by"]
        if form["done"]:
            mark_done(opened, form["done"], by, form["note"])
        else:
            set_job(opened, form["what"], form["person"], form["due"], form["where"], who() or by)


def _at(calendar: Calendar, text: str, where: str) -> datetime:
    try:
        return calendar.read(text)
    except BadInput as error:
        raise BadInput(error.what, where=where, value=text[:40], todo=error.todo,
                       allowed="local time, such as 2031-08-14T06:00") from None  # fmt: skip


def number_of(text: str) -> int | None:
    """The number of a row that a form brings back; None when it brings none."""
    return int(text) if text.isdecimal() and len(text) <= 15 else None


def _last_end(versions: Any, of: Any) -> Any:
    same = [
        v.record.end
        for v in versions
        if (v.record.start, v.record.station) == (of.record.start, of.record.station)
    ]
    return max(same)
