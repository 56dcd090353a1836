"""Addresses of the page of trials: changes and kept cases stand in the address itself."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import CancelledError, wait
from contextlib import suppress
from datetime import date as date_type
from typing import Any

from fastapi import FastAPI, Request
from fastapi.responses import RedirectResponse, Response

from ratoon.account.mill import Mill
from ratoon.base.errors import RatoonError
from ratoon.jobs.trial.levers import levers_of, routes_of
from ratoon.web.days import NothingToTry, nearest_day, place_of
from ratoon.web.shared import Format, Pages, get
from ratoon.web.trial.controls import ControlGroup, decimals_of_step, groups, refusals
from ratoon.web.trial.page import (
    MOST_CASES,
    TryPage,
    address_of,
    case_changes,
    case_text,
    found_by_the_day,
    trial_controls,
    try_page,
)

MOST_DAYS = 30  # solved days kept
QUIET = 1.0  # so long nobody has asked for a page [s] before a plant is made ahead
NOT_CHANGES = frozenset({"format", "case", "keep"})
Stood = Mapping[str, tuple[float, float]]
"""By address: the day's value in a box and the step of its slider."""


class Trials:
    """Solves cases of a mill in the worker processes."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages
        self._plain: dict[tuple[str, int, str], tuple[dict[str, Any], Stood]] = {}
        self._can: tuple[Any, set[str]] | None = None
        self._bleeds_of, self._lock = "", threading.Lock()

    def solve(self, date: str, changes: Mapping[str, float]) -> dict[str, Any]:
        """A day's plant with changes; refused where the day has no account."""
        from ratoon.jobs.trial.cases import solve_in

        works = self._pages.history.works(date)
        if "given" not in works:
            days = self._pages.history.days()
            ran = [d for d, f in days.items() if (f.result.period.crushing_hours or 0.0) > 0.0]
            raise NothingToTry(f"no cane was crushed on {date}: there is nothing to change",
                               nearest_day(date_type.fromisoformat(date), ran))  # fmt: skip
        return self._pages.pool.call(
            solve_in, *self._mill(), works["given"], works["state"], dict(changes)
        )

    def _mill(self) -> tuple[str, str]:
        """What the workers know the mill by: its folder, and the digest of its file."""
        return str(self._pages.mill_dir), self._pages.history.mark

    def day(self, date: str) -> tuple[dict[str, Any], Stood]:
        """The day itself, solved without changes once for each account of it, and its boxes."""
        key = (date, self._pages.history.days()[date].number, self._pages.history.mark)
        found = self._plain.get(key)
        if found is None:
            solved = self.solve(date, {})
            found = solved, _stood(solved, self.can(), self._pages.history.mill)
            if len(self._plain) >= MOST_DAYS:
                self._plain.clear()
            self._plain[key] = found
        self._make_bleeds(date, key[2])
        return found

    def can(self) -> set[str]:
        """What a trial can set, worked out once for each mill file."""
        mill = self._pages.history.mill
        if self._can is None or self._can[0] is not mill:
            self._can = mill, set(mill.plant.settable())
        return self._can[1]

    def _make_bleeds(self, date: str, mark: str) -> None:
        """Try each bleed by itself once somebody looks: each is a plant to be made first."""
        with self._lock:
            if self._bleeds_of == mark or not self._pages.served:
                return
            self._bleeds_of = mark
        threading.Thread(target=self._bleeds, args=(date,), daemon=True).start()

    def _bleeds(self, date: str) -> None:
        from ratoon.jobs.trial.cases import solve_in

        # the pool ends with the program, or is replaced: then each is made when it is asked for
        with suppress(RatoonError, RuntimeError, CancelledError):
            works, pool = self._pages.history.works(date), self._pages.pool
            for address, effect in routes_of(self._pages.history.mill.plant):
                while time.monotonic() - self._pages.door.asked < QUIET:
                    time.sleep(QUIET / 4)
                change, begun = {address: effect}, time.monotonic()
                wait(pool.warm(solve_in, *self._mill(), works["given"], works["state"], change))
                time.sleep(time.monotonic() - begun)  # half of the machine is left to others

    def warm(self) -> None:
        """Start the workers before somebody waits for them."""
        from ratoon.jobs.trial.cases import warm_up

        self._pages.pool.warm(warm_up, *self._mill())


