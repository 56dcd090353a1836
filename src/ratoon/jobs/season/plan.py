"""Plans by week and booked costs from the store, and whether a plan may come in beside others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

from ratoon.base.records import Period
from ratoon.base.season import UNDATED, CostRow, PlanWeek
from ratoon.importers.records import FileRows, Refusal, Row
from ratoon.jobs.files.plain_rows import record_of
from ratoon.plans.bridge.planned import Planned, planned
from ratoon.store.cane import kept as stored

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.jobs.mills import OpenMill
    from ratoon.store import Store

_ALL = Period(datetime(1900, 1, 1, tzinfo=UTC), datetime(2300, 1, 1, tzinfo=UTC))
DAY = timedelta(days=1)


def plan_weeks(opened: OpenMill, first: date = date(1900, 1, 1)) -> list[PlanWeek]:
    """Every week of every plan from a day on, oldest first."""
    within = Period(datetime.combine(first, time(), UTC), _ALL.end)
    return [record_of(r) for r in opened.store.ask(stored.records, "plan week", within)]


def booked(opened: OpenMill, first: date, last: date) -> dict[date, list[CostRow]]:
    """Costs booked for the mill weeks that lie whole in a span; a season's first may be short."""
    calendar = opened.mill.calendar
    begin = calendar.first_of_week(first)
    if max(begin, calendar.first_of_season(first)) < first:
        begin += 7 * DAY
    within = Period(*(datetime.combine(d, time(), UTC) for d in (begin, last + DAY)))
    found: dict[date, list[CostRow]] = {}
    for row in opened.store.ask(stored.records, "cost", within):
        cost: CostRow = record_of(row)
        if cost.week + 6 * DAY <= last:
            found.setdefault(cost.week, []).append(cost)
    return found


def planned_for(
    opened: OpenMill, first: date, last: date, weeks: Sequence[PlanWeek] | None = None
) -> Planned | None:
    """What the plan in force sets for a span; None where no plan has a day of it."""
    known = plan_weeks(opened, first - 7 * DAY) if weeks is None else weeks
    return planned(known, first, last, _season_first(opened.mill.calendar, last))


def _season_first(calendar: Calendar, day: date) -> date:
    """The first mill day of a day's season; long ago where the mill file knows none that early."""
    begin = calendar.first_of_season(day)
    return date.min if calendar.same_season(begin - DAY, begin) else begin


def season_plan(
    opened: OpenMill, day: date, known: Sequence[PlanWeek] | None = None
) -> Planned | None:
    """What the plan in force when the season began sets for the whole of it."""
    calendar = opened.mill.calendar
    known = plan_weeks(opened) if known is None else known
    weeks = [w for w in known if calendar.same_season(w.week + 6 * DAY, day)]
    if not weeks:
        return None
    begin = _season_first(calendar, day)
    first = max(begin, min(w.week for w in weeks))
    return planned(weeks, first, max(w.week for w in weeks) + 6 * DAY, begin)


def weeks_ahead(opened: OpenMill, day: date, starts: Sequence[str]) -> dict[str, Planned]:
    """What the plans known on the morning after a day set for weeks to come, by first day.

    Parameters
    ----------
    starts : first mill day of each week, in order.
    """
    known = plan_weeks(opened, day - 7 * DAY)
    known = [w for w in known if w.made <= day + DAY] or known
    first = [date.fromisoformat(s) for s in starts]
    found = {}
    for n, start in enumerate(first):
        last = first[n + 1] - DAY if n + 1 < len(first) else start + 6 * DAY
        plan = planned_for(opened, start, last, known)
        if plan is not None:
            found[starts[n]] = plan
    return found


def judged_costs(currency: str, found: FileRows) -> FileRows:
    """A file's rows with the mill's currency as money, without costs in what is no money."""
    kept: list[Row] = []
    refused: list[Refusal] = []
    for row in found.rows:
        cost = row.record
        if isinstance(cost, CostRow):
            base, per = cost.unit.removesuffix("/t"), cost.unit.endswith("/t")
            if base.lower() != "money" and base != currency:
                why = f"no money; allowed: money or {currency}, each also with /t, or empty"
                refused.append(Refusal(row.sheet, row.row, "unit", cost.unit, why))
                continue
            row = replace(row, record=replace(cost, unit="money/t" if per else "money"))
        kept.append(row)
    return replace(found, rows=tuple(kept), refused=(*found.refused, *refused))


def judged_plans(store: Store, found: FileRows, correct: str | None) -> FileRows:
    """A file's rows with plans dated, without weeks that would join a plan of another file.

    A plan whose rows do not say when it was made is of the day before its first week.
    """
    mine = [row.record for row in found.rows if isinstance(row.record, PlanWeek)]
    if not mine:
        return found
    undated = [w.week for w in mine if w.made == UNDATED]
    before = min(undated, default=UNDATED + DAY) - DAY
    standing: dict[date, dict[date, str]] = {}
    for held in store.ask(stored.records, "plan week"):
        week: PlanWeek = record_of(held)
        standing.setdefault(week.made, {})[week.week] = held.source.rpartition(" row ")[0]
    kept: list[Row] = []
    refused: list[Refusal] = []
    for row in found.rows:
        record = row.record
        if isinstance(record, PlanWeek):
            record = replace(record, made=before) if record.made == UNDATED else record
            row = replace(row, record=record)
            other = standing.get(record.made)
            if other and record.week not in other and not correct:
                why = (f"a plan of {record.made} without this week stands in"
                       f" {next(iter(other.values()))}: give this plan a date of its own (column"
                       ' made); if the week belongs to that one: --correct "REASON"')  # fmt: skip
                refused.append(Refusal(row.sheet, row.row, "week", str(record.week), why))
                continue
        kept.append(row)
    return replace(found, rows=tuple(kept), refused=(*found.refused, *refused))
