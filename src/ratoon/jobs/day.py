"""Accounts mill days: reads the records, asks the account, keeps the answer, writes the sheet."""

from __future__ import annotations

import time
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon import __version__
from ratoon.account.given import from_account
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput, RatoonError, nearest_names
from ratoon.base.records import Period, Reading, Stop
from ratoon.jobs.day_points import POINTS, points_digest, points_record
from ratoon.jobs.mills import MILL_FILE, store_of
from ratoon.jobs.neighbours import Known, beside
from ratoon.jobs.tables import tables_digest
from ratoon.jobs.yard import day as yard
from ratoon.store import entries
from ratoon.store.answers import newest_result, periods_with_result, settings_on
from ratoon.store.chain import head_at_result
from ratoon.store.digest import digest
from ratoon.store.entries import readings_in, stops_in

if TYPE_CHECKING:
    from ratoon.account.gathered import Gathered
    from ratoon.account.mill import Mill
    from ratoon.account.period import PeriodAccount
    from ratoon.account.results import DayResult
    from ratoon.base.clock import Calendar
    from ratoon.store import Store
    from ratoon.store.records import Result

KIND = "day"
WORKS = "works"
CHANGED = "Readings changed since this account was made: account the day again."
AROUND = timedelta(hours=2)  # levels are taken near the ends of a day
ORDINARY = timedelta(hours=26)  # longest of most readings: a mill day, also when clocks change
LOOK_BACK = timedelta(days=9)  # longest that a reading counts for a later day, and a bit


@lru_cache(maxsize=4)
def mill_from(text: str) -> Mill:
    """A mill by the text of its mill file; kept, since making its plant takes half a second."""
    from ratoon.account.mill import Mill
    from ratoon.settings.read import parse_settings

    return Mill(parse_settings(text))


@lru_cache(maxsize=4)
def base_state(text: str) -> dict[str, float]:
    """The stations' hand calculation at the mill file's own settings: where accounts begin.

    An account finds its way from there as well as from a solved plant, and a day's sheet is spared
    the compiling of a simulation.
    """
    return {n: v.start for n, v in mill_from(text).plant.equations.variables.items()}


@dataclass
class Season:
    """The records of a season to date, gathered day by day once."""

    mill: Mill
    text: str
    readings: list[Reading]
    stops: list[Stop]
    gathered: dict[date, Gathered] = field(default_factory=dict)
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
        from ratoon.account.gather import gather

        if day not in self.gathered:
            period = self.mill.calendar.period(day)
            near = Period(period.start - AROUND, period.end + AROUND)
            rows = [r for r in self._about(near) if self._near(r, near)]
            stops = [s for s in self.stops if s.start < period.end and s.end > period.start]
            self.gathered[day] = gather(self.mill, period, rows, stops)
        return self.gathered[day]

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
    def _weekly(self) -> frozenset[str]:
        return frozenset(self.mill.roles.named("weekly analysis"))

    def _reaches(self, r: Reading) -> bool:
        """Whether a reading may count for a mill day that starts long after it does."""
        if r.address in self._weekly:
            return True
        return r.end is not None and r.end - _start_of(r) > ORDINARY

    def _near(self, r: Reading, near: Period) -> bool:
        from ratoon.account.gather import WEEKLY

        assert r.start is not None
        if r.address in self._weekly:
            return near.start - WEEKLY <= r.start < near.end
        end = r.end or r.start
        return r.start <= near.end and end >= near.start

    def begins(self, first: date) -> date:
        """The first mill day from `first` on with a record: to date, nothing before it is known."""
        start = self.mill.calendar.period(first).start
        rows = (r.start for r in self.readings if r.start and r.end and r.start >= start)
        starts = [*rows, *(s.start for s in self.stops if s.start >= start)]
        return self.mill.calendar.day_of(min(starts)) if starts else first

    def stops_of(self, period: Period) -> list[Stop]:
        return [s for s in self.stops if s.start < period.end and s.end > period.start]


def _start_of(r: Reading) -> datetime:
    assert r.start is not None
    return r.start