def _typed(request: Request) -> tuple[dict[str, float], dict[str, str]]:
    """The changes of an address, and what is no number."""
    changes, no_numbers = {}, {}
    for name, text in request.query_params.multi_items():
        if name in NOT_CHANGES:
            continue
        try:
            value = float(text.replace(",", "."))
            if "_" in text or not math.isfinite(value):
                raise ValueError
            changes[name] = value
        except ValueError:
            no_numbers[name] = text.strip()
    return changes, no_numbers


def _lines(
    controls: Sequence[ControlGroup], texts: Mapping[str, str], no_numbers: Mapping[str, str]
) -> tuple[str, dict[str, str]]:
    """What is wrong with the boxes, a line for each; and what was typed in those."""
    lines = refusals(controls, no_numbers)
    others = [f"{name[:60]}: {text[:40]!r} is not a number"
              for name, text in no_numbers.items() if text and name not in lines]  # fmt: skip
    return "\n".join((*lines.values(), *others)), {a: texts[a] for a in lines}


def add_try(app: FastAPI, pages: Pages) -> None:
    """The page of trials."""
    pages.by_day.add("try")
    trials = Trials(pages)
    pages.warming.append(trials.warm)

    def answer_to(changes: Mapping[str, float], date: str) -> tuple[dict[str, Any] | None, str]:
        try:
            return trials.solve(date, changes), ""
        except RatoonError as error:
            return None, str(error)

    @get(app, "/try/{date}", TryPage)
    def try_(request: Request, date: str, keep: str = "", format: Format = None) -> Response:
        days = pages.history.days()
        place = place_of(date, list(days))
        mill = pages.history.mill
        changes, no_numbers = _typed(request)
        kept = request.query_params.getlist("case")[-MOST_CASES:]
        plain, stood = trials.day(place.date)
        can = trials.can()
        changes = _really(changes, stood)
        found = found_by_the_day(mill, pages.history.works(place.date), plain["before"])
        controls = trial_controls(mill, can, plain["before"], changes, found)
        line, refused = _lines(controls, request.query_params, no_numbers)
        if keep and changes and not line:
            fresh = [k for k in kept if k != case_text(changes)][-(MOST_CASES - 1) :]
            to = address_of(place.date, changes, [*fresh, case_text(changes)])
            return RedirectResponse(to, 303)
        solved = plain
        if changes and not line:
            answer, line = answer_to(changes, place.date)
            solved = answer or plain
        cases: Sequence[tuple[str, Mapping[str, Any] | None]] = [
            (text, answer_to(case_changes(text), place.date)[0]) for text in kept
        ]
        page = try_page(mill, place, controls, changes, solved, cases, line, found, refused,
                        days[place.date].result.pol["stock_change"].t)  # fmt: skip
        return pages.answer(format, page, "try_page.html", "Try", place.date)


def _stood(plain: Mapping[str, Any], can: set[str], mill: Mill) -> Stood:
    stood = {
        c.address: (c.day, c.step)
        for g in groups(mill.plant, can, plain["before"], {})
        for c in g.controls
    }
    return stood | {v.address: (v.day, v.step) for v in levers_of(mill.plant).values()}


def _really(changes: Mapping[str, float], stood: Stood) -> dict[str, float]:
    """What differs from the day: a box left as it stood is no change."""
    kept = {}
    for address, value in changes.items():
        day, step = stood.get(address, (None, 1.0))
        if day is None or round(value - day, decimals_of_step(step) + 2) != 0:
            kept[address] = value
    return kept
