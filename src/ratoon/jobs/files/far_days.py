"""Days that rows cannot tell of: long after all that is on record, or accounted here already.

The newest mill day on record is the day that commands and pages begin with, and a row is never
taken away: so what lies more than a year ahead, a slip in the year, is refused until the mill file
says that a new season has begun. A day in short form beside the same day's account would be two
records of one day.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from ratoon.base.records import Reading
from ratoon.base.season import MillDay
from ratoon.importers.records import FileRows, Refusal, Row
from ratoon.store.answers import periods_with_result
from ratoon.store.cane.kept import keys_of

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.store import Store

LONGEST_AHEAD = timedelta(days=366)


def why_too_far(calendar: Calendar, newest: date | None, day: date) -> str:
    """Why a mill day lies too far ahead; "" when it does not, or nothing is on record.

    Parameters
    ----------
    newest : the newest mill day on record; None before the first.
    """
    known = max((d for d in (newest, calendar.season_start) if d is not None), default=None)
    if known is None or day - known <= LONGEST_AHEAD:
        return ""
    return (f"mill day {day} is more than a year after {known}, the newest on record: is the year "
            "right? If it is, write the new season_start into mill.toml first")  # fmt: skip


def judged_days(
    store: Store, calendar: Calendar, newest: date | None, found: FileRows
) -> FileRows:  # fmt: skip
    """A file's rows without those of days that it cannot tell of, which are refused."""
    accounted = _accounted(store, calendar, found)
    kept: list[Row] = []
    refused: list[Refusal] = []
    for row in found.rows:
        record, column, shown, why = row.record, "start", "", ""
        if isinstance(record, Reading) and record.start:
            shown = f"{calendar.to_local(record.start):%Y-%m-%d %H:%M}"
            why = why_too_far(calendar, newest, calendar.day_of(record.start))
        elif isinstance(record, MillDay):
            column, shown = "date", record.date.isoformat()
            why = why_too_far(calendar, newest, record.date)
            if record.date in accounted:
                why = "this day is accounted here from its readings: leave its row out"
        if why:
            refused.append(Refusal(row.sheet, row.row, column, shown, why))
        else:
            kept.append(row)
    if not refused:
        return found
    return replace(found, rows=tuple(kept), refused=(*found.refused, *refused))


def _accounted(store: Store, calendar: Calendar, found: FileRows) -> set[date]:
    """Days with an account, for a file that tells of days in short form; none that was so told."""
    if not any(isinstance(row.record, MillDay) for row in found.rows):
        return set()
    told = set(store.ask(keys_of, "mill day", ""))
    days = {calendar.day_of(p.start) for p in store.ask(periods_with_result, "day")}
    return {d for d in days if d.isoformat() not in told}
