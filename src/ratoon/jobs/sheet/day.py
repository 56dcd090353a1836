"""Accounts mill days: reads the records, asks the account, keeps the answer, writes the sheet."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon import __version__
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput, RatoonError, UnknownName, nearest_names
from ratoon.base.records import Decision
from ratoon.jobs.best.of_day import NOTHING_FREE, keep_best, kept_best, moves_of_day, rate_of
from ratoon.jobs.sheet.actions import ACTIONS
from ratoon.jobs.sheet.day_points import POINTS, points_digest, points_record
from ratoon.jobs.sheet.neighbours import Known, with_neighbours
from ratoon.jobs.sheet.season_loss import SECTIONS, with_told
from ratoon.jobs.sheet.to_date import Season, changed_since, inputs_digest, load, stands
from ratoon.jobs.strikes.purity_falls import FALLS, steps_of
from ratoon.jobs.tables import tables_digest
from ratoon.jobs.yard import day as yard
from ratoon.store.answers import newest_result, periods_with_result
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import head_at_result
from ratoon.store.entries import mill_days
from ratoon.store.written import DECIDED, told_of

if TYPE_CHECKING:
    from ratoon.account.period import PeriodAccount
    from ratoon.account.results.day import DayResult
    from ratoon.jobs.mills import OpenMill
    from ratoon.store.records import Result

KIND = "day"
WORKS = "works"
CHANGED = "Readings changed since this account was made: account the day again."


def account_day(opened: OpenMill, day: date, again: bool = False, moves: bool = False) -> DayResult:
    """The result of one mill day, kept and written as sheets.

    Parameters
    ----------
    again : account even when a kept result has the same inputs. moves : work out the best settings
        too, where they were not yet.

    Raises
    ------
    BadInput : a day with no readings and no stop.
    """
    begun = time.perf_counter()
    period = opened.mill_on(day).calendar.period(day)
    kept = None if again else opened.store.ask(newest_result, KIND, period)
    if kept is not None and stands(opened, kept, day):
        return _shown_again(opened, kept, day, moves)
    season = load(opened, day)
    season.look_back(opened.store, day)
    wanted = inputs_digest(season, day)
    if kept is not None and kept.inputs_digest == wanted:
        return _shown_again(opened, kept, day, moves)
    has_records(opened, season, day)
    with suppress(RatoonError):  # a yard that cannot be planned keeps no day from its account
        yard.keep(opened, day)
    result = _keep(opened, season, day, wanted, begun)
    result = (moves and _with_moves(opened, day, result)) or result
    _write(result, opened.folder)
    return result


def _shown_again(opened: OpenMill, kept: Result, day: date, moves: bool) -> DayResult:
    """A kept result as it is shown, with its sheet where that is missing."""
    result = _shown(opened, kept, day)
    fresh = moves and _with_moves(opened, day, result)
    _write(fresh or result, opened.folder, only_if_missing=not fresh)
    return fresh or result


def _with_moves(opened: OpenMill, day: date, result: DayResult) -> DayResult | None:
    """A result with the moves of the best settings; None where it has them, or can have none."""
    rate = rate_of(result.yard)
    if result.moves is None or result.moves.words == NOTHING_FREE or kept_best(opened, day, rate):
        return None
    keep_best(opened, day, rate)
    return replace(result, moves=moves_of_day(opened, day, result.inputs_digest, result.yard))


def _keep(
    opened: OpenMill, season: Season, day: date, wanted: str, begun: float,
    known: Known | None = None,
) -> DayResult:  # fmt: skip
    """Make a day's result and keep it, with every quantity of the plant beside it."""
    period = season.mill.calendar.period(day)
    result, more = _make(season, day, wanted, begun)
    own = points_digest(season.mill, season.day(day))
    more[SECTIONS] = with_told(opened.store, season.mill.calendar, period, more[SECTIONS])
    with opened.store.writing() as transaction:
        versions = to_json(result.versions)
        actions = {ACTIONS: to_json(result.actions)}
        for kind, answer in ({KIND: to_json(result)} | more | actions).items():
            made_from = own if kind == POINTS else wanted
            transaction.add_result(kind, period, made_from, versions, answer, season.seen)
    kept = opened.store.ask(newest_result, KIND, period)
    head = opened.store.ask(head_at_result, kept.id) if kept is not None else ""
    return with_neighbours(opened, KIND, day, replace(result, chain_head=head), known)


def _shown(opened: OpenMill, kept: Result, day: date, known: Known | None = None) -> DayResult:
    """A kept result as it is shown: with its place in the records, beside its neighbours."""
    from ratoon.account.results.day import DayResult

    head = opened.store.ask(head_at_result, kept.id)
    result = replace(from_json(DayResult, kept.answer), chain_head=head)
    return with_neighbours(opened, KIND, day, result, known)


def quantities_of(opened: OpenMill, result: DayResult) -> dict[str, dict[str, Any]]:
    """Every address of the plant with its figure on an accounted day."""
    from ratoon.account.figures.works import quantities

    period = opened.mill.calendar.period(date.fromisoformat(result.date))
    kept = opened.store.ask(newest_result, WORKS, period)
    read = {r.address for r in result.readings if r.used}
    return quantities(kept.answer if kept else {}, opened.mill.plant.addresses, read)


