"""The records of a season to date: read once, gathered day by day, told apart by a digest."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cache, cached_property, partial
from typing import TYPE_CHECKING, Any

from ratoon import __version__
from ratoon.base.records import Decision, Period, Reading, Stop
from ratoon.base.season import RAIN
from ratoon.jobs.sheet.day_points import POINTS, points_digest
from ratoon.jobs.strikes.of_days import by_strikes, mark_of_strikes, not_read
from ratoon.jobs.strikes.rows import BEFORE, STRIKE, TRACE
from ratoon.jobs.tables import tables_digest
from ratoon.store.answers import any_after, last_before, newest_parts
from ratoon.store.cane import kept as cane
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import seen_by
from ratoon.store.chain.reach import newest_event
from ratoon.store.entries import changed_since as appended_since
from ratoon.store.entries import readings_in, stops_in
from ratoon.store.written import decisions_in

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.readings.gathered import Gathered
    from ratoon.jobs.mills import OpenMill
    from ratoon.store import Store
    from ratoon.store.records import Result

AROUND = timedelta(hours=2)  # levels are taken near the ends of a day
ORDINARY = timedelta(hours=26)  # longest of most readings: a mill day, also when clocks change
SEEN_BY = ("week", "season to date")
"""Kinds of answers whose drifts a day takes up."""
LOOK_BACK = timedelta(days=9)  # longest that a reading counts for a later day, and a bit


@dataclass(frozen=True, slots=True)
class Aside:
    """What an accounted day set aside, each with what its account found there and the sigma."""

    digest: str
    values: Mapping[str, tuple[float, float] | None]


def _no_strikes(day: date) -> list[Reading]:
    return []


@dataclass
class Season:
    """The records of a season to date, gathered day by day once."""

    mill: Mill
    readings: list[Reading]
    stops: list[Stop]
    seen: int = 0
    """The newest event when they were read."""
    decisions: list[Decision] = field(default_factory=list)
    """What people said of its readings."""
    accounted: dict[datetime, Aside] = field(default_factory=dict)
    """What each of its days set aside when it was accounted, by the day's start."""
    drifts: dict[str, tuple[float, str]] = field(default_factory=dict)
    """Readings that the last week or season accounted before its last day saw drift, how far."""
    seen_by: str = ""
    of_strikes: Callable[[date], list[Reading]] = _no_strikes
    """What the strikes of a day say of it, whether or not somebody read it."""
    mark_of_strikes: Callable[[date], list[Any]] = _no_strikes
    """All that those readings are made from; asked without making a plant."""
    gathered: dict[date, Gathered] = field(default_factory=dict)
    _own: dict[date, Gathered] = field(default_factory=dict)
    _settled: dict[date, Gathered] = field(default_factory=dict)
    _sorted: list[Reading] | None = None
    _starts: list[datetime] = field(default_factory=list)
    _long: list[Reading] = field(default_factory=list)

    @cached_property
    def lines(self) -> list[tuple[datetime, bool, list[Any]]]:
        """Readings as they go into a digest, in its order: start, whether it lasts, the row."""
        rows = [([r.address, str(r.start), str(r.end), r.value, r.unit, r.sigma, r.source],
                 r.start, r.end is not None) for r in self.readings if r.start]  # fmt: skip
        rows.sort(key=lambda row: row[0])
        return [(start, lasts, row) for row, start, lasts in rows]

    def day(self, day: date) -> Gathered:
        from ratoon.account.readings.levels import carried
        from ratoon.account.readings.rolled import rolled

        if day not in self.gathered:
            own = self._read(day)
            made = replace(own, readings=list(own.readings))
            period, before = made.period, self._read(day - timedelta(days=1))
            made.readings += rolled(self.mill, period, self._of_stores) if made.crushing else []
            aside = self.accounted.get(before.period.start)
            carried(self.mill, made, before, aside.values if aside else ())
            made.decisions = {d.address: d for d in self.decisions if d.start == period.start}
            self.gathered[day] = made
        return self.gathered[day]

    def _read(self, day: date) -> Gathered:
        """A day by its own records alone."""
        from ratoon.account.readings.gather import gather

        if day not in self._own:
            period = self.mill.calendar.period(day)
            near = Period(period.start - AROUND, period.end + AROUND)
            rows = [r for r in self._about(near) if self._near(r, near)]
            self._own[day] = gather(self.mill, period, rows, self.stops_of(period))
        return self._own[day]

    def settled(self, day: date) -> Gathered:
        """A day as it enters a longer account: without what its own account set aside."""
        from ratoon.account.readings.to_date import settled_day

        if day not in self._settled:
            gathered = self.day(day)
            known = self.accounted.get(gathered.period.start)
            is_known = known is not None and known.digest == points_digest(self.mill, gathered)
            self._settled[day] = settled_day(gathered, known.values if is_known and known else None)
        return self._settled[day]

    def of(self, mill: Mill) -> Season:
        """The same records by another mill file."""
        return Season(mill, self.readings, self.stops, self.seen, self.decisions, self.accounted,
                      of_strikes=self.of_strikes,
                      mark_of_strikes=self.mark_of_strikes)  # fmt: skip

    def take(self, day: date, told: Mapping[str, Any]) -> None:
        """Take up what a day that was just accounted tells."""
        gathered = self.day(day)
        digest_ = points_digest(self.mill, gathered)
        self.accounted[gathered.period.start] = Aside(digest_, told.get("aside", {}))
        self._settled.pop(day, None)
        after = day + timedelta(days=1)  # it opens with what this day found
        self.gathered.pop(after, None), self._settled.pop(after, None)

    def _about(self, near: Period) -> list[Reading]:
        """Readings that may touch a stretch; those that reach over days are looked at each time."""
        if self._sorted is None:
            known = sorted((r for r in self.readings if r.start), key=_start_of)
            self._long = [r for r in known if self._reaches(r)]
            self._sorted = [r for r in known if not self._reaches(r)]
            self._starts = [_start_of(r) for r in self._sorted]
        low = bisect_left(self._starts, near.start - ORDINARY)
        least = near.start - LOOK_BACK
        old = [r for r in self._long if least <= _start_of(r) <= near.end]
        return old + self._sorted[low : bisect_right(self._starts, near.end)]

    @cached_property
    def _of_stores(self) -> dict[str, list[Reading]]:
        """Readings that tell what stores hold, by address, as far back as the season goes."""
        from ratoon.account.readings.rolled import addresses_of

        wanted = addresses_of(self.mill)
        found: dict[str, list[Reading]] = {}
        for r in self.readings:
            if r.address in wanted:
                found.setdefault(r.address, []).append(r)
        return found

    @cached_property
    def _weekly(self) -> frozenset[str]:
        return frozenset(self.mill.roles.named("weekly analysis"))

    def _reaches(self, r: Reading) -> bool:
        """Whether a reading may count for a mill day that starts long after it does."""
        if r.address in self._weekly:
            return True
        return r.end is not None and r.end - _start_of(r) > ORDINARY

    def _near(self, r: Reading, near: Period) -> bool:
        from ratoon.account.readings.gather import WEEKLY

        assert r.start is not None
        if r.address in self._weekly:
            return near.start - WEEKLY <= r.start < near.end
        end = r.end or r.start
        return r.start <= near.end and end >= near.start

    def begins(self, first: date) -> date:
        """The first mill day from `first` on with a reading, or else with a stop: to date, nothing
        before it is known."""
        start = self.mill.calendar.period(first).start
        starts = [r.start for r in self.readings if r.start and r.end and r.start >= start]
        # stops may lie long before: of days that are on record in short form alone
        starts = starts or [s.start for s in self.stops if s.start >= start]
        return self.mill.calendar.day_of(min(starts)) if starts else first

    def look_back(self, store: Store, day: date) -> None:
        """Take up what the last week or season accounted before a day saw drift."""
        start = self.mill.calendar.period(day).start
        since = self.mill.calendar.period(self.mill.calendar.first_of_season(day)).start
        seen = store.ask(last_before, SEEN_BY, Period(since, start))
        alarms = seen.answer["alarms"] if seen else []
        self.drifts = {a["address"]: (a["size"], a["unit"]) for a in alarms}
        self.seen_by = f"the {seen.kind} ending {seen.answer['date']}" if seen else ""

    def stops_of(self, period: Period) -> list[Stop]:
        return [s for s in self.stops if s.start < period.end and s.end > period.start]


