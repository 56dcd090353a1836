"""What a day's sheet takes from other accounted days: day before, trend, the week a year before.

They come from results that are kept, so they may change when those days are accounted again; they
are no part of the day's own result and are put beside it whenever it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.records import Period
from ratoon.jobs import yard

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.store import Store

Known = Callable[[date], Mapping[str, Any] | None]
"""The result of a mill day as far as it is at hand: its figures and its week to date."""
TREND_DAYS = 14
A_YEAR = timedelta(weeks=52)  # the same day of the week
TRENDS = (
    "account.rate", "account.extraction", "account.bagasse_moisture", "account.liquor_brix",
    "account.molasses_purity", "account.boiling_house_recovery", "account.overall_recovery",
    "account.undetermined",
)  # fmt: skip


def beside(
    store: Store,
    calendar: Calendar,
    kind: str,
    day: date,
    result: Mapping[str, Any],
    known: Known | None = None,
) -> dict[str, Any]:
    """``trend``; ``day_before`` and ``last_year`` where that day and that week were accounted.

    Parameters
    ----------
    known : gives other days' newest results where they are at hand; else the store is asked.

    Returns
    -------
    ``trend``: address -> list of [date, value, sigma], the day itself last; days without the
    figure have None. ``yard``: the yard in a line, where it was planned for this day.
    ``day_before``: that mill day's date and figures. ``last_year``: the week to date 52 weeks
    before, as in ``to_date``.
    """
    first = day - timedelta(days=TREND_DAYS - 1)
    answers: dict[date, Mapping[str, Any]]
    if known is None:
        kept = store.newest_results(
            kind, Period(calendar.period(first).start, calendar.period(day).start)
        )
        answers = {calendar.day_of(r.period.start): r.answer for r in kept}
        newest = store.newest_result(kind, calendar.period(day - A_YEAR))
        before = newest.answer if newest is not None else None
    else:
        near = (first + timedelta(days=n) for n in range(TREND_DAYS - 1))
        answers = {when: found for when in near if (found := known(when)) is not None}
        before = known(day - A_YEAR)
    answers[day] = result
    trend: dict[str, list[list[Any]]] = {}
    for address in TRENDS:
        points = []
        for when in sorted(answers):
            part = answers[when].get("figures", {}).get(address) or {}
            points.append([when.isoformat(), part.get("value"), part.get("sigma")])
        trend[address] = points
    beside_it: dict[str, Any] = {"trend": trend}
    yesterday = answers.get(day - timedelta(days=1))
    if yesterday is not None:
        beside_it["day_before"] = {
            "date": (day - timedelta(days=1)).isoformat(),
            "figures": yesterday.get("figures", {}),
        }
    line = yard.kept_line(store, calendar, day)
    if line is not None:
        beside_it["yard"] = line
    week = before.get("to_date", {}).get("week") if before is not None else None
    if week:
        beside_it["last_year"] = week
    return beside_it
