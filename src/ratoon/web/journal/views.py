"""Addresses of the journal: read it, add and correct stops and notes, account the day again."""

from __future__ import annotations

from datetime import date as date_type
from typing import Annotated

from fastapi import FastAPI, Form, Query
from fastapi.responses import RedirectResponse, Response

from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.words import capital, sentence
from ratoon.jobs.files.typed_stops import TypedStop
from ratoon.reports.ribbon import ribbon_drawing
from ratoon.web.days import DayPlace, entry_place
from ratoon.web.journal.cause_drawing import cause_drawing
from ratoon.web.journal.entry import Journal, Kept, number_of
from ratoon.web.journal.page import JournalPage
from ratoon.web.shared import Format, Pages, get

Text = Annotated[str, Form(max_length=4000)]
Short = Annotated[str, Form(max_length=300)]
Word = Annotated[str, Query(max_length=300)]
Day = Annotated[str, Query(pattern=r"^(\d{4}-\d{2}-\d{2})?$")]


def _sentence(text: str) -> str:
    return sentence(capital(text))


def add_journal(app: FastAPI, pages: Pages) -> None:
    """The journal."""
    pages.by_day.add("journal")
    pages.any_day.add("journal")
    journal = Journal(pages)

    def shown(form: Format, page: JournalPage, status: int = 200) -> Response:
        answer = pages.answer(form, page, "journal_page.html", "Journal", page.place.date, status,
                              ribbon=ribbon_drawing(page.ribbon, width=940.0),
                              causes=cause_drawing(page.causes, page.looking_back))  # fmt: skip
        if page.ribbon.reached is not None:  # a day that is not over moves by itself
            answer.headers["Cache-Control"] = "no-store"
        return answer

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
        equipment: Short = "", fault: Short = "", note: Text = "", reason: Short = "",
        act: Short = "keep", sure: Short = "", seen: Short = "", was_start: Short = "",
        was_station: Short = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        form = {"start": start, "end": end, "station": station, "cause": cause,
                "equipment": equipment, "fault": fault, "note": note, "was_start": was_start,
                "was_station": was_station}  # fmt: skip
        try:
            if act == "withdraw":
                typed = journal.withdraw(form, reason, number_of(seen))
            else:
                typed = journal.add_stop(place, form, act, reason, sure == "yes", number_of(seen))
        except RatoonError as error:
            typed = TypedStop(refused=[str(error)])
        if typed.stop is None:
            line = (
                "Not kept:" if typed.refused else "Not kept yet: say that it is so, or correct it"
            )
            asked = [_sentence(t) for t in (*typed.asked, *typed.odd)] if typed.asked else []
            page = journal.page(place, line, typed.refused, form | {"reason": reason, "act": act},
                                asked)  # fmt: skip
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
            number = number_of(replaces)
            if replaces and number is None:
                raise BadInput("is not the number of a note", where="replaces",
                               value=replaces[:40], todo="Open the page again.")  # fmt: skip
            journal.add_note(place, form, number)
        except RatoonError as error:
            page = journal.page(place, "Not kept:", (str(error),), form)
            return shown(format, page, 422)
        return RedirectResponse(f"/journal/{place.date}", 303)

    @app.post("/journal/{date}/handover")
    def read_over(
        date: str, number: Short = "", name: Short = "", to: Short = "", format: Format = None
    ) -> Response:
        place = place_of(date)
        try:
            journal.read_handover(number, name)
        except RatoonError as error:
            return shown(format, journal.page(place, "Not kept:", (str(error),)), 422)
        there = "morning" if to == "morning" else "journal"
        return RedirectResponse(f"/{there}/{place.date}", 303)

    @app.post("/journal/{date}/actions")
    def act_on(
        date: str, done: Short = "", note: Text = "", by: Short = "", what: Short = "",
        person: Short = "", due: Short = "", where: Short = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place = place_of(date)
        form = {"done": done, "note": note, "by": by, "what": what, "person": person, "due": due,
                "where": where}  # fmt: skip
        try:
            journal.act_on(form)
        except RatoonError as error:
            return shown(format, journal.page(place, "Not kept:", (str(error),), form), 422)
        return RedirectResponse(f"/journal/{place.date}#jobs", 303)


def add_accounting(app: FastAPI, pages: Pages) -> None:
    """Account a day anew after something was entered; a worker does it."""

    @app.post("/account/{date}")
    def again(date: str) -> Response:
        place = entry_place(date, list(pages.history.days()))
        pages.account_anew(date_type.fromisoformat(place.date))
        return RedirectResponse(f"/account/{place.date}", 303)
