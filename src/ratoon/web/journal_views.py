"""Addresses of the journal: read it, add and correct stops and notes, account the day again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date as date_type
from datetime import timedelta
from typing import Annotated, Any

from fastapi import FastAPI, Form
from fastapi.responses import RedirectResponse, Response

from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.records import Period, Stop
from ratoon.reports.ribbon import ribbon_drawing
from ratoon.web.cause_drawing import cause_drawing
from ratoon.web.days import DayPlace, entry_place
from ratoon.web.journal import JournalPage, journal_page
from ratoon.web.shared import Format, Pages
from ratoon.web.visit import who

Text = Annotated[str, Form(max_length=4000)]
Short = Annotated[str, Form(max_length=300)]
BEFORE = timedelta(days=2)  # a stop that began earlier and still lasts is shown too


class Journal:
    """Reads and writes the journal of a mill."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages

    def page(
        self, place: DayPlace, line: str = "", refused: tuple[str, ...] = (),
        typed: Mapping[str, str] | None = None,
    ) -> JournalPage:  # fmt: skip
        """The journal of a day as it stands."""
        mill = self._pages.history.mill
        period = mill.calendar.period(date_type.fromisoformat(place.date))
        store = self._pages.store()
        begun = store.stop_versions(Period(period.start - BEFORE, period.end))
        stops = [v for v in begun if _last_end(begun, v) > period.start]
        return journal_page(mill, self._pages.history.days(), place, stops, store.notes(period),
                            line, refused, typed)  # fmt: skip

    def add_stop(self, form: Mapping[str, str], reason: str) -> tuple[str, ...]:
        """Keep a stop, or correct one with a reason; gives what was refused, in words."""
        from ratoon.jobs.typed import enter

        done = enter(self._pages.store(), self._pages.history.mill, "stops", [form], who(),
                     "journal", reason)  # fmt: skip
        return tuple(f"{r.column}: {r.value} {r.reason}".replace("  ", " ") for r in done.refused)

    def withdraw(self, form: Mapping[str, str], reason: str) -> None:
        """Take a stop back: it stays to be seen, with no length."""
        from ratoon.jobs.typed import withdraw_stop

        if not reason.strip():
            raise BadInput("a stop is withdrawn with a reason", where="reason",
                           todo="Write why it never was.")  # fmt: skip
        calendar = self._pages.history.mill.calendar
        start, end = (calendar.to_utc(_local(form[k])) for k in ("start", "end"))
        stop = Stop(start, end, form["station"], form["cause"], form["note"])
        withdraw_stop(self._pages.store(), stop, who(), "journal", reason)

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
        with self._pages.store().writing(who()) as transaction:
            transaction.add_note(note)


def _local(text: str) -> Any:
    from datetime import datetime

    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise BadInput("is not a time", where="start", value=text[:40]) from None


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
                            ribbon=ribbon_drawing(page.ribbon),
                            causes=cause_drawing(page.causes, page.looking_back))  # fmt: skip

    def place_of(date: str) -> DayPlace:
        return entry_place(date, list(pages.history.days()))

    @app.api_route("/journal/{date}", methods=["GET", "HEAD"])
    def read(date: str, format: Format = None) -> Response:
        return shown(format, journal.page(place_of(date)))

    @app.post("/journal/{date}/stops")
    def stop(
        date: str, start: Short = "", end: Short = "", station: Short = "", cause: Short = "",
        note: Text = "", reason: Short = "", act: Short = "keep", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        form = {"start": start, "end": end, "station": station, "cause": cause, "note": note}
        try:
            if act == "withdraw":
                journal.withdraw(form, reason)
                refused: tuple[str, ...] = ()
            else:
                refused = journal.add_stop(form, reason)
        except RatoonError as error:
            refused = (str(error),)
        if refused:
            page = journal.page(place, "Not kept:", refused, form | {"reason": reason})
            return shown(format, page, 422)
        return RedirectResponse(f"/journal/{place.date}", 303)

    @app.post("/journal/{date}/notes")
    def note(
        date: str, shift: Short = "", kind: Short = "note", station: Short = "", text: Text = "",
        reason: Short = "", replaces: Short = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        form = {"shift": shift, "kind": kind, "station": station, "text": text, "reason": reason}
        try:
            journal.add_note(place, form, int(replaces) if replaces.isdecimal() else None)
        except RatoonError as error:
            page = journal.page(place, "Not kept:", (str(error),), form)
            return shown(format, page, 422)
        return RedirectResponse(f"/journal/{place.date}", 303)


def add_accounting(app: FastAPI, pages: Pages) -> None:
    """Account a day anew after something was entered; a worker does it."""

    @app.post("/account/{date}")
    def again(date: str) -> Response:
        from ratoon.jobs.typed import account_again

        place = entry_place(date, list(pages.history.days()))
        pages.pool.call(account_again, str(pages.mill_dir), place.date)
        return RedirectResponse(f"/account/{place.date}", 303)
