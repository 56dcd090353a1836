"""The bench: what instruments show, worked out and kept, with time of sample and analyst."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date as date_type
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI, Request
from fastapi.responses import RedirectResponse, Response

from ratoon.base.errors import BadInput, OutOfRange, RatoonError
from ratoon.base.records import Reading
from ratoon.base.words import capital
from ratoon.laboratory.determinations import (
    CLEARED,
    METHODS,
    Determined,
    Method,
    Read,
    determine,
    differs,
    methods_for,
)
from ratoon.laboratory.repeats import results_of
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import grouped, signed
from ratoon.store.written import reading_versions
from ratoon.web.days import DayPlace
from ratoon.web.door.visit import visitor
from ratoon.web.laboratory.page import DAY_ROUND, LABORATORY, boxes_of, rounds_of
from ratoon.web.laboratory.views import REPEAT, Typed
from ratoon.web.shared import Format, Pages, get

if TYPE_CHECKING:
    from ratoon.base.records import Period
    from ratoon.settings.records import ReadingSettings

LONGEST = 120


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One thing that is read, and what stands in its box."""

    read: Read
    typed: str


@dataclass(frozen=True, slots=True)
class BenchPage:
    """A determination of one quantity in a round: what is read, and what it comes to."""

    place: DayPlace
    title: str
    mill_name: str
    round: str
    rounds: tuple[tuple[str, str], ...]
    address: str
    quantities: tuple[tuple[str, str], ...]
    method: str
    methods: tuple[tuple[str, str], ...]
    rows: tuple[BenchRow, ...]
    cleared: tuple[str, ...]
    typed: Mapping[str, str]
    stands: str
    worked: str
    line: str
    said: str


def _sigma_of(settings: ReadingSettings | None, value: float) -> float:
    """Standard deviation of a repeat, by the uncertainty that the mill states of the reading."""
    if settings is None:
        return 0.0
    return settings.sigma or (settings.relative or 0.0) / 100.0 * abs(value)


ASKED = ("address", "round", "method", "format", "done", "said")
"""What the address of the page may ask."""


class Bench:
    """Works out what was read, and keeps it beside what stands."""

    def __init__(self, pages: Pages) -> None:
        self._pages, self.typing = pages, Typed(pages, LABORATORY)

    def quantities(self) -> dict[str, str]:
        """The analyses of this mill that the bench can work out: names by address."""
        mill = self._pages.history.mill
        listed = [a for group in boxes_of(mill, LABORATORY).values() for a in group]
        return {a: capital(mill.addresses[a].name) for a in listed if methods_for(a)}

    def unknown(self, asked: Mapping[str, str]) -> str:
        """What an address asks for that is not here, in a line; "" where it is."""
        error: BadInput | None = None
        if strange := next((name for name in asked if name not in ASKED), ""):
            error = BadInput("is not known here", where=strange[:40], allowed=", ".join(ASKED))
        elif (address := asked.get("address")) and address not in self.quantities():
            error = BadInput("is no quantity of this bench", where="address", value=address[:60],
                             todo="Choose one of the list.")  # fmt: skip
        elif (method := asked.get("method")) and method not in METHODS:
            error = BadInput("is no determination", where="method", value=method[:40],
                             allowed=", ".join(METHODS))  # fmt: skip
        return str(error or "")

    def results(self, address: str, period: Period) -> tuple[float, ...]:
        """The results of a round that stand, oldest first."""
        store = self._pages.door.store()
        rows = store.ask(reading_versions, [address], period) if store else []
        now = [v.record for v in rows if v.in_force and isinstance(v.record, Reading)
               and (v.record.start, v.record.end) == (period.start, period.end)]  # fmt: skip
        return tuple(x for r in now if r.given is not None for x in results_of(r.note, r.given))

    def page(
        self, place: DayPlace, round_: str, form: Mapping[str, str], line: str = "", said: str = "",
        worked: str = "",
    ) -> BenchPage:  # fmt: skip
        """The page of one determination."""
        mill, known = self._pages.history.mill, self.quantities()
        address = form.get("address", "")
        address = address if address in known else next(iter(known), "")
        fitting = methods_for(address)
        method = next((m for m in fitting if m.name == form.get("method")), None)
        method = method or (fitting[0] if fitting else METHODS["refractometer"])
        rounds = rounds_of(mill, date_type.fromisoformat(place.date))
        results = self.results(address, rounds[round_][1])
        return BenchPage(
            place, day_in_words(place.date), mill.name, round_,
            tuple((k, words) for k, (words, _) in rounds.items()), address, tuple(known.items()),
            method.name, tuple((m.name, m.words) for m in fitting),
            tuple(BenchRow(r, form.get(r.key, r.usual)) for r in method.reads),
            CLEARED if method.cleared else (), dict(form), "; ".join(f"{x:g}" for x in results),
            worked, line, said,
        )  # fmt: skip

    def found(self, form: Mapping[str, str]) -> tuple[Method, Determined]:
        """What the form comes to.

        Raises
        ------
        BadInput : no such determination of this quantity, or something read that cannot be.
        """
        address, name = form.get("address", ""), form.get("method", "")
        method = METHODS.get(name)
        if address not in self.quantities() or method not in methods_for(address):
            raise BadInput("no such determination of this quantity", where="method",
                           value=f"{name[:40]} of {address[:60]}")  # fmt: skip
        cleared = form.get("cleared", "")
        try:
            return method, determine(method, form, cleared if cleared in CLEARED else "")
        except OutOfRange as error:
            raise BadInput(str(error), where=method.words) from None

    def keep(self, place: DayPlace, period: tuple[str, Period], form: Mapping[str, str]) -> str:
        """Keep a result, as a repeat where one stands; gives a line of what became of it."""
        _, found = self.found(form)
        at, analyst = (
            form.get("at", "").strip(),
            (visitor().name or form.get("analyst", "")).strip(),
        )
        if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", at):
            raise BadInput("when the sample was taken must be told", where="sample", value=at[:20],
                           allowed="a time such as 07:30")  # fmt: skip
        if not analyst or len(analyst) > LONGEST or not analyst.isprintable():
            raise BadInput("the analyst must be told", where="analyst",
                           allowed=f"1 to {LONGEST} letters")  # fmt: skip
        address, round_ = form["address"], period[0]
        before = self.results(address, period[1])
        note = f"sample {at} by {analyst}: {found.told}"
        typed = {address: f"{found.value:.4g}" if abs(found.value) < 10 else f"{found.value:.2f}"}
        done, problems = self.typing.enter(place, round_, typed, REPEAT if before else "",
                                           note=note)  # fmt: skip
        if problems:
            raise BadInput("; ".join(problems.values()), where=address)
        if not before:
            return f"{typed[address]} % is {done.removeprefix('1 ')}"
        settings = self._pages.history.mill.settings.readings.get(address)
        apart, most = differs((*before, float(typed[address])), _sigma_of(settings, found.value))
        told = f"{typed[address]} % is kept as a repeat; the results lie {apart:.2g} % apart"
        if not most:
            return told
        if apart <= most:
            return f"{told}, within the {most:.2g} % that repeats may"
        third = "a third result is asked for" if len(before) == 1 else "look at sample and method"
        return f"{told}, more than the {most:.2g} % that repeats may: {third}"