def has_records(opened: OpenMill, season: Season, day: date) -> None:
    """Refuse a mill day of which nothing was recorded."""
    period = season.mill.calendar.period(day)
    inside = any(r.end is not None and r.start and period.start <= r.start < period.end
                 for r in season.readings)  # fmt: skip
    if inside or season.stops_of(period):
        return
    days = [d.isoformat() for d in opened.store.ask(mill_days, season.mill.calendar)]
    near = nearest_names(day.isoformat(), days)
    todo = f"Nearest days with records: {', '.join(near)}." if near else "Import readings first."
    raise BadInput(f"no readings and no stop on {day.isoformat()}", todo=todo)


def decide(
    opened: OpenMill, day: date, reading: str, set_aside: bool, why: str, who: str = ""
) -> None:
    """Keep a person's word on a reading of a mill day: set aside, or kept whatever others say.

    Raises
    ------
    BadInput : nothing of that address was read on the day, or no reason is given.
    """
    gathered = load(opened, day).day(day)
    read = [r.address for r in gathered.readings if r.kind == "measured"]
    if reading not in read:
        raise UnknownName("reading", reading, read, where=day.isoformat())
    if not why.strip():
        raise BadInput("a reason is wanted", where=reading, todo="Say why, with --why")
    period = gathered.period
    with opened.store.writing(who) as transaction:
        said = Decision(period.start, period.end, reading, set_aside, why.strip(), "")
        transaction.add_event(DECIDED, told_of(said))


def make_result(season: Season, day: date, wanted: str, begun: float) -> DayResult:
    """Account a day with its week and season to date."""
    return _make(season, day, wanted, begun)[0]


def _make(
    season: Season, day: date, wanted: str, begun: float
) -> tuple[DayResult, dict[str, dict[str, Any]]]:
    """A day's result, and what is kept beside it by its kind."""
    from ratoon.account.figures.purity_falls import falls
    from ratoon.account.losses.swing import steadier
    from ratoon.account.losses.undetermined import judge
    from ratoon.account.losses.with_season import section_losses
    from ratoon.account.period import account
    from ratoon.account.readings.gathered import NoteKind
    from ratoon.account.readings.strikes import agreement
    from ratoon.account.result import Made, day_result, to_date_part
    from ratoon.account.results.day import Seconds, Span, ToDate, Versions
    from ratoon.account.trust.drift import with_drifts
    from ratoon.account.trust.suspects import aside_words

    mill = season.mill
    compile_begun = time.perf_counter()
    mill.plant.equations.compiled("account")
    compiled = time.perf_counter() - compile_begun
    gathered = season.day(day)
    reconcile_begun = time.perf_counter()
    today = account(mill, with_drifts(mill, gathered, season.drifts, season.seen_by))
    if today.answer is not None:
        _ = today.answer.readings, today.answer.suspects
    told = points_record(today)
    season.take(day, told)
    reconciled = time.perf_counter() - reconcile_begun
    calendar = mill.calendar
    parts: dict[Span, ToDate] = {}
    joined: dict[Span, PeriodAccount] = {}
    spans: dict[Span, date] = {"week": calendar.first_of_week_to_date(day),
                               "season": calendar.first_of_season(day)}  # fmt: skip
    since: dict[date, tuple[PeriodAccount, int]] = {}
    for name, first in spans.items():
        # in the first days of a season its week is all there is of it, and is accounted once
        first = min(season.begins(first), day)
        if first not in since:
            since[first] = _to_date(season, first, day)
        joined[name], days = since[first]
        # days that were not recorded lie between, and are not counted
        begun_on = calendar.day_of(joined[name].gathered.period.start)
        parts[name] = to_date_part(joined[name], begun_on, days)
    stops = season.stops_of(gathered.period)
    judged = judge(today, *_with_the_day_before(season, day, today))
    steady = steadier(joined["week"], joined["season"])
    versions = Versions(__version__, digest(mill.settings.text), tables_digest())
    made = Made(parts, wanted, versions, Seconds(compiled, reconciled, 0.0))
    result = day_result(today, day, stops, made, judged, steady)
    kinds = (NoteKind.SET_ASIDE, NoteKind.UNSETTLED)
    notes = (f"{name} to date: {n.words}" for name, done in joined.items()
             for n in done.gathered.notes if n.kind in kinds)  # fmt: skip
    own = (f"{name} to date: {words}" for name, done in joined.items()
           for words in aside_words(done))  # fmt: skip
    strikes = agreement(mill, gathered, season.of_strikes(day))
    words = replace(result.words, notes=(*result.words.notes, *notes, *own, *strikes))
    seconds = replace(made.seconds, total=time.perf_counter() - begun)
    works = to_json(works_of(season, today))
    more = {WORKS: works, POINTS: told, SECTIONS: to_json(section_losses(today)) or {},
            FALLS: to_json(falls(steps_of(mill), works.get("figures", {})))}  # fmt: skip
    return replace(result, words=words, seconds=seconds), more


