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

from ratoon.account.results.day import DayResult, slim
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane.supply import DaySums
from ratoon.jobs import mills
from ratoon.jobs.cane import season as cane_season
from ratoon.jobs.cane.season import SumsOfDays
from ratoon.jobs.sheet.day import KIND, WORKS, works_of
from ratoon.jobs.sheet.neighbours import Known
from ratoon.jobs.sheet.to_date import load
from ratoon.store.answers import results_after
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store

KINDS = (KIND, WORKS, cane_season.KIND)


@dataclass
class DayFacts:
    """A mill day: its account, and every quantity of the plant beside it."""

    date: str
    number: int
    """Number of the newest result: another one was made since when it differs."""
    result: DayResult
    works: dict[str, Any] = field(default_factory=dict)


class History:
    """All accounted days of a mill; safe to ask from several threads.

    Parameters
    ----------
    store : gives its records once there are any.
    solving : held while equations are made or solved.
    state : another text whenever the records changed, as far as the asker has to know; while it
        stands the store is not asked again. "" asks it each time.
    """

    def __init__(
        self,
        folder: Path,
        store: Callable[[], Store | None],
        solving: threading.RLock | None = None,
        state: Callable[[], str] = str,
    ) -> None:
        self._folder, self._store, self._state, self._read_at = folder, store, state, ""
        # Equations may be made and solved by one thread at a time.
        self._solving = solving or threading.RLock()
        self._lock = threading.Lock()
        self._newest = 0
        self._file: tuple[str, Mill | None, str] = "", None, ""
        self._open: mills.OpenMill | None = None
        self._days: dict[str, DayFacts] = {}
        self._accounted: dict[str, DayFacts] = {}
        self._sums: dict[Period, DaySums] = {}

    def _read(self) -> tuple[Mill, str]:
        """The mill as its file describes it now, and the digest of the file."""
        state, (known, mill, mark) = self._state(), self._file
        if mill is None or not state or state != known:
            text = mills.text_of(self._folder)
            if mill is None or text != mill.settings.text:
                mill, mark = mills.mill_from(text), digest(text)
            self._file = state, mill, mark
        return mill, mark

    @property
    def mark(self) -> str:
        """Digest of the mill file as it stands."""
        return self._read()[1]

    @property
    def mill(self) -> Mill:
        """The mill as its file describes it now, its plant made."""
        mill = self._read()[0]
        if "plant" not in vars(mill):
            with self._solving:
                _ = mill.plant
        return mill

    @property
    def opened(self) -> mills.OpenMill:
        """The mill as its file describes it now, with its records.

        Raises
        ------
        BadInput : there are none yet.
        """
        mill, store = self.mill, self._store()
        if store is None:
            raise BadInput("no records yet", todo="Import the mill's readings first.")
        if self._open is None or self._open.mill is not mill or self._open.store is not store:
            self._open = mills.OpenMill(self._folder, mill, store)
        return self._open

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
        store = self._store()
        if store is None:
            return
        fresh = store.ask(results_after, KINDS, self._newest)
        if not fresh:
            return
        calendar = self._read()[0].calendar
        sums = {r.period: from_json(DaySums, r.answer)
                for _, r in fresh if r.kind == cane_season.KIND}  # fmt: skip
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
        """Every quantity of the plant on a day; worked out and kept where it was not yet."""
        facts = self.days()[day]
        if not _crushed(facts) or (facts.works and self._fits(facts.works)):
            return facts.works
        from ratoon.account.period import account

        when = date.fromisoformat(day)
        opened = self.opened
        with self._solving:
            season = load(opened, when)
            answer = to_json(works_of(season, account(season.mill, season.day(when))))
            opened.store.add_result(WORKS, season.mill.calendar.period(when), "", {}, answer)
        facts.works = answer
        return facts.works

    def _fits(self, works: Mapping[str, Any]) -> bool:
        """Whether what was kept can be begun from: an earlier program's plant had other names."""
        given: Mapping[str, float] = works.get("given", {})
        return given.keys() <= self.mill.plant.addresses.keys()

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