def load(store: Store, mill_dir: Path, day: date) -> Season:
    """A season to date from the store, with the mill file that holds on the day."""
    text = _text_on(store, mill_dir, day)
    mill = mill_from(text)
    wide = _season_to(mill, day)
    return Season(mill, text, store.ask(readings_in, wide), store.ask(stops_in, wide))


def _text_on(store: Store, mill_dir: Path, day: date) -> str:
    snapshot = store.ask(settings_on, day)
    return snapshot.text if snapshot else (mill_dir / MILL_FILE).read_text(encoding="utf-8")


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
    stops = sorted((str(s.start), str(s.end), s.station, s.cause, s.note) for s in season.stops
                   if s.start < until - AROUND)  # fmt: skip
    return digest(
        {
            "readings": rows,
            "stops": [list(s) for s in stops],
            "settings": season.text,
            "day": day.isoformat(),
            "program": __version__,
            "tables": tables_digest(),
        }
    )


def account_day(mill_dir: Path, day: date, again: bool = False) -> DayResult:
    """The result of one mill day, kept and written as sheets.

    Parameters
    ----------
    again : account even when a kept result has the same inputs.

    Raises
    ------
    BadInput : a day with no readings and no stop.
    """
    begun = time.perf_counter()
    mill_dir = Path(mill_dir)
    with store_of(mill_dir) as store:
        season = load(store, mill_dir, day)
        wanted = inputs_digest(season, day)
        period = season.mill.calendar.period(day)
        if not again:
            kept = store.ask(newest_result, KIND, period)
            if kept is not None and kept.inputs_digest == wanted:
                result = _opened(store, season.mill.calendar, kept, day)
                _write(result, mill_dir, day, only_if_missing=True)
                return result
        _has_records(season, day, store)
        with suppress(RatoonError):  # a yard that cannot be planned keeps no day from its account
            yard.keep(season.mill, store, day)
        result = _keep(store, season, day, wanted, begun)
    _write(result, mill_dir, day)
    return result


def _keep(
    store: Store, season: Season, day: date, wanted: str, begun: float,
    known: Known | None = None,
) -> DayResult:  # fmt: skip
    """Make a day's result and keep it, with every quantity of the works beside it."""
    period = season.mill.calendar.period(day)
    result, works, told = _make(season, day, wanted, begun)
    own = points_digest(season.text, season.day(day))
    with store.writing() as transaction:
        for kind, made_from, answer in ((KIND, wanted, to_json(result)), (WORKS, wanted, works),
                                        (POINTS, own, told)):  # fmt: skip
            transaction.add_result(kind, period, made_from, to_json(result.versions), answer)
    kept = store.ask(newest_result, KIND, period)
    head = store.ask(head_at_result, kept.id) if kept is not None else ""
    return beside(store, season.mill.calendar, KIND, day, replace(result, chain_head=head), known)


def _opened(
    store: Store, calendar: Calendar, kept: Result, day: date, known: Known | None = None
) -> DayResult:
    """A kept result as it is shown: with its place in the records, beside its neighbours."""
    from ratoon.account.results import DayResult

    result = replace(
        from_json(DayResult, kept.answer), chain_head=store.ask(head_at_result, kept.id)
    )
    return beside(store, calendar, KIND, day, result, known)


def _has_records(season: Season, day: date, store: Store) -> None:
    period = season.mill.calendar.period(day)
    inside = any(r.end is not None and r.start and period.start <= r.start < period.end
                 for r in season.readings)  # fmt: skip
    if inside or season.stops_of(period):
        return
    days = [d.isoformat() for d in store.days(season.mill.calendar)]
    near = nearest_names(day.isoformat(), days)
    todo = f"Nearest days with records: {', '.join(near)}." if near else "Import readings first."
    raise BadInput(f"no readings and no stop on {day.isoformat()}", todo=todo)


def make_result(season: Season, day: date, wanted: str, begun: float) -> DayResult:
    """Account a day with its week and season to date."""
    return _make(season, day, wanted, begun)[0]


