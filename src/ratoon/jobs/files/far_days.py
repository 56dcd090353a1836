"""Readings dated long after all that is on record: a slip in the year, which would become "today".

The newest mill day with readings is the day that commands and pages begin with, and a reading is
never taken away: so what lies more than a year ahead is refused until the mill file says that a
new season has begun.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.records import Reading
from ratoon.importers.records import FileRows, Refusal, Row

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar

LONGEST_AHEAD = timedelta(days=366)


def why_too_far(calendar: Calendar, newest: date | None, start: datetime) -> str:
    """Why a reading's start lies too far ahead; "" when it does not, or nothing is on record.

    Parameters
    ----------
    newest : the newest mill day on record; None before the first.
    start : start of the reading, UTC.
    """
    known = max((d for d in (newest, calendar.season_start) if d is not None), default=None)
    day = calendar.day_of(start)
    if known is None or day - known <= LONGEST_AHEAD:
        return ""
    return (f"mill day {day} is more than a year after {known}, the newest on record: is the year "
            "right? If it is, write the new season_start into mill.toml first")  # fmt: skip


def judged_days(calendar: Calendar, newest: date | None, found: FileRows) -> FileRows:
    """A file's rows without the readings that lie too far ahead, which are refused."""
    kept: list[Row] = []
    refused: list[Refusal] = []
    for row in found.rows:
        record = row.record
        start = record.start if isinstance(record, Reading) else None
        why = why_too_far(calendar, newest, start) if start is not None else ""
        if why:
            shown = f"{calendar.to_local(start):%Y-%m-%d %H:%M}" if start else ""
            refused.append(Refusal(row.sheet, row.row, "start", shown, why))
        else:
            kept.append(row)
    if not refused:
        return found
    return replace(found, rows=tuple(kept), refused=(*found.refused, *refused))
