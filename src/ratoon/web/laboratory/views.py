"""Addresses of the laboratory: the sheets of a round, results as typed, drafts, entry."""

from __future__ import annotations

import json
from datetime import date as date_type
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import FastAPI, Form, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from ratoon.base.errors import RatoonError
from ratoon.base.records import Period
from ratoon.laboratory.repeats import check_rule
from ratoon.store.written import draft_of, reading_versions
from ratoon.web.days import DayPlace, NoSuchDay, entry_place
from ratoon.web.door.visit import visitor, who
from ratoon.web.laboratory.page import (
    DAY_ROUND,
    LABORATORY,
    METERS,
    Desk,
    LabPage,
    Sheets,
    address_of,
    boxes_of,
    changed_only,
    number_of,
    outside,
    readings_of,
    rounds_of,
    with_repeats,
    worked,
)
from ratoon.web.shared import Format, Pages, get

REPEAT = "repeat"
MOST_TYPED = 40  # letters of one box
ONE_REASON = ("a reason is for one correction: send this figure alone with its own, or add it as a "
              "repeat")  # fmt: skip


class Typed:
    """Reads and writes the sheets of a desk."""

    def __init__(self, pages: Pages, desk: Desk) -> None:
        self._pages, self._desk = pages, desk

    def place(self, date: str, round_: str) -> tuple[DayPlace, tuple[str, Period]]:
        """The day and the round that were meant."""
        place = entry_place(date, list(self._pages.history.days()))
        mill = self._pages.history.mill
        rounds = rounds_of(mill, date_type.fromisoformat(place.date))
        if round_ not in rounds:
            known = ", ".join(rounds)
            raise NoSuchDay(f"no round {round_[:40]!r}; there are {known}", "")
        return place, rounds[round_]

    def draft(self, place: DayPlace, round_: str) -> tuple[dict[str, str], str]:
        """What was typed and not sent, and when it was kept."""
        store = self._pages.door.store()
        kept = store.ask(draft_of, who(), self.form_of(place, round_)) if store else None
        if kept is None:
            return {}, ""
        local = self._pages.history.mill.calendar.to_local(kept[1])
        return {str(a): str(t) for a, t in json.loads(kept[0]).items()}, f"{local:%Y-%m-%d %H:%M}"

    def keep_draft(self, place: DayPlace, round_: str, typed: dict[str, str]) -> None:
        """Keep what is typed so far beside what another tab has; an empty box is taken out."""
        typed = {a: t for a, t in (self.draft(place, round_)[0] | typed).items() if t.strip()}
        text = json.dumps(typed, sort_keys=True) if typed else ""
        with self._pages.door.begin().writing(who()) as transaction:
            transaction.keep_draft(who(), self.form_of(place, round_), text)

    def page(
        self, place: DayPlace, round_: str, typed: dict[str, str], problems: dict[str, str],
        line: str = "", saved: str = "",
    ) -> LabPage:  # fmt: skip
        """The page of a round."""
        mill = self._pages.history.mill
        period = rounds_of(mill, date_type.fromisoformat(place.date))[round_][1]
        asked = {address_of(b) for g in boxes_of(mill, self._desk).values() for b in g}
        store = self._pages.door.store()
        versions = store.ask(reading_versions, asked, period) if store else []
        sheets = Sheets(mill, self._pages.history.days(), place, self._desk)
        return sheets.page(round_, versions, typed, problems, line, saved)

    def enter(
        self, place: DayPlace, round_: str, typed: dict[str, str], kind: str = "",
        seen: int | None = None, note: str = "",
    ) -> tuple[str, dict[str, str]]:  # fmt: skip
        """Store what is typed; gives a line of what became of it, and what was refused.

        `kind`: "repeat" keeps the results that stand beside the new ones. `seen`: the newest row
        that stood on the page; one that came since is not corrected unseen. `note`: how the figure
        was read.
        """
        from ratoon.jobs.files.typed import Entered, enter

        store, mill = self._pages.door.begin(), self._pages.history.mill
        period = rounds_of(mill, date_type.fromisoformat(place.date))[round_]
        page = self.page(place, round_, typed, {})
        changed = changed_only(page, typed)
        problems = {b: why for b, t in changed.items()
                    if (why := outside(mill.addresses[address_of(b)], t))}  # fmt: skip
        stands = {r.box for s in page.sheets for r in s.rows if r.stands}
        reason = typed.get("reason", "").strip()
        again = [b for b in changed if b in stands and b not in problems]
        if reason and kind != REPEAT and len(again) > 1:
            problems |= dict.fromkeys(again, ONE_REASON)
        within = {b: t for b, t in changed.items() if b not in problems}
        rows = readings_of(mill, within, period, self._desk.path)
        if kind == REPEAT:
            asked = [address_of(b) for b in within]
            versions = store.ask(reading_versions, asked, period[1])
            rule = check_rule(mill.settings.laboratory.repeats)
            rows = with_repeats(rows, versions, period[1], rule)
            seen = max((v.number for v in versions), default=0)
            reason = f"{REPEAT}: {reason}" if reason else REPEAT
        if note:
            rows = [r | {"note": "; ".join(filter(None, (r.get("note", ""), note)))} for r in rows]
        done = Entered()
        # a reason is that of what stood already, and of nothing else that was sent with it
        for group, why in (([r for r in rows if r["box"] not in stands], ""),
                           ([r for r in rows if r["box"] in stands], reason)):  # fmt: skip
            if group:
                made = enter(store, mill, "readings", group, who(), self.form_of(place, round_),
                             why, seen)  # fmt: skip
                problems |= {group[r.row - 1]["box"]: ": ".join(filter(None, (r.value, r.reason)))
                             for r in made.refused}  # fmt: skip
                done.add(made)
        left = {b: t if b in problems else "" for b, t in typed.items() if t.strip()}
        if typed.get("reason") and any(b in stands for b in problems):
            left["reason"] = typed["reason"]
        self.keep_draft(place, round_, left)
        return "nothing was kept" if problems and not rows else done.in_words, problems

    def form_of(self, place: DayPlace, round_: str) -> str:
        """The name under which a round's draft is kept."""
        return f"{self._desk.path} {place.date} {round_}"


