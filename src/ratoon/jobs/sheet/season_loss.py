"""Undetermined losses beside those of the season's earlier days, as they are kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from ratoon.base.as_json import from_json
from ratoon.base.clock import Calendar
from ratoon.base.records import Period
from ratoon.store.answers import newest_result, newest_results

if TYPE_CHECKING:
    from ratoon.account.results.trust import Judged
    from ratoon.store import Store

SECTIONS = "sections"
"""Kind under which a day's losses by section are kept, small enough to ask for a whole season's."""
OF_WEEK = "sections of week"


def beside_its_season(
    store: Store, calendar: Calendar, period: Period, judged: Judged, kind: str = SECTIONS
) -> Judged:
    """What is said of a day's or week's loss, with the figure that knows the days before.

    They may be accounted again, so it is put beside whenever the day is asked for.
    """
    from ratoon.account.losses.with_season import SectionLosses, with_season

    own = store.ask(newest_result, kind, period) if judged.alone is not None else None
    if own is None or not own.answer:
        return judged
    first, last = calendar.day_of(period.start), calendar.day_of(period.end)
    before = Period(calendar.period(calendar.first_of_season(first)).start, period.start)
    days: list[tuple[date, SectionLosses]] = []
    for kept in store.ask(newest_results, SECTIONS, before):
        if kept.answer:
            week = calendar.first_of_week(calendar.day_of(kept.period.start))
            days.append((week, from_json(SectionLosses, kept.answer)))
    told = with_season(from_json(SectionLosses, own.answer), days, (last - first).days)
    return replace(judged, with_season=told)