def _make(
    season: Season, day: date, wanted: str, begun: float
) -> tuple[DayResult, dict[str, Any], dict[str, Any]]:
    from ratoon.account.period import account
    from ratoon.account.result import Made, day_result, to_date_part
    from ratoon.account.results import Seconds, Span, ToDate, Versions
    from ratoon.account.swing import steadier
    from ratoon.account.undetermined import judge

    mill = season.mill
    compile_begun = time.perf_counter()
    system = mill.plant.equations
    system.compiled("account")
    start = base_state(season.text)
    compiled = time.perf_counter() - compile_begun
    gathered = season.day(day)
    reconcile_begun = time.perf_counter()
    today = account(mill, gathered, start)
    if today.answer is not None:
        _ = today.answer.readings, today.answer.suspects
    reconciled = time.perf_counter() - reconcile_begun
    calendar = mill.calendar
    parts: dict[Span, ToDate] = {}
    joined: dict[Span, PeriodAccount] = {}
    spans: dict[Span, date] = {"week": calendar.first_of_week_to_date(day),
                               "season": calendar.first_of_season(day)}  # fmt: skip
    for name, first in spans.items():
        joined[name], days = _to_date(season, first, day, start)
        # days that nobody recorded lie between, and are not counted
        begun_on = calendar.day_of(joined[name].gathered.period.start)
        parts[name] = to_date_part(joined[name], begun_on, days)
    stops = season.stops_of(gathered.period)
    judged = judge(today, *_with_the_day_before(season, day, today, start))
    steady = steadier(joined["week"], joined["season"])
    versions = Versions(__version__, digest(season.text), tables_digest())
    made = Made(parts, wanted, versions, Seconds(compiled, reconciled, 0.0))
    result = day_result(today, day, stops, start, made, judged, steady)
    seconds = replace(made.seconds, total=time.perf_counter() - begun)
    works = to_json(works_of(season, today))
    return replace(result, seconds=seconds), works, points_record(today)


def _with_the_day_before(
    season: Season, day: date, today: PeriodAccount, start: dict[str, float]
) -> tuple[PeriodAccount | None, PeriodAccount | None]:
    """The day before, and both days as one: asked where a day's undetermined loss leaves zero out.

    A stock read wrong between two days makes a loss of the one and a gain of the other.
    """
    from ratoon.account.period import account
    from ratoon.account.undetermined import asks_for_more
    from ratoon.base.errors import RatoonError

    before = day - timedelta(days=1)
    if not asks_for_more(today) or before < season.mill.calendar.first_of_season(day):
        return None, None
    if not season.day(before).recorded:
        return None, None
    try:
        yesterday = account(season.mill, season.day(before), start)
    except RatoonError:
        return None, None  # a day that cannot be accounted says nothing of this one
    return yesterday, _to_date(season, before, day, start)[0]


def works_of(season: Season, today: PeriodAccount) -> dict[str, Any]:
    """Every quantity of the works on a day, and what a trial that starts there is given."""
    from ratoon.account.works import works_part

    works = works_part(today)
    if today.answer is not None:
        plant = season.mill.plant
        works["given"] = from_account(plant, today.answer, today.gathered.constants)
    return works


def _to_date(
    season: Season, first: date, day: date, start: dict[str, float]
) -> tuple[PeriodAccount, int]:
    """The account from a mill day, or the first record after it, to `day`; days recorded in it."""
    from ratoon.account.gathered import NoteKind
    from ratoon.account.period import PeriodAccount, account
    from ratoon.account.to_date import join
    from ratoon.base.errors import RatoonError

    first = min(season.begins(first), day)
    days = [first + timedelta(days=k) for k in range((day - first).days + 1)]
    gathered = [season.day(d) for d in days]
    whole = join(season.mill, gathered)
    recorded = sum(1 for g in gathered if g.recorded)
    try:
        return account(season.mill, whole, start), recorded
    except RatoonError as error:
        # A period that cannot be accounted is said to be so; the day itself still stands.
        whole.readings.clear()
        whole.note(NoteKind.REFUSED, f"to date: {error}")
        return PeriodAccount(season.mill, whole, None), recorded


def _write(result: DayResult, mill_dir: Path, day: date, only_if_missing: bool = False) -> None:
    from ratoon.reports.write import write_morning

    folder = mill_dir / "sheets" / day.isoformat()
    names = ("morning.html", "morning.pdf", "morning.json")
    if only_if_missing and all((folder / n).is_file() for n in names):
        return
    write_morning(result, folder)