def _typed(pairs: Any) -> dict[str, str]:
    skipped = ("token", "round", "act", "kind", "seen")
    return {str(k): str(v)[: 300 if k == "reason" else MOST_TYPED]
            for k, v in pairs if k not in skipped and isinstance(v, str)}  # fmt: skip


def add_laboratory(app: FastAPI, pages: Pages) -> None:
    """The laboratory, and the desk where meters and stocks are typed."""
    for desk in (LABORATORY, METERS):
        _add(app, pages, desk)

    @get(app, "/laboratory/{date}/worked")
    def results(request: Request, date: str) -> Response:
        values = {a: n for a, t in request.query_params.items()
                  if (n := number_of(t[:MOST_TYPED])) is not None}  # fmt: skip
        return JSONResponse(
            {key: text for key, (_, text) in worked(pages.history.mill.roles, values).items()}
        )


def _add(app: FastAPI, pages: Pages, desk: Desk) -> None:
    """One desk."""
    pages.by_day.add(desk.path)
    pages.any_day.add(desk.path)
    typing = Typed(pages, desk)

    def shown(form: Format, page: LabPage, status: int = 200) -> Response:
        return pages.answer(form, page, "laboratory_page.html", desk.title, page.place.date,
                            status)  # fmt: skip

    @get(app, f"/{desk.path}/{{date}}", LabPage)
    def sheets(
        date: str, round: str = DAY_ROUND, done: str = "", said: str = "", format: Format = None
    ) -> Response:
        place, _ = typing.place(date, round)
        typed, saved = typing.draft(place, round)
        return shown(
            format, typing.page(place, round, typed, {}, visitor().said(done, said), saved)
        )

    @app.post(f"/{desk.path}/{{date}}/draft")
    async def draft(request: Request, date: str, round: str = DAY_ROUND) -> Response:
        from starlette.concurrency import run_in_threadpool

        typed = _typed((await request.form()).items())
        place, _ = await run_in_threadpool(typing.place, date, round)
        await run_in_threadpool(typing.keep_draft, place, round, typed)
        return JSONResponse({"kept": len(typed)})

    @app.post(f"/{desk.path}/{{date}}")
    async def enter(
        request: Request, date: str, round: Annotated[str, Form()] = DAY_ROUND,
        act: Annotated[str, Form()] = "keep", kind: Annotated[str, Form()] = "",
        seen: Annotated[str, Form(pattern=r"^[0-9]{0,15}$")] = "", format: Format = None,
    ) -> Response:  # fmt: skip
        from starlette.concurrency import run_in_threadpool

        typed = _typed((await request.form()).items())
        return await run_in_threadpool(_entered, date, round, act, typed, kind, seen, format)

    def _entered(
        date: str, round_: str, act: str, typed: dict[str, str], kind: str, seen: str, form: Format
    ) -> Response:
        place, _ = typing.place(date, round_)
        there = f"/{desk.path}/{place.date}?{urlencode({'round': round_})}"
        if act == "draft":
            typing.keep_draft(place, round_, typed)
            return RedirectResponse(there, 303)
        try:
            line, problems = typing.enter(place, round_, typed, kind, int(seen) if seen else None)
        except RatoonError as error:
            typing.keep_draft(place, round_, typed)
            line, problems = str(error), {"": str(error)}
        if problems:
            left = {a: typed[a] for a in (*problems, "reason") if a in typed}
            return shown(form, typing.page(place, round_, left, problems, line), 422)
        return RedirectResponse(f"{there}&{visitor().says(line)}", 303)
