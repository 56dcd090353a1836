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
    LabPage,
    Sheets,
    addresses_of,
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


class Laboratory:
    """Reads and writes the laboratory's sheets."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages

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
        kept = store.ask(draft_of, who(), form_of(place, round_)) if store else None
        if kept is None:
            return {}, ""
        local = self._pages.history.mill.calendar.to_local(kept[1])
        return {str(a): str(t) for a, t in json.loads(kept[0]).items()}, f"{local:%Y-%m-%d %H:%M}"

    def keep_draft(self, place: DayPlace, round_: str, typed: dict[str, str]) -> None:
        """Keep what is typed so far; nothing typed takes the draft away."""
        typed = {a: t for a, t in typed.items() if t.strip()}
        text = json.dumps(typed, sort_keys=True) if typed else ""
        with self._pages.door.begin().writing(who()) as transaction:
            transaction.keep_draft(who(), form_of(place, round_), text)

    def page(
        self, place: DayPlace, round_: str, typed: dict[str, str], problems: dict[str, str],
        line: str = "", saved: str = "",
    ) -> LabPage:  # fmt: skip
        """The page of a round."""
        mill = self._pages.history.mill
        period = rounds_of(mill, date_type.fromisoformat(place.date))[round_][1]
        asked = [a for g in addresses_of(mill).values() for a in g]
        store = self._pages.door.store()
        versions = store.ask(reading_versions, asked, period) if store else []
        sheets = Sheets(mill, self._pages.history.days(), place)
        return sheets.page(round_, versions, typed, problems, line, saved)

    def enter(
        self, place: DayPlace, round_: str, typed: dict[str, str], kind: str = "",
        seen: int | None = None,
    ) -> tuple[str, dict[str, str]]:  # fmt: skip
        """Store what is typed; gives a line of what became of it, and what was refused.

        `kind`: "repeat" keeps the results that stand beside the new ones. `seen`: the newest row
        that stood on the page; one that came since is not corrected unseen.
        """
        from ratoon.jobs.typed import enter

        mill = self._pages.history.mill
        period = rounds_of(mill, date_type.fromisoformat(place.date))[round_]
        changed = changed_only(self.page(place, round_, typed, {}), typed)
        far = {a: why for a, t in changed.items() if (why := outside(mill.addresses[a], t))}
        within = {a: t for a, t in changed.items() if a not in far}
        rows = readings_of(mill, within, period, "laboratory")
        reason = typed.get("reason", "").strip()
        if kind == REPEAT:
            versions = self._pages.door.begin().ask(reading_versions, list(within), period[1])
            rule = check_rule(mill.settings.laboratory.repeats)
            rows = with_repeats(rows, versions, period[1], rule)
            seen = max((v.number for v in versions), default=0)
            reason = f"{REPEAT}: {reason}" if reason else REPEAT
        name = f"laboratory {place.date} {round_}"
        done = enter(self._pages.door.begin(), mill, "readings", rows, who(), name, reason,
                     seen)  # fmt: skip
        problems = {rows[r.row - 1]["address"]: ": ".join(t for t in (r.value, r.reason) if t)
                    for r in done.refused} | far  # fmt: skip
        left = {a: t for a, t in typed.items() if a in problems}
        if left and typed.get("reason"):
            left["reason"] = typed["reason"]
        self.keep_draft(place, round_, left)
        line = done.in_words if rows else "nothing was kept" if far else done.in_words
        return line, problems


def form_of(place: DayPlace, round_: str) -> str:
    """The name under which a round's draft is kept."""
    return f"laboratory {place.date} {round_}"


def _typed(pairs: Any) -> dict[str, str]:
    skipped = ("token", "round", "act", "kind", "seen")
    return {str(k): str(v)[: 300 if k == "reason" else MOST_TYPED]
            for k, v in pairs if k not in skipped and isinstance(v, str)}  # fmt: skip


def add_laboratory(app: FastAPI, pages: Pages) -> None:
    """The laboratory."""
    pages.by_day.add("laboratory")
    pages.any_day.add("laboratory")
    laboratory = Laboratory(pages)

    def shown(form: Format, page: LabPage, status: int = 200) -> Response:
        return pages.answer(form, page, "laboratory_page.html", "Laboratory", page.place.date,
                            status)  # fmt: skip

    @get(app, "/laboratory/{date}", LabPage)
    def sheets(
        date: str, round: str = DAY_ROUND, done: str = "", said: str = "", format: Format = None
    ) -> Response:
        place, _ = laboratory.place(date, round)
        typed, saved = laboratory.draft(place, round)
        return shown(
            format, laboratory.page(place, round, typed, {}, visitor().said(done, said), saved)
        )

    @get(app, "/laboratory/{date}/worked")
    def results(request: Request, date: str) -> Response:
        values = {a: n for a, t in request.query_params.items()
                  if (n := number_of(t[:MOST_TYPED])) is not None}  # fmt: skip
        return JSONResponse(
            {key: text for key, (_, text) in worked(pages.history.mill.roles, values).items()}
        )

    @app.post("/laboratory/{date}/draft")
    async def draft(request: Request, date: str, round: str = DAY_ROUND) -> Response:
        from starlette.concurrency import run_in_threadpool

        typed = _typed((await request.form()).items())
        place, _ = await run_in_threadpool(laboratory.place, date, round)
        await run_in_threadpool(laboratory.keep_draft, place, round, typed)
        return JSONResponse({"kept": len(typed)})

    @app.post("/laboratory/{date}")
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
        place, _ = laboratory.place(date, round_)
        there = f"/laboratory/{place.date}?{urlencode({'round': round_})}"
        if act == "draft":
            laboratory.keep_draft(place, round_, typed)
            return RedirectResponse(there, 303)
        try:
            line, problems = laboratory.enter(
                place, round_, typed, kind, int(seen) if seen else None
            )
        except RatoonError as error:
            laboratory.keep_draft(place, round_, typed)
            line, problems = str(error), {"": str(error)}
        if problems:
            left = {a: typed[a] for a in (*problems, "reason") if a in typed}
            return shown(form, laboratory.page(place, round_, left, problems, line), 422)
        return RedirectResponse(f"{there}&{visitor().says(line)}", 303)
