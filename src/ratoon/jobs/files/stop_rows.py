"""Stops of a file through the judgement of typed stops: rows kept, rows refused, rows that are odd.

A file cannot be asked. What a person at the form would be asked to confirm is refused here with
what to do, where it is likely a slip, and otherwise kept and said.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ratoon.base.records import Stop
from ratoon.base.words import sentence
from ratoon.importers.records import FileRows, Refusal
from ratoon.jobs.files.stops import Judged, judge_rows

if TYPE_CHECKING:
    from datetime import datetime

    from ratoon.account.mill import Mill
    from ratoon.base.clock import Calendar
    from ratoon.store import Store

IF_SO = {
    "station": "If it is so, keep the first stop of that name on the page Journal, then import "
    "this row again.",
    "end": "Import it then.",
}
"""What to do about a slip that is none, by its column."""


def judged_stops(
    store: Store, mill: Mill, found: FileRows, now: datetime | None = None
) -> FileRows:
    """A file with its stops judged: those that may stand, spelt as the mill spells them.

    Parameters
    ----------
    now : the present, in UTC; by default the machine's clock says it.
    """
    stops = [row for row in found.rows if isinstance(row.record, Stop)]
    if not stops:
        return found
    rows = [row for row in found.rows if not isinstance(row.record, Stop)]
    refused, doubtful = list(found.refused), list(found.doubtful)
    judgements = judge_rows(mill, store, [row.record for row in stops], now)
    for row, judged in zip(stops, judgements, strict=True):
        faults = _faults(judged)
        if faults:
            column = faults[0][0]
            reason = " ".join(text for _, text in faults)
            value = _value(row.record, column, mill.calendar)
            refused.append(Refusal(row.sheet, row.row, column, value, reason))
            continue
        rows.append(replace(row, record=judged.stop))
        doubtful += [
            Refusal(row.sheet, row.row, column, _value(row.record, column, mill.calendar), text)
            for column, text in judged.odd_in
        ]
    rows.sort(key=lambda row: (row.sheet, row.row))
    return replace(found, rows=tuple(rows), refused=tuple(refused), doubtful=tuple(doubtful))


def _faults(judged: Judged) -> list[tuple[str, str]]:
    """Why a row is not taken, each with the column it is about."""
    return [
        *(("start", text) for text in judged.refused),
        *((column, f"{sentence(text)} {IF_SO[column]}") for column, text in judged.slips),
    ]


def _value(stop: Stop, column: str, calendar: Calendar) -> str:
    """A cell of a stop, times by the mill's clock."""
    if column in ("start", "end"):
        return f"{calendar.to_local(getattr(stop, column)):%Y-%m-%dT%H:%M}"
    return str(getattr(stop, column))