def kept_day(
    mill_dir: Path, day: str, opened: Store | None = None, known: Known | None = None
) -> DayResult:
    """The newest kept result of a mill day given as text; the day is accounted when none is kept.

    Pages ask this: they show what was accounted last and never wait for a new account.

    Parameters
    ----------
    opened : the mill's store where it is open already; it stays open.
    known : gives other days' newest results where they are at hand.
    """
    wanted = date.fromisoformat(day)
    mill_dir = Path(mill_dir)
    with nullcontext(opened) if opened is not None else store_of(mill_dir) as store:
        calendar = mill_from((mill_dir / MILL_FILE).read_text(encoding="utf-8")).calendar
        kept = store.ask(newest_result, KIND, calendar.period(wanted))
        if kept is not None:
            result = _opened(store, calendar, kept, wanted, known)
            if changed_since(store, kept, mill_dir, wanted):
                words = replace(result.words, notes=(*result.words.notes, CHANGED))
                result = replace(result, words=words)
            return result
    return account_day(mill_dir, wanted)


def changed_since(store: Store, kept: Result, mill_dir: Path, day: date) -> bool:
    """Whether what a kept result to the end of a day was made from is otherwise now."""
    text = _text_on(store, mill_dir, day)
    mark = digest(text)
    if kept.versions.get("settings", mark) != mark:
        return True
    wide = _season_to(mill_from(text), day)
    return store.ask(entries.changed_since, kept.made, wide, wide.end - AROUND)


def accounted_days(mill_dir: Path) -> list[str]:
    """The accounted dates, oldest first."""
    mill_dir = Path(mill_dir)
    with store_of(mill_dir) as store:
        calendar = mill_from((mill_dir / MILL_FILE).read_text(encoding="utf-8")).calendar
        periods = store.ask(periods_with_result, KIND)
    return sorted(calendar.day_of(p.start).isoformat() for p in periods)


def days_with_records(mill_dir: Path) -> list[date]:
    """Every mill day that has readings or a stop, oldest first."""
    mill_dir = Path(mill_dir)
    with store_of(mill_dir) as store:
        calendar = mill_from((mill_dir / MILL_FILE).read_text(encoding="utf-8")).calendar
        return store.days(calendar)


def account_all(
    mill_dir: Path, progress: Callable[[str], None] | None = None, again: bool = False
) -> list[str]:
    """Account every mill day with records; each season's are read and gathered once.

    Sheets are written for the newest season; an earlier day's when that day is asked for.
    """
    from ratoon.account.results import DayResult, slim

    mill_dir = Path(mill_dir)
    done = []
    with store_of(mill_dir) as store:
        text = (mill_dir / MILL_FILE).read_text(encoding="utf-8")
        days = store.days(mill_from(text).calendar)
        if not days:
            return []
        known: dict[date, DayResult] = {}
        season, loaded = load(store, mill_dir, days[0]), days[0]
        for n, day in enumerate(days, 1):
            begun = time.perf_counter()
            if n == 1 or not season.mill.calendar.same_season(loaded, day):
                # Seasons do not run together: each is read once, up to its last day.
                same = season.mill.calendar.same_season
                loaded = max(d for d in days if same(d, day))
                season = load(store, mill_dir, loaded)
            snapshot = store.ask(settings_on, day)
            held = snapshot.text if snapshot else text
            if held != season.text:
                # An old day is accounted with the mill file of its day.
                season = Season(mill_from(held), held, season.readings, season.stops)
            wanted = inputs_digest(season, day)
            period = season.mill.calendar.period(day)
            kept = store.ask(newest_result, KIND, period)
            if again or kept is None or kept.inputs_digest != wanted:
                result = _keep(store, season, day, wanted, begun, known.get)
                if season.mill.calendar.same_season(day, days[-1]):
                    _write(result, mill_dir, day)  # of a season gone by when it is asked for
            else:
                result = from_json(DayResult, kept.answer)
            known[day] = slim(result)
            done.append(day.isoformat())
            if progress is not None:
                progress(f"accounted {day.isoformat()} ({n} of {len(days)})")
    return done