def _start_of(r: Reading) -> datetime:
    assert r.start is not None
    return r.start


def load(opened: OpenMill, day: date) -> Season:
    """A season to date from the store, with the mill file that holds on the day."""
    mill, ask = opened.mill_on(day), opened.store.ask
    wide, seen = _season_to(mill, day), ask(newest_event)[0]
    kept = {period.start: Aside(made_from, aside or {})
            for period, made_from, aside in ask(newest_parts, POINTS, "aside", wide)}  # fmt: skip
    said = ask(decisions_in, wide)
    read = [r for r in ask(readings_in, wide) if r.address != RAIN]
    read += not_read(opened.store, mill, mill.calendar.day_of(wide.start + AROUND), day, read)
    return Season(mill, read, ask(stops_in, wide), seen, said, kept,
                  of_strikes=cache(lambda d: by_strikes(opened.store, mill, [d])),
                  mark_of_strikes=partial(mark_of_strikes, opened.store, mill))  # fmt: skip


def _season_to(mill: Mill, day: date) -> Period:
    """The stretch of which readings and stops may count for the accounts of a day."""
    calendar = mill.calendar
    first = min(calendar.first_of_season(day), calendar.first_of_week_to_date(day))
    return Period(calendar.period(first).start - AROUND, calendar.period(day).end + AROUND)


