"""Accounts mill weeks and the season to date: the account, the charts, the manufacturing report.

A week is an account of its own (`account.to_date`), kept like a day: with the digest of all it was
made from, and marked when that has changed. What each day tells the charts is kept beside the day,
so that a chart over a season need not account every day again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ratoon import __version__
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.records import Period
from ratoon.jobs.season.ahead import planned_figures
from ratoon.jobs.season.plan import planned_for
from ratoon.jobs.sheet.day_points import POINTS, points_digest, points_of_day
from ratoon.jobs.sheet.season_loss import OF_WEEK, beside_its_season, with_told
from ratoon.jobs.sheet.to_date import Season, changed_since, inputs_digest, load
from ratoon.jobs.tables import tables_digest
from ratoon.store.answers import newest_result, newest_results, periods_with_result
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import head_at_result
from ratoon.store.entries import mill_days

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.period import PeriodAccount
    from ratoon.account.readings.gathered import Gathered
    from ratoon.account.results.day import LostTime
    from ratoon.account.results.week import Column, DayFigures, WeekFigures, WeekResult
    from ratoon.account.trust.cusum import Charts
    from ratoon.base.clock import Calendar
    from ratoon.jobs.mills import OpenMill
    from ratoon.store import Store
    from ratoon.store.records import Result

WEEK, TO_DATE, OF_TREND = "week", "season to date", "trend of week"
CHANGED = "Readings changed since this account was made: account the week again."


def account_week(
    opened: OpenMill, day: date, season: bool = False, again: bool = False
) -> WeekResult:
    """The result of the mill week that holds a day, kept and written as reports.

    Parameters
    ----------
    season : the whole season to the end of `day` in place of a week.
    again : account even when a kept result has the same inputs.

    Raises
    ------
    BadInput : a week with no readings and no stop.
    """
    store = opened.store
    first, last = span(opened, day, season)
    records = load(opened, last)
    wanted = week_digest(records, first, last)
    period = _period(records.mill.calendar, first, last)
    kept = None if again else store.ask(newest_result, _kind(season), period)
    if kept is not None and kept.inputs_digest == wanted:
        result = _shown(opened, kept)
        _write(result, opened.folder, only_if_missing=True)
        return result
    result, sections = _make(store, records, first, last, season)
    result = replace(result, inputs_digest=wanted)
    versions = to_json(result.versions)
    store.add_result(_kind(season), period, wanted, versions, to_json(result), records.seen)
    if not season:
        sections = with_told(store, records.mill.calendar, period, sections)
        store.add_result(OF_WEEK, period, wanted, versions, sections, records.seen)
    newest = store.ask(newest_result, _kind(season), period)
    result = replace(
        result, chain_head=store.ask(head_at_result, newest.id) if newest is not None else ""
    )
    result = _beside(opened, period, result)
    _write(result, opened.folder)
    return result


def _beside(opened: OpenMill, period: Period, result: WeekResult) -> WeekResult:
    """A week's result with its undetermined loss beside that of the season's earlier days, and
    any result with what was planned."""
    result = replace(result, planned=_planned(opened, result))
    week = result.columns.get("week")
    if week is None:
        return result
    calendar = opened.mill.calendar
    judged = beside_its_season(opened.store, calendar, period, week.undetermined, OF_WEEK)
    columns = {**result.columns, "week": replace(week, undetermined=judged)}
    return replace(result, columns=columns)


def _planned(opened: OpenMill, result: WeekResult) -> dict[str, float]:
    """What the plan sets for a result's lines, by their keys."""
    from ratoon.account.figures.manufacturing import groups_of

    first, last = (date.fromisoformat(d) for d in (result.first, result.date))
    told = planned_figures(planned_for(opened, first, last))
    lines = (line for lines in groups_of(opened.mill).values() for line in lines) if told else ()
    return {line.key: told[line.address] for line in lines if line.address in told}


def _shown(opened: OpenMill, kept: Result) -> WeekResult:
    """A kept result with its place in the records, beside the season's earlier days."""
    from ratoon.account.results.week import WeekResult

    head = opened.store.ask(head_at_result, kept.id)
    result = replace(from_json(WeekResult, kept.answer), chain_head=head)
    return _beside(opened, kept.period, result)


def _kind(season: bool) -> str:
    return TO_DATE if season else WEEK


def span(opened: OpenMill, day: date, season: bool) -> tuple[date, date]:
    """First and last day of the week (or season to date) that holds a day, as far as records go."""
    calendar, ask = opened.mill.calendar, opened.store.ask
    within = _period(calendar, *_asked(calendar, day, season))
    found = _ends(calendar, ask(mill_days, calendar, within), day, season)
    if found is None:
        what, days = "season" if season else "week", ask(mill_days, calendar)
        near = f"Newest day with records: {days[-1]}." if days else "Import readings first."
        raise BadInput(f"no readings and no stop in the {what} of {day.isoformat()}", todo=near)
    return found


