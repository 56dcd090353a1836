"""What a day's sheet takes from other accounted days: the trend before it, the week a year before.

They come from results that are kept, so they may change when those days are accounted again; they
are no part of the day's own result and are put beside it whenever it is asked for.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.records import Period

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.store import Store

TREND_DAYS = 14
A_YEAR = timedelta(weeks=52)  # the same day of the week
TRENDS = (
    "account.rate", "account.extraction", "account.bagasse_moisture", "account.liquor_brix",
    "account.molasses_purity", "account.boiling_house_recovery", "account.overall_recovery",
    "account.undetermined",
)  # fmt: skip


def beside(
    store: Store, calendar: Calendar, kind: str, day: date, result: dict[str, Any]
) -> dict[str, Any]:
    """``trend`` and, where that week was accounted, ``last_year``.

    Returns
    -------
    ``trend``: address -> list of [date, value, sigma], the day itself last; days without the
    figure have None. ``last_year``: the week to date 52 weeks before, as in ``to_date``.
    """
    first = calendar.period(day - timedelta(days=TREND_DAYS - 1)).start
    kept = store.newest_results(kind, Period(first, calendar.period(day).start))
    answers = {calendar.day_of(r.period.start): r.answer for r in kept}
    answers[day] = result
    trend: dict[str, list[list[Any]]] = {}
    for address in TRENDS:
        points = []
        for when in sorted(answers):
            part = answers[when].get("figures", {}).get(address) or {}
            points.append([when.isoformat(), part.get("value"), part.get("sigma")])
        trend[address] = points
    found: dict[str, Any] = {"trend": trend}
    before = store.newest_result(kind, calendar.period(day - A_YEAR))
    week = before.answer.get("to_date", {}).get("week") if before is not None else None
    if week:
        found["last_year"] = week
    return found
