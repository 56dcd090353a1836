"""Address of the best settings: from the records, or worked out aside while a page says so."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from datetime import date as day_type
from typing import Literal

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from ratoon.account.results.day import YardLine
from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.jobs.best.of_day import (
    NOTHING_FREE,
    RateAsked,
    keep_in,
    kept_best,
    rate_of,
)
from ratoon.jobs.pool import Refused
from ratoon.plans.best.result import BestOfDay, BestResult
from ratoon.reports.compose import day_in_words
from ratoon.web.best.page import BestPage, best_page, rates_of
from ratoon.web.days import NothingToTry, nearest_day
from ratoon.web.shared import Format, Pages, get

SECONDS = 180.0
"""How long the best settings of a day may take [s]: ten on a machine at rest."""
WAITING = {
    "held": "the settings that earn the most at the day's rate",
    "free": "the settings that earn the most with the rate free",
    "crop": "the settings that earn the most from a crop to finish",
}
Key = tuple[str, RateAsked, str]


class Bests:
    """Gives the best settings of a day: kept in the records, or made once in a worker."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages
        self._lock = threading.Lock()
        self._made: dict[Key, Future[None]] = {}

    def usual(self, date: str, yard: YardLine | None) -> RateAsked:
        """As the yard's plan of the day has it; else the day's rate where only that is kept."""
        told, opened = rate_of(yard), self._pages.history.opened
        day = day_type.fromisoformat(date)
        if told == "held" or kept_best(opened, day, told) or not kept_best(opened, day):
            return told
        return "held"

    def of(self, date: str, rate: RateAsked, wait: bool) -> BestOfDay | None:
        """What is kept of a day; else None while it is made, or after waiting for that.

        Raises
        ------
        RatoonError : what there is no best of, in words.
        """
        opened, day = self._pages.history.opened, day_type.fromisoformat(date)
        if not opened.mill.settings.best.free:
            raise BadInput(NOTHING_FREE.rstrip("."), todo="See how-to/best.md.")
        found = kept_best(opened, day, rate)
        if found is not None:
            return found
        making = self._making(date, rate)
        if not wait and not making.done():
            return None
        try:
            making.result()
        except Refused:
            raise
        except Exception:
            self._made.clear()  # a machine with too much to do: the next to ask begins anew
            raise
        return kept_best(opened, day, rate)

    def _making(self, date: str, rate: RateAsked) -> Future[None]:
        """The one run for a day's account as the records stand; a refusal stays while they do."""
        key = (date, rate, self._pages.door.state())
        with self._lock:
            making = self._made.get(key)
            if making is None:
                self._made = {k: f for k, f in self._made.items() if not f.done() or k[2] == key[2]}
                making = self._made[key] = Future()
                run = threading.Thread(target=self._run, args=(key, making), daemon=True)
                run.start()
        return making

    def _run(self, key: Key, making: Future[None]) -> None:
        pages, (date, rate, _) = self._pages, key
        try:
            pages.pool.call(keep_in, str(pages.mill_dir), pages.history.mark,
                            day_type.fromisoformat(date), rate, limit=SECONDS)  # fmt: skip
        except BaseException as error:
            making.set_exception(error)
        else:
            making.set_result(None)


def add_best(app: FastAPI, pages: Pages) -> None:
    """The page of the best settings."""
    pages.by_day.add("best")
    bests = Bests(pages)

    @get(app, "/best/{date}", BestResult)
    def best(
        date: str, rate: RateAsked | None = None, part: Literal["", "ladder"] = "",
        format: Format = None,
    ) -> Response:  # fmt: skip
        place, result = pages.account(date)
        if result.status == "no crush":
            days = pages.history.days()
            ran = [d for d, f in days.items() if f.result.status != "no crush"]
            raise NothingToTry(f"no cane was crushed on {place.date}: there is nothing to set",
                               nearest_day(day_type.fromisoformat(place.date), ran))  # fmt: skip
        rate = rate or bests.usual(place.date, result.yard)
        found = bests.of(place.date, rate, wait=format == "json")
        if found is None:
            page = BestPage(place, day_in_words(place.date), result.mill_name, rate,
                            rates_of(pages.history.mill), waiting=WAITING[rate])  # fmt: skip
            return pages.answer(None, page, "best_page.html", "Best", place.date, 202)
        if format == "json":
            return JSONResponse(to_json(found.ladder if part else found.best))
        page = best_page(place, result, pages.history.mill, rate, found)
        return pages.answer(None, page, "best_page.html", "Best", place.date)
