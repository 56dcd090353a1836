"""The address behind the box of the bar: straight to what is meant, else a list of what may be."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import FastAPI
from fastapi.responses import RedirectResponse, Response

from ratoon.base.addresses import AddressInfo
from ratoon.base.errors import BadInput
from ratoon.base.words import capital
from ratoon.jobs.cane.pay import week_of
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import show
from ratoon.store.cane import kept as stored_cane
from ratoon.store.written import notes_with
from ratoon.web.cane.views import own_grower
from ratoon.web.door.access import may_see
from ratoon.web.find.page import MOST, FindPage, Found, FoundKind, found_in
from ratoon.web.shared import Format, Pages, get

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.store import Note

LONGEST = 60  # letters of what is looked for
NOTE = 160  # letters of a note that are shown


def add_find(app: FastAPI, pages: Pages) -> None:
    """The search: a grower, consignment or bin by its name, all else by words of its name."""

    @get(app, "/find", FindPage)
    def find(q: str = "", format: Format = None) -> Response:
        words = " ".join(q.split())[:LONGEST]
        if not words:
            raise BadInput(
                "nothing to look for",
                todo="Write a quantity, station, page, consignment, bin or grower.",
            )
        if to := _as_grower(pages, words) or _as_cane(pages, words):
            return RedirectResponse(to, 303)
        kinds = tuple(k for k in _kinds(pages, words) if k.rows)
        if format is None and len(kinds) == 1 and kinds[0].total == 1:
            return RedirectResponse(kinds[0].rows[0].address, 303)
        newest = pages.newest()
        day = day_in_words(newest) if newest else ""
        page = FindPage(pages.history.mill.name, words, day, kinds)
        return pages.answer(format, page, "find_page.html", "", newest)


def _kinds(pages: Pages, words: str) -> Iterator[FoundKind]:
    from ratoon.plant.stages import places

    mill, newest = pages.history.mill, pages.newest()
    bar = [Found(name, address, group.name)
           for group in pages.navigation(newest) for name, address in group.pages]  # fmt: skip
    yield found_in("Pages", words, bar)
    if newest and may_see(f"/works/{newest}"):
        stations = places(mill.plant.works)
        yield found_in("Stations", words, [Found(capital(s.title), f"/works/{newest}/{key}", key)
                                           for key, s in stations.items()])  # fmt: skip
        figures = pages.history.works(newest).get("figures", {})

        def quantity(info: AddressInfo) -> Found:
            value, sigma = figures.get(info.address, (None, None))
            told = "" if value is None else show(value, sigma, info.unit).whole
            to = f"/readings/{newest}/{info.address}"
            return Found(capital(info.name), to, info.address, told)

        yield found_in("Quantities", words, map(quantity, mill.addresses.values()))
    store = pages.door.store()
    if store is not None and newest and may_see(f"/journal/{newest}"):
        yield _notes(mill.calendar, store.ask(notes_with, words.split()))
    if may_see("/people"):
        yield found_in("People", words, [
            Found(p.name, "/people", p.login) for p in pages.store().people.all()])  # fmt: skip


def _notes(calendar: Calendar, found: list[Note]) -> FoundKind:
    """Notes and handovers of any day, each with the beginning of its words."""
    rows = []
    for note in found[:MOST]:
        day = calendar.day_of(note.start).isoformat()
        text = note.text if len(note.text) <= NOTE else note.text[:NOTE] + "..."
        rows.append(Found(text, f"/journal/{day}", f"{day}, {note.who}"))
    return FoundKind("Notes", tuple(rows), len(found))


def _as_grower(pages: Pages, name: str) -> str:
    """Address of the newest week's statement when `name` is a grower's, else ""."""
    mine, newest = own_grower(), pages.newest()
    asked = name if mine is None else mine
    if name != asked or not newest:
        return ""
    if not pages.store().ask(stored_cane.records, "block", grower=asked):
        return ""
    first, last = week_of(pages.history.mill, datetime.date.fromisoformat(newest))
    return f"/statement/{quote(name, safe='')}/{first}/{last}"


def _as_cane(pages: Pages, name: str) -> str:
    """Address of a consignment or bin of this name; a grower is led there in any case."""
    store, mine = pages.store(), own_grower()
    known = mine is not None or (
        store.ask(stored_cane.records, "consignment", keys=[name])
        or store.ask(stored_cane.bins_of_tag, name)
    )
    return f"/consignment/{quote(name, safe='')}" if known else ""
