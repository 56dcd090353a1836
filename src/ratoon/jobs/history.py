"""The accounted days of a mill as pages ask for them: kept in memory, brought up to date by asking
the store only for what was appended since.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon.account.results import DayResult, slim
from ratoon.base.as_json import from_json, to_json
from ratoon.base.records import Period
from ratoon.jobs.cane import season as cane_season
from ratoon.jobs.cane.season import SumsOfDays
from ratoon.jobs.day import KIND, WORKS, base_state, load, mill_from, works_of
from ratoon.jobs.mills import store_of, text_of
from ratoon.jobs.neighbours import Known
from ratoon.store import NoRecordsYet
from ratoon.store.answers import results_after
from ratoon.store.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store

KINDS = (KIND, WORKS, cane_season.KIND)


@dataclass
class DayFacts:
    """A mill day: its account, and every quantity of the works beside it."""

    date: str
    number: int
    """Number of the newest result: another one was made since when it differs."""
    result: DayResult
    works: dict[str, Any] = field(default_factory=dict)


class History:
    """All accounted days of a mill; safe to ask from several threads.

    Parameters
    ----------
    solving : held while equations are made or solved.
    opened : gives a store that is open already: opening one takes longer than most questions.
    state : another text whenever the records changed, as far as whoever asks has to know; while it
        stands the store is not asked again. "" asks it each time.
    """

    def __init__(
        self,
        mill_dir: Path,
        solving: threading.Lock | None = None,
        opened: Callable[[], Store | None] = lambda: None,
        state: Callable[[], str] = str,
    ) -> None:
        self.mill_dir = Path(mill_dir)
        self._opened, self._state, self._read_at = opened, state, ""
        # Equations may be made and solved by one thread at a time.
        self._solving = solving or threading.Lock()
        self._lock = threading.Lock()
        self._newest = 0
        self._text = "", "", ""
        self._mill: tuple[str, Mill | None] = "", None
        self._days: dict[str, DayFacts] = {}
        self._accounted: dict[str, DayFacts] = {}
        self._sums: dict[Period, Mapping[str, Any]] = {}

    def _read(self) -> tuple[str, str]:
        """The mill file as it stands, and its digest."""
        state, (known, text, mark) = self._state(), self._text
        if not state or state != known:
            text = text_of(self.mill_dir)
            mark = digest(text)
            self._text = state, text, mark
        return text, mark

    @property
    def mark(self) -> str:
        """Digest of the mill file as it stands."""
        return self._read()[1]

    @property
    def mill(self) -> Mill:
        """The mill as its file describes it now, its plant made."""
        (text, mark), (known, mill) = self._read(), self._mill
        if mill is None or mark != known:
            with self._solving:
                mill = mill_from(text)
                _ = mill.plant
            self._mill = mark, mill
        return mill

    def days(self) -> Mapping[str, DayFacts]:
        """Facts by date, oldest first."""
        with self._lock:
            self._refresh()
            return self._accounted

    def known(self) -> Known:
        """Gives what is kept in memory of a day's newest result, as of now."""
        facts = self.days()

        def result(day: date) -> DayResult | None:
            found = facts.get(day.isoformat())
            return found.result if found is not None else None

        return result

    def cane_sums(self) -> SumsOfDays:
        """The newest sums of each day's cane."""
        with self._lock:
            self._refresh()
            return self._sums

    def _refresh(self) -> None:
        state = self._state()
        if state and state == self._read_at:
            return
        self._take_up()
        self._read_at = state

    def _take_up(self) -> None:
        """Take up what was appended since."""
        opened = self._opened()
        if opened is not None:
            fresh = opened.ask(results_after, KINDS, self._newest)
        else:
            try:
                with store_of(self.mill_dir) as store:
                    fresh = store.ask(results_after, KINDS, self._newest)
            except NoRecordsYet:
                return
        if not fresh:
            return
        calendar = mill_from(self._read()[0]).calendar
        sums = {r.period: r.answer for _, r in fresh if r.kind == cane_season.KIND}
        self._sums = {**self._sums, **sums}
        for number, result in fresh:
            self._newest = number
            if result.kind == cane_season.KIND:
                continue
            day = calendar.day_of(result.period.start).isoformat()
            if result.kind == KIND:
                made = slim(from_json(DayResult, result.answer))
                facts = self._days.setdefault(day, DayFacts(day, number, made))
                facts.number, facts.result = number, made
            elif day in self._days:
                self._days[day].works = result.answer
        self._accounted = dict(sorted(self._days.items()))

    def works(self, day: str) -> dict[str, Any]:
        """Every quantity of the works on a day; worked out and kept where it was not yet."""
        facts = self.days()[day]
        if facts.works or not _crushed(facts):
            return facts.works
        from ratoon.account.period import account

        when = date.fromisoformat(day)
        with self._solving, store_of(self.mill_dir) as store:
            season = load(store, self.mill_dir, when)
            today = account(season.mill, season.day(when), base_state(season.text))
            answer = to_json(works_of(season, today))
            store.add_result(WORKS, season.mill.calendar.period(when), "", {}, answer)
        facts.works = answer
        return facts.works

    def trend(self, address: str, until: str, days: int = 30) -> list[tuple[str, list[Any] | None]]:
        """A quantity on the accounted days up to `until`: (date, [value, sigma] or None)."""
        return trend_of(self.days(), address, until, days)


def last_days(facts: Iterable[str], until: str, days: int) -> list[str]:
    """The accounted of the `days` calendar days to `until`: never days of the season before."""
    first = (date.fromisoformat(until) - timedelta(days=days - 1)).isoformat()
    return [d for d in facts if first <= d <= until]


def trend_of(
    facts: Mapping[str, DayFacts], address: str, until: str, days: int = 30
) -> list[tuple[str, list[Any] | None]]:
    """A quantity on the days up to `until`, in order; None where it was not determined."""
    kept = last_days(facts, until, days)
    return [(d, facts[d].works.get("figures", {}).get(address)) for d in kept]


def _crushed(facts: DayFacts) -> bool:
    return bool(facts.result.period.crushing_hours)