def _asked(calendar: Calendar, day: date, season: bool) -> tuple[date, date]:
    """First and last day of the week (or season to date) that holds a day."""
    if season:
        return calendar.first_of_season(day), day
    return calendar.first_of_week_to_date(day), calendar.first_of_week(day) + timedelta(days=6)


def _ends(
    calendar: Calendar, recorded: Sequence[date], day: date, season: bool = False
) -> tuple[date, date] | None:
    """First and last of those days with records: before the first nothing is known."""
    first, end = _asked(calendar, day, season)
    mine = [d for d in recorded if d <= end and calendar.same_season(d, day)]
    if not mine or mine[-1] < first:
        return None
    return max(first, mine[0]), mine[-1]


def _period(calendar: Calendar, first: date, last: date) -> Period:
    return Period(calendar.period(first).start, calendar.period(last).end)


def week_digest(records: Season, first: date, last: date) -> str:
    """Digest of all that a week's result is made from: the season's records up to its end."""
    return digest({"first": first.isoformat(), "to": inputs_digest(records, last)})


def _make(
    store: Store, records: Season, first: date, last: date, season: bool
) -> tuple[WeekResult, dict[str, Any]]:
    """A week with the week before it and the season to date; its own losses by section."""
    from ratoon.account import week_result as parts
    from ratoon.account.learn import learnt_words
    from ratoon.account.losses.with_season import section_losses
    from ratoon.account.results.day import Versions
    from ratoon.account.results.week import WeekResult, WeekWords
    from ratoon.account.trust.suspects import aside_words

    mill = records.mill
    begin = min(records.begins(mill.calendar.first_of_season(last)), first)
    spans: dict[Column, tuple[date, date]] = {"season": (begin, last)}
    if not season:
        spans = {"week": (first, last), **spans}
        before = max(first - timedelta(days=7), begin)
        if before < first and _recorded(records, before, first - timedelta(days=1)):
            spans["last_week"] = (before, first - timedelta(days=1))
    charts, daily = season_charts(store, records, begin, last)  # accounts days that had none
    accounts = {n: _account(mill, _joined(records, a, b)) for n, (a, b) in spans.items()}
    columns = {n: parts.span_part(accounts[n], a, b, _recorded(records, a, b), _called(n))
               for n, (a, b) in spans.items()}  # fmt: skip
    main: Literal["season", "week"] = "season" if season else "week"
    shown_from = begin if season else first
    made = WeekResult(
        kind=main,
        date=last.isoformat(),
        first=first.isoformat(),
        mill=mill.name,
        mill_name=mill.name,
        invented=mill.settings.mill.invented,
        currency=mill.settings.mill.currency,
        columns=columns,
        groups=parts.groups_part(mill, columns),
        not_read=parts.not_read(mill, columns),
        sections=parts.sections_part(accounts[main]),
        charts=parts.charts_part(mill, charts),
        alarms=parts.alarms_part(mill, charts, shown_from, last),
        beyond=parts.beyond_part(mill, charts),
        lost_time_by_cause={n: lost_in(records, *spans[n]) for n in columns},
        daily=daily,
        weekly=_weekly(store, records, begin, last),
        words=WeekWords(
            {n: columns[n].undetermined.words for n in columns},
            (
                *(n.words for n in accounts[main].gathered.notes),
                *aside_words(accounts[main]),
                *learnt_words(mill, min(first for first, _ in spans.values())),
            ),
        ),
        versions=Versions(__version__, digest(mill.settings.text), tables_digest()),
    )
    return made, to_json(section_losses(accounts[main])) or {}


def _called(column: Column) -> str:
    return "season" if column == "season" else "week"


def _days(first: date, last: date) -> int:
    return (last - first).days + 1


def _recorded(records: Season, first: date, last: date) -> int:
    """Days of a stretch of which something is recorded."""
    return sum(1 for n in range(_days(first, last))
               if records.day(first + timedelta(days=n)).recorded)  # fmt: skip


def _joined(records: Season, first: date, last: date) -> Gathered:
    """A stretch of days as one period."""
    from ratoon.account.readings.to_date import join

    days = (first + timedelta(days=n) for n in range(_days(first, last)))
    return join(records.mill, [records.settled(day) for day in days])


def accounted_span(records: Season, first: date, last: date) -> PeriodAccount:
    """One account of a stretch of days."""
    return _account(records.mill, _joined(records, first, last))


def _account(mill: Mill, whole: Gathered) -> PeriodAccount:
    """Account a stretch of days; one that cannot be accounted says so and has no figures."""
    from ratoon.account.period import PeriodAccount, account
    from ratoon.account.readings.gathered import NoteKind

    try:
        return account(mill, whole)
    except RatoonError as error:
        days = mill.calendar.days_of(whole.period)
        whole.readings.clear()
        whole.note(NoteKind.REFUSED, f"{days[0]} to {days[-1]}: {error}")
        return PeriodAccount(mill, whole, None)