def _with_the_day_before(
    season: Season, day: date, today: PeriodAccount
) -> tuple[PeriodAccount | None, PeriodAccount | None]:
    """The day before, and both days as one: asked where a day's undetermined loss leaves zero out.

    A stock read wrong between two days makes a loss of the one and a gain of the other.
    """
    from ratoon.account.losses.undetermined import asks_for_more
    from ratoon.account.period import account
    from ratoon.base.errors import RatoonError

    before = day - timedelta(days=1)
    if not asks_for_more(today) or before < season.mill.calendar.first_of_season(day):
        return None, None
    if not season.day(before).recorded:
        return None, None
    try:
        yesterday = account(season.mill, season.day(before))
    except RatoonError:
        return None, None  # a day that cannot be accounted says nothing of this one
    return yesterday, _to_date(season, before, day)[0]


def works_of(season: Season, today: PeriodAccount) -> dict[str, Any]:
    """Every quantity of the plant on a day, and what a trial that starts there is given."""
    from ratoon.account.figures.works import works_part
    from ratoon.account.readings.given import from_account

    works = works_part(today)
    if today.answer is not None:
        plant = season.mill.plant
        works["given"] = from_account(plant, today.answer, today.gathered.constants)
    return works


def _to_date(season: Season, first: date, day: date) -> tuple[PeriodAccount, int]:
    """The account from a mill day, or the first record after it, to `day`; days recorded in it."""
    from ratoon.account.period import PeriodAccount, account
    from ratoon.account.readings.gathered import NoteKind
    from ratoon.account.readings.to_date import join
    from ratoon.base.errors import RatoonError

    first = min(season.begins(first), day)
    days = [first + timedelta(days=k) for k in range((day - first).days + 1)]
    gathered = [season.settled(d) for d in days]
    whole = join(season.mill, gathered)
    recorded = sum(1 for g in gathered if g.recorded)
    try:
        return account(season.mill, whole), recorded
    except RatoonError as error:
        # A period that cannot be accounted is said to be so; the day itself still stands.
        whole.readings.clear()
        whole.note(NoteKind.REFUSED, f"to date: {error}")
        return PeriodAccount(season.mill, whole, None), recorded


def _write(result: DayResult, folder: Path, only_if_missing: bool = False) -> None:
    from ratoon.reports.write import is_whole, write_morning

    place = folder / "sheets" / result.date
    if not (only_if_missing and is_whole(place)):
        write_morning(result, place)


def kept_day(opened: OpenMill, day: date, known: Known | None = None) -> DayResult:
    """The newest kept result of a mill day; the day is accounted when none is kept.

    Pages ask this: they show what was accounted last and never wait for a new account.

    Parameters
    ----------
    known : gives other days' newest results where they are at hand.
    """
    kept = opened.store.ask(newest_result, KIND, opened.mill.calendar.period(day))
    if kept is None:
        return account_day(opened, day)
    result = _shown(opened, kept, day, known)
    if changed_since(opened, kept, day):
        words = replace(result.words, notes=(*result.words.notes, CHANGED))
        result = replace(result, words=words)
    return result


def accounted_days(opened: OpenMill) -> list[str]:
    """The accounted dates, oldest first."""
    periods = opened.store.ask(periods_with_result, KIND)
    return sorted(opened.mill.calendar.day_of(p.start).isoformat() for p in periods)


def account_all(
    opened: OpenMill, progress: Callable[[str], None] | None = None, again: bool = False
) -> list[str]:
    """Account every mill day with records; each season's are read and gathered once.

    Sheets are written for the newest season; an earlier day's when that day is asked for.
    """
    from ratoon.account.results.day import DayResult, slim

    done, known = [], dict[date, DayResult]()
    days = opened.store.ask(mill_days, opened.mill.calendar)
    season: Season | None = None
    for n, day in enumerate(days, 1):
        begun = time.perf_counter()
        if season is None or not season.mill.calendar.same_season(days[n - 2], day):
            # Seasons do not run together: each is read once, up to its last day.
            same = opened.mill.calendar.same_season
            season = load(opened, max(d for d in days if same(d, day)))
        if (held := opened.mill_on(day)) is not season.mill:
            # An old day is accounted with the mill file of its day.
            season = season.of(held)
        season.look_back(opened.store, day)
        wanted = inputs_digest(season, day)
        kept = opened.store.ask(newest_result, KIND, season.mill.calendar.period(day))
        if again or kept is None or kept.inputs_digest != wanted:
            result = _keep(opened, season, day, wanted, begun, known.get)
            if season.mill.calendar.same_season(day, days[-1]):
                _write(result, opened.folder)  # of a season gone by when it is asked for
        else:
            result = from_json(DayResult, kept.answer)
        known[day] = slim(result)
        done.append(day.isoformat())
        if progress is not None:
            progress(f"accounted {day.isoformat()} ({n} of {len(days)})")
    return done