def inputs_digest(season: Season, day: date) -> str:
    """Digest of all that a day's result is made from."""
    until = season.mill.calendar.period(day).end + AROUND
    rows = [row for start, lasts, row in season.lines
            if start <= until and (not lasts or start < until - AROUND)]  # fmt: skip
    start = season.mill.calendar.period(day).start
    days = sorted((str(at), a.digest) for at, a in season.accounted.items() if at < start)
    said = sorted((str(d.start), d.address, d.set_aside, d.why, d.by) for d in season.decisions
                  if d.start <= start)  # fmt: skip
    stops = sorted((str(s.start), str(s.end), s.station, s.cause, s.note) for s in season.stops
                   if s.start < until - AROUND)  # fmt: skip
    return digest(
        {
            "readings": rows,
            "stops": [list(s) for s in stops],
            "accounted": [list(d) for d in days],
            "decisions": [list(d) for d in said],
            "drifts": [[a, *d] for a, d in sorted(season.drifts.items())],
            "settings": season.mill.settings.text,
            "strikes": season.mark_of_strikes(day),
            "day": day.isoformat(),
            "program": __version__,
            "tables": tables_digest(),
        }
    )


def stands(opened: OpenMill, kept: Result, day: date) -> bool:
    """Whether a day's kept result is surely made from what there is now.

    Where it is not, its digest tells: that takes every reading of the season.
    """
    versions = kept.versions.get("program"), kept.versions.get("tables")
    if versions != (__version__, tables_digest()) or changed_since(opened, kept, day):
        return False
    ask, wide = opened.store.ask, _season_to(opened.mill_on(day), day)
    strikes = Period(wide.start - BEFORE, wide.end + BEFORE)
    if ask(cane.appended, (STRIKE, TRACE), ask(seen_by, kept), strikes):
        return False  # one that boils over the day's end tells of the day
    return not ask(any_after, (POINTS, *SEEN_BY), kept.id, Period(wide.start, kept.period.start))


def changed_since(opened: OpenMill, kept: Result, day: date) -> bool:
    """Whether what a kept result to the end of a day was made from is otherwise now."""
    mill = opened.mill_on(day)
    mark = digest(mill.settings.text)
    if kept.versions.get("settings", mark) != mark:
        return True
    wide = _season_to(mill, day)
    seen = opened.store.ask(seen_by, kept)
    if opened.store.ask(decisions_in, wide, seen):
        return True
    if opened.store.ask(cane.appended, (STRIKE, TRACE), seen, wide):
        return True
    return opened.store.ask(appended_since, seen, wide, wide.end - AROUND)
