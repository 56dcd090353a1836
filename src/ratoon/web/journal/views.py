"""Addresses of the journal: read it, add and correct stops and notes, account the day again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date as date_type
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import urlencode

from fastapi import FastAPI, Form, Query
from fastapi.responses import RedirectResponse, Response

from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.records import Period, Stop
from ratoon.base.words import capital, sentence
from ratoon.jobs.files.typed import TypedStop
from ratoon.reports.ribbon import ribbon_drawing
from ratoon.store.entries import stops_in
from ratoon.store.written import notes_in, stop_versions
from ratoon.web.days import DayPlace, entry_place
from ratoon.web.door.visit import who
from ratoon.web.journal.cause_drawing import cause_drawing
from ratoon.web.journal.page import JournalPage, journal_page, key_of
from ratoon.web.shared import ACCOUNT_SECONDS, Format, Pages, get

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.store import Note, Version

Text = Annotated[str, Form(max_length=4000)]
Short = Annotated[str, Form(max_length=300)]
Word = Annotated[str, Query(max_length=300)]
Day = Annotated[str, Query(pattern=r"^(\d{4}-\d{2}-\d{2})?$")]
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
        page = journal_page(mill, self._pages.history.days(), place, stops, notes, line,
                            refused, typed, asked)  # fmt: skip
        return page if kept is None else replace(page, told=self._told(page, kept))

    def _written(self, period: Period) -> tuple[list[Version], list[Note]]:
        """Stops that touch a day, with what stood before them, and notes; none without records."""
        store = self._pages.door.store()
        if store is None:
            return [], []
        earliest = min((s.start for s in store.ask(stops_in, period)), default=period.start)
        since = min(earliest, period.start - BEFORE)
        return store.ask(stop_versions, Period(since, period.end)), store.ask(notes_in, period)

    def _told(self, page: JournalPage, kept: Kept) -> tuple[str, ...]:
        """What is to be said of a stop just kept, from the records as they stand."""
        from ratoon.jobs.files.stops import judge

        row = next((s for s in page.stops if s.key == kept.key), None)
        if row is None:
            return ()
        lines = [f"{kept.word(row.withdrawn)}: {row.station}, {row.start.replace('T', ' ')} to "
                f"{row.end.replace('T', ' ')}, {row.length}, {row.cause}."]  # fmt: skip
        if kept.typed_on:
            lines.append(f"It begins on this mill day, {page.place.date}, and is kept here; it was "
                        f"typed on the page of {kept.typed_on}.")  # fmt: skip
        if not row.withdrawn:
            mill = self._pages.history.mill
            start, end = (mill.calendar.read(t) for t in (row.start, row.end))
            stop = Stop(start, end, row.station, row.cause)
            odd = judge(mill, self._pages.store(), stop, mill.calendar.day_of(start),
                        before_it=True).odd  # fmt: skip
            lines.extend(_sentence(o) for o in odd)
        if not kept.unchanged:
            lines.append("It counts once the day is accounted again.")
        return tuple(lines)

    def add_stop(
        self, place: DayPlace, form: Mapping[str, str], reason: str, sure: bool, seen: int | None
    ) -> TypedStop:
        """Keep a stop, or correct one with a reason; `seen`: the row that was on the page."""
        from ratoon.jobs.files.typed import enter_stop

        return enter_stop(self._pages.door.begin(), self._pages.history.mill, form, who(),
                          date_type.fromisoformat(place.date), reason, sure, seen)  # fmt: skip

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
        from ratoon.jobs.files.typed import withdraw_stop

        if not reason.strip():
            raise BadInput("a stop is withdrawn with a reason", where="reason",
                           todo="Write why it never was.")  # fmt: skip
        calendar = self._pages.history.mill.calendar
        start, end = (_at(calendar, form[k], k) for k in ("start", "end"))
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


def _at(calendar: Calendar, text: str, where: str) -> datetime:
    try:
        return calendar.read(text)
    except BadInput as error:
        raise BadInput(error.what, where=where, value=text[:40], todo=error.todo,
                       allowed="local time, such as 2031-08-14T06:00") from None  # fmt: skip


def _number(text: str) -> int | None:
    """The number of a row that a form brings back; None when it brings none."""
    return int(text) if text.isdecimal() and len(text) <= 15 else None


def _sentence(text: str) -> str:
    return sentence(capital(text))


def _last_end(versions: Any, of: Any) -> Any:
    same = [
        v.record.end
        for v in versions
        if (v.record.start, v.record.station) == (of.record.start, of.record.station)
    ]
    return max(same)


def add_journal(app: FastAPI, pages: Pages) -> None:
    """The journal."""
    pages.by_day.add("journal")
    pages.any_day.add("journal")
    journal = Journal(pages)

    def shown(form: Format, page: JournalPage, status: int = 200) -> Response:
        return pages.answer(form, page, "journal_page.html", "Journal", page.place.date, status,
                            ribbon=ribbon_drawing(page.ribbon, width=940.0),
                            causes=cause_drawing(page.causes, page.looking_back))  # fmt: skip

    def place_of(date: str) -> DayPlace:
        return entry_place(date, list(pages.history.days()))

    @get(app, "/journal/{date}", JournalPage)
    def read(
        date: str, kept: Word = "", typed_on: Day = "", unchanged: Word = "",
        format: Format = None,
    ) -> Response:  # fmt: skip
        just_kept = Kept(kept, typed_on, bool(unchanged)) if kept else None
        return shown(format, journal.page(place_of(date), kept=just_kept))

    @app.post("/journal/{date}/stops")
    def stop(
        date: str, start: Short = "", end: Short = "", station: Short = "", cause: Short = "",
        note: Text = "", reason: Short = "", act: Short = "keep", sure: Short = "",
        seen: Short = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        form = {"start": start, "end": end, "station": station, "cause": cause, "note": note}
        try:
            if act == "withdraw":
                typed = journal.withdraw(form, reason, _number(seen))
            else:
                typed = journal.add_stop(place, form, reason, sure == "yes", _number(seen))
        except RatoonError as error:
            typed = TypedStop(refused=[str(error)])
        if typed.stop is None:
            line = (
                "Not kept:" if typed.refused else "Not kept yet: say that it is so, or correct it"
            )
            asked = [_sentence(t) for t in (*typed.asked, *typed.odd)] if typed.asked else []
            page = journal.page(place, line, typed.refused, form | {"reason": reason}, asked)
            return shown(format, page, 422)
        return RedirectResponse(journal.kept_at(typed.stop, typed, place.date), 303)

    @app.post("/journal/{date}/notes")
    def note(
        date: str, shift: Short = "", kind: Short = "note", station: Short = "", text: Text = "",
        reason: Short = "", replaces: Short = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        form = {"shift": shift, "kind": kind, "station": station, "text": text, "reason": reason}
        try:
            number = _number(replaces)
            if replaces and number is None:
                raise BadInput("is not the number of a note", where="replaces",
                               value=replaces[:40], todo="Open the page again.")  # fmt: skip
            journal.add_note(place, form, number)
        except RatoonError as error:
            page = journal.page(place, "Not kept:", (str(error),), form)
            return shown(format, page, 422)
        return RedirectResponse(f"/journal/{place.date}", 303)


def add_accounting(app: FastAPI, pages: Pages) -> None:
    """Account a day anew after something was entered; a worker does it."""

    @app.post("/account/{date}")
    def again(date: str) -> Response:
        from ratoon.jobs.mills import in_mill
        from ratoon.jobs.season.forecast import keep_week
        from ratoon.jobs.sheet.day import account_day

        place = entry_place(date, list(pages.history.days()))
        day = date_type.fromisoformat(place.date)
        pages.pool.call(in_mill, pages.mill_dir, account_day, day, limit=ACCOUNT_SECONDS)
        pages.pool.warm(in_mill, pages.mill_dir, keep_week, day)  # nobody waits for it
        return RedirectResponse(f"/account/{place.date}", 303)
