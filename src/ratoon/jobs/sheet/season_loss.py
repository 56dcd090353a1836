"""Undetermined losses beside those of the season's earlier days, as they are kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from ratoon.base.as_json import from_json, to_json
from ratoon.base.clock import Calendar
from ratoon.base.records import Period
from ratoon.store.answers import any_after, newest_result, newest_results

if TYPE_CHECKING:
    from ratoon.account.results.trust import Judged, LossEstimate
    from ratoon.store import Store

SECTIONS = "sections"
"""Kind under which a day's losses by section are kept, small enough to ask for a whole season's."""
OF_WEEK = "sections of week"
KEPT = "with_season"
"""Key under which the figure that knows the days before is kept beside them."""


def beside_its_season(
    store: Store, calendar: Calendar, period: Period, judged: Judged, kind: str = SECTIONS
) -> Judged:
    """What is said of a day's or week's loss, with the figure that knows the days before.

    It is kept with the losses by section; days before that were accounted since have it made again.
    """
    from ratoon.account.results.trust import LossEstimate

    own = store.ask(newest_result, kind, period) if judged.alone is not None else None
    if own is None or not own.answer:
        return judged
    before = _before(calendar, period)
    if KEPT in own.answer and not store.ask(any_after, (SECTIONS,), own.id, before):
        told = own.answer[KEPT]
        return replace(judged, with_season=from_json(LossEstimate, told) if told else None)
    return replace(judged, with_season=_told(store, calendar, period, own.answer))


def with_told(
    store: Store, calendar: Calendar, period: Period, sections: Mapping[str, Any]
) -> dict[str, Any]:
    """A day's or week's losses by section as they are kept: with what they say in their season."""
    if not sections:
        return {}
    return {**sections, KEPT: to_json(_told(store, calendar, period, sections))}


def _before(calendar: Calendar, period: Period) -> Period:
    """The season before a day or week."""
    first = calendar.first_of_season(calendar.day_of(period.start))
    return Period(calendar.period(first).start, period.start)


def _told(
    store: Store, calendar: Calendar, period: Period, sections: Mapping[str, Any]
) -> LossEstimate | None:
    from ratoon.account.losses.with_season import SectionLosses, with_season

    first, last = calendar.day_of(period.start), calendar.day_of(period.end)
    days: list[tuple[date, SectionLosses]] = []
    for kept in store.ask(newest_results, SECTIONS, _before(calendar, period)):
        if kept.answer:
            week = calendar.first_of_week(calendar.day_of(kept.period.start))
            days.append((week, from_json(SectionLosses, kept.answer)))
    return with_season(from_json(SectionLosses, sections), days, (last - first).days)