def add_bench(app: FastAPI, pages: Pages) -> None:
    """The bench."""
    pages.by_day.add("bench")
    pages.any_day.add("bench")
    bench = Bench(pages)

    def shown(form: Format, page: BenchPage, status: int = 200) -> Response:
        return pages.answer(form, page, "bench_page.html", "Bench", page.place.date, status)

    @get(app, "/bench/{date}", BenchPage)
    def read(
        request: Request, date: str, round: str = DAY_ROUND, address: str = "", method: str = "",
        done: str = "", said: str = "", format: Format = None,
    ) -> Response:  # fmt: skip
        place, _ = bench.typing.place(date, round)
        form = {"address": address, "method": method}
        line = bench.unknown(request.query_params)
        page = bench.page(place, round, form, line, visitor().said(done, said))
        return shown(format, page, 422 if line else 200)

    @app.post("/bench/{date}")
    async def work(request: Request, date: str, format: Format = None) -> Response:
        from starlette.concurrency import run_in_threadpool

        sent: Any = (await request.form()).items()
        form = {str(k): str(v)[:LONGEST] for k, v in sent if isinstance(v, str) and k != "token"}
        return await run_in_threadpool(_worked, date, form, format)

    def _worked(date: str, form: dict[str, str], shape: Format) -> Response:
        place, period = bench.typing.place(date, form.get("round", DAY_ROUND))
        round_ = form.get("round", DAY_ROUND)
        try:
            if form.get("act") == "keep":
                said = visitor().says(bench.keep(place, (round_, period[1]), form))
                there = f"/bench/{place.date}?round={round_}&address={form['address']}"
                return RedirectResponse(f"{there}&method={form['method']}&{said}", 303)
            _, found = bench.found(form)
        except RatoonError as error:
            return shown(shape, bench.page(place, round_, form, str(error)), 422)
        told = f"{grouped(found.value, 2)} % ± {2.0 * found.sigma:.2g}"
        if found.correction is not None:
            told += f", corrected by {signed(found.correction, 2)}"
        return shown(shape, bench.page(place, round_, form, worked=told))
