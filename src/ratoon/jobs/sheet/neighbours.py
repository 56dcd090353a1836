"""What a day's sheet takes from other accounted days: day before, trend, the week a year before.

They come from results that are kept, so they may change when those days are accounted again; they
are no part of the day's own result and are put beside it whenever it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from ratoon.base.as_json import from_json
from ratoon.base.records import Period
from ratoon.jobs.best.of_day import moves_of_day
from ratoon.jobs.season.ahead import ahead_of_day
from ratoon.jobs.sheet.season_loss import beside_its_season
from ratoon.jobs.strikes.purity_falls import line_of_day
from ratoon.jobs.yard import day as yard
from ratoon.store.answers import newest_parts, newest_result

if TYPE_CHECKING:
    from ratoon.account.results.day import DayResult, Point
    from ratoon.jobs.mills import OpenMill

Known = Callable[[date], "DayResult | None"]
"""The result of a mill day as far as it is at hand: its figures and its week to date."""
TREND_DAYS = 14
A_YEAR = timedelta(weeks=52)  # the same day of the week
TRENDS = (
    "account.rate", "account.extraction", "account.bagasse_moisture", "account.liquor_brix",
    "account.molasses_purity", "account.boiling_house_recovery", "account.overall_recovery",
    "account.undetermined",
)  # fmt: skip


def with_neighbours(
    opened: OpenMill, kind: str, day: date, result: DayResult, known: Known | None = None
) -> DayResult:
    """A day's result with its trend, the day before and the week a year before, as accounted.

    Parameters
    ----------
    known : gives other days' newest results where they are at hand; else the store is asked.

    Returns
    -------
    ``trend``: for each figure its last days, the day itself last; days without it have None.
    ``yard``: the yard in a line, where it was planned for this day.
    ``moves``: what the best settings advise, where they were worked out for this account.
    ``exhaustion``: the step that lost purity of molasses, "" where none did.
    ``ahead``: what was planned, and the season ahead as it is kept.
    ``last_year``: the week to date 52 weeks before. ``undetermined`` with what the season's earlier
    days lost.
    """
    from ratoon.account.results.day import DayBefore, FigureResult, ToDate

    store, calendar = opened.store, opened.mill.calendar
    first = day - timedelta(days=TREND_DAYS - 1)
    figures: dict[date, Mapping[str, FigureResult]] = {}
    if known is None:
        near = Period(calendar.period(first).start, calendar.period(day).start)
        for period, _, told in store.ask(newest_parts, kind, "figures", near):
            read = {a: FigureResult(**f) for a, f in told.items()}
            figures[calendar.day_of(period.start)] = read
        newest = store.ask(newest_result, kind, calendar.period(day - A_YEAR))
        week = from_json(ToDate, newest.answer["to_date"]["week"]) if newest is not None else None
    else:
        days = (first + timedelta(days=n) for n in range(TREND_DAYS - 1))
        figures = {when: found.figures for when in days if (found := known(when)) is not None}
        before = known(day - A_YEAR)
        week = before.to_date.get("week") if before is not None else None
    figures[day] = result.figures
    trend: dict[str, tuple[Point, ...]] = {}
    for address in TRENDS:
        parts = ((when, figures[when].get(address)) for when in sorted(figures))
        trend[address] = tuple(
            (when.isoformat(), part.value, part.sigma) if part else (when.isoformat(), None, None)
            for when, part in parts
        )
    yesterday = figures.get(day - timedelta(days=1))
    day_before = None
    if yesterday is not None:
        day_before = DayBefore((day - timedelta(days=1)).isoformat(), yesterday)
    cane = yard.kept_line(store, calendar, day)
    judged = result.undetermined
    if judged is not None:
        judged = beside_its_season(store, calendar, calendar.period(day), judged)
    moves = None
    if result.status != "no crush":
        moves = moves_of_day(opened, day, result.inputs_digest, cane)
    spans: dict[str, str] = {name: part.from_ for name, part in result.to_date.items()}
    return replace(
        result, undetermined=judged, trend=trend, day_before=day_before, last_year=week,
        moves=moves, ahead=ahead_of_day(opened, day, spans),
        yard=cane, exhaustion=line_of_day(store, opened.mill, day),
    )  # fmt: skip
