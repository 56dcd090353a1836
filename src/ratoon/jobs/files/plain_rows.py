"""Records that are kept field by field, between their room and the store: keys, content as JSON."""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import UTC, date, datetime, time
from functools import cache
from typing import Any, get_type_hints

from ratoon.base.season import CostRow, MillDay, PlanWeek, ZoneRow
from ratoon.base.sugar import Lot, MillWeek, Movement, Order, ShedSurvey, SpreadLoad
from ratoon.store.cane.plain import CaneRow

_PLAIN: dict[Any, tuple[str, str, str]] = {
    MillDay: ("mill day", "date", "{date}"),
    ZoneRow: ("zone", "as_of", "{zone}@{as_of}"),
    PlanWeek: ("plan week", "week", "{made}@{week}"),
    CostRow: ("cost", "week", "{account}@{week}"),
    Lot: ("lot", "start", "{lot}"),
    Movement: ("movement", "time", "{movement}"),
    ShedSurvey: ("shed survey", "time", "{shed}/{cell}@{time}"),
    Order: ("order", "due", "{order}"),
    MillWeek: ("mill week", "week", "{mill}/{brand}@{week}"),
    SpreadLoad: ("spread load", "time", "{load}"),
}
"""Each record: the kind, the field of its time, and its key."""
_BY_KIND = {kind: record for record, (kind, _, _) in _PLAIN.items()}


def parts_of(r: Any) -> tuple[str, str, datetime | None, str, str, dict[str, Any]] | None:
    """Kind, key, instant, note, grower and content of a record; None of one that is not plain."""
    if type(r) not in _PLAIN:
        return None
    kind, dated, key = _PLAIN[type(r)]
    content = {f.name: _plain(getattr(r, f.name)) for f in fields(r)}
    when = getattr(r, dated)
    if not isinstance(when, datetime):
        when = datetime.combine(when, time(12), UTC)
    return kind, key.format_map(content), when, "", "", content


def record_of(row: CaneRow) -> Any:
    """The record that a row of the store holds; None where its kind is not plain."""
    record = _BY_KIND.get(row.kind)
    if record is None:
        return None
    hints = _hints(record)
    made = {n: hints[n].fromisoformat(v) if hints[n] in (datetime, date) else v
            for n, v in json.loads(row.content).items()}  # fmt: skip
    return record(**made)


@cache
def _hints(record: Any) -> dict[str, Any]:
    return get_type_hints(record)


def _plain(value: Any) -> Any:
    """A field as JSON keeps it."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    return value.isoformat() if isinstance(value, date) else value