def lost_in(records: Season, first: date, last: date) -> tuple[LostTime, ...]:
    """Crushing hours lost by cause over a stretch of days."""
    from ratoon.account.period import PeriodAccount
    from ratoon.account.readings.gather import MILLS
    from ratoon.account.result import lost_time
    from ratoon.account.week_result import lost_by_cause

    days = [records.day(first + timedelta(days=n)) for n in range(_days(first, last))]
    whole = Period(days[0].period.start, days[-1].period.end)
    return lost_by_cause(
        [lost_time(PeriodAccount(records.mill, d, None), records.stops_of(d.period)) for d in days],
        [s for s in records.stops_of(whole) if s.station.strip().lower() in MILLS],
    )


def _weekly(store: Store, records: Season, begin: date, last: date) -> tuple[WeekFigures, ...]:
    """Each week of the season to date: an account of its own, for the trend of losses.

    Its figures are kept with the digest of what they are made from, so that only the weeks in which
    something changed are accounted.
    """
    from ratoon.account.results.week import WeekFigures
    from ratoon.account.week_result import trend_part

    mill, out, day = records.mill, [], begin
    known = store.ask(newest_results, OF_TREND, _period(mill.calendar, begin, last))
    kept = {(r.period, r.inputs_digest): r.answer for r in known}
    while day <= last:
        end = min(mill.calendar.first_of_week(day) + timedelta(days=6), last)
        whole = _joined(records, day, end)
        wanted = points_digest(mill, whole)
        told = kept.get((whole.period, wanted))
        if told is None:
            told = to_json(trend_part(_account(mill, whole)))
            versions = {"program": __version__, "tables": tables_digest()}
            store.add_result(OF_TREND, whole.period, wanted, versions, told, records.seen)
        figures = {a: (value, sigma) for a, (value, sigma) in told.items()}
        out.append(WeekFigures(day.isoformat(), end.isoformat(), figures))
        day = end + timedelta(days=1)
    return tuple(out)


def season_charts(
    store: Store, records: Season, begin: date, last: date
) -> tuple[Charts, tuple[DayFigures, ...]]:
    """Charts over the days of a season, and figures of each day for the pictures."""
    from ratoon.account.results.week import DayFigures
    from ratoon.account.trust.cusum import run_charts
    from ratoon.account.trust.points import from_record

    calendar = records.mill.calendar
    within = _period(calendar, begin, last)
    kept = {r.period.start: r for r in store.ask(newest_results, POINTS, within)}
    series, daily = [], []
    for n in range(_days(begin, last)):
        day = begin + timedelta(days=n)
        gathered = records.day(day)
        if not gathered.recorded:
            daily.append(DayFigures(day.isoformat(), {}))
            continue
        told = points_of_day(store, records.mill, gathered, kept.get(calendar.period(day).start))
        records.take(day, told)
        series.append((day, [from_record(p) for p in told["points"]]))
        figures = {a: (value, sigma) for a, (value, sigma) in told["figures"].items()}
        daily.append(DayFigures(day.isoformat(), figures))
    return run_charts(series, records.mill.calibrated), tuple(daily)


def _write(result: WeekResult, folder: Path, only_if_missing: bool = False) -> None:
    from ratoon.reports.write import is_whole
    from ratoon.reports.write_week import write_week

    place = folder / "sheets" / f"{result.kind}-{result.date}"
    if not (only_if_missing and is_whole(place)):
        write_week(result, place)


def kept_week(opened: OpenMill, day: date, season: bool = False) -> WeekResult:
    """The newest kept result of the week that holds a day; accounted when none is kept.

    Pages ask this: they show what was accounted last, and say when readings changed since.
    """
    return found_week(opened, day, season) or account_week(opened, day, season)


def found_week(opened: OpenMill, day: date, season: bool) -> WeekResult | None:
    """The newest kept result of the week that holds a day; None when none is kept."""
    first, last = span(opened, day, season)
    period = _period(opened.mill.calendar, first, last)
    kept = opened.store.ask(newest_result, _kind(season), period)
    if kept is None:
        return None
    result = _shown(opened, kept)
    if not changed_since(opened, kept, last):
        return result
    words = replace(result.words, notes=(*result.words.notes, CHANGED))
    return replace(result, words=words)


def without_account(opened: OpenMill, days: Sequence[str], season: bool = False) -> list[date]:
    """The weeks that hold some days and have no account, be it an older one: a day of each.

    `season` asks for the season to each of the days in their place.
    """
    calendar = opened.mill.calendar
    recorded = opened.store.ask(mill_days, calendar)
    kept = set(opened.store.ask(periods_with_result, _kind(season)))
    missing = {}
    for day in map(date.fromisoformat, days):
        ends = _ends(calendar, recorded, day, season)
        if ends is not None and _period(calendar, *ends) not in kept:
            missing[ends] = day
    return list(missing.values())


def weeks(opened: OpenMill) -> list[tuple[date, date]]:
    """The mill weeks with records, oldest first: first and last day of each."""
    calendar = opened.mill.calendar
    days = opened.store.ask(mill_days, calendar)
    out: dict[date, tuple[date, date]] = {}
    begun = days[0] if days else date.min
    for d in days:
        begun = begun if calendar.same_season(begun, d) else d
        first = max(calendar.first_of_week_to_date(d), begun)
        out[first] = (first, d)
    return sorted(out.values())
