"""Rows of strikes between files and the records: judged as they come in, kept, read again.

A row is one record of the kind "strike", a moment of a trace one of the kind "trace"; both are
appended, and corrected by a new row with its reason, as all records of the mill are.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import UnknownName, nearest_names
from ratoon.base.records import Period
from ratoon.base.strikes import EVENTS, StrikeRow, TraceRow
from ratoon.importers.records import FileRows, Refusal
from ratoon.settings.plant import PanSettings
from ratoon.store.cane import kept as cane
from ratoon.store.cane.plain import CaneEntry

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from ratoon.account.mill import Mill
    from ratoon.base.clock import Calendar
    from ratoon.store import Store

STRIKE, TRACE = "strike", "trace"
BEFORE = timedelta(hours=14)
"""How long a strike boils at most, and a bit."""
MADE = ("start", "footing", "cut", "drop")
"""Events that tell what a strike made and whether it contradicts itself."""
NEAR_EDGE = timedelta(minutes=45)
"""How near a moment a trace must be to tell what was in a pan then."""
FEW = 20
"""Strikes whose traces are asked for by name; of more, those of the time are looked through."""
WHILE_BOILING = ("footing", "seed", "feed", "cut", "set", "slide")


def names_of_pans(pans: Mapping[str, PanSettings]) -> dict[str, tuple[str, float]]:
    """Each pan of the mill file by its name: the letter of its grade, what it holds [m3]."""
    found: dict[str, tuple[str, float]] = {}
    for letter, p in pans.items():
        names = p.names or tuple(f"{letter}{n}" for n in range(1, len(p.strikes) + 1))
        found |= {name: (letter, volume) for name, volume in zip(names, p.strikes)}
    return found


def entry_of(record: StrikeRow | TraceRow, row: int, sheet: str) -> CaneEntry:
    """The store's entry of a row of a strike or of its trace."""
    content: dict[str, Any] = asdict(record)
    del content["source"]
    content["time"] = record.time.astimezone(UTC).isoformat()
    text = json.dumps(content, separators=(",", ":"), sort_keys=True, ensure_ascii=False)
    kind = STRIKE if isinstance(record, StrikeRow) else TRACE
    return CaneEntry(kind, record.key, record.time, "", "", text, row, sheet)


def rows_in(
    connection: Connection, within: Period | None, strike: str | None = None,
    events: Iterable[str] = EVENTS,
) -> list[StrikeRow]:  # fmt: skip
    """Rows of strikes in force, of a time or of one strike; of some events alone where asked."""
    wanted = set(events)
    # few rows leave the store: a pattern may let through too many, never too few
    begins = "%" if strike is None else _pattern(strike)
    like = [f"{begins} %"] if wanted == set(EVENTS) else [f"{begins} {e} %" for e in events]
    rows = [(r, r.key.split(" ")) for r in cane.records(connection, STRIKE, within, like=like)]
    found = [(json.loads(r.content), r.source) for r, (name, event, *_) in rows
             if event in wanted and strike in (None, name)]  # fmt: skip
    return [StrikeRow(**{**c, "time": datetime.fromisoformat(c["time"])}, source=source)
            for c, source in found]  # fmt: skip


def _pattern(name: str) -> str:
    """A name as a pattern; what would escape the next letter is any letter."""
    return name.replace("\\", "_")


def traces_in(
    connection: Connection, within: Period, strikes: Iterable[str] | None = None
) -> list[TraceRow]:
    """Moments of traces in force within a time, of some strikes or of all."""
    wanted = None if strikes is None else set(strikes)
    like = [f"{_pattern(name)} %" for name in wanted] if wanted and len(wanted) < FEW else []
    rows = [r for r in cane.records(connection, TRACE, within, like=like)
            if wanted is None or r.key.split(" ")[0] in wanted]  # fmt: skip
    return [
        TraceRow(c["strike"], datetime.fromisoformat(c["time"]),
                 tuple((k, v) for k, v in c["values"]), r.source)
        for r, c in ((r, json.loads(r.content)) for r in rows)
    ]  # fmt: skip


def judged_strikes(store: Store, mill: Mill, found: FileRows) -> FileRows:
    """A file's rows without those of strikes that the mill cannot have."""
    own = [row for row in found.rows if isinstance(row.record, StrikeRow | TraceRow)]
    if not own:
        return found
    judge = judge_of(store, mill, [row.record for row in own])
    refused, kept = list(found.refused), []
    for row in found.rows:
        fault = judge.fault(row.record)
        if fault is None:
            kept.append(row)
        else:
            refused.append(Refusal(row.sheet, row.row, *fault))
    return replace(found, rows=tuple(kept), refused=tuple(refused))


@dataclass
class Judge:
    """What a mill's strikes can be: its pans and grades, and when each strike was dropped."""

    calendar: Calendar
    pans: Mapping[str, tuple[str, float]]
    grades: Sequence[str]
    drops: Mapping[str, datetime]
    starts: Mapping[str, datetime]
    known: set[str]

    def fault(self, record: Any) -> tuple[str, str, str] | None:
        """Column, value and reason for which a row is refused; None where it may stand."""
        if isinstance(record, TraceRow):
            if record.strike in self.known:
                return None
            near = nearest_names(record.strike, sorted(self.known), 1)
            hint = f" Did you mean {near[0]}?" if near else ""
            return "strike", record.strike, f"a trace of a strike that is on no record.{hint}"
        if not isinstance(record, StrikeRow):
            return None
        for column, name, allowed in (("pan", record.pan, list(self.pans)),
                                      ("grade", record.grade, list(self.grades))):  # fmt: skip
            if name not in allowed:
                todo = UnknownName(column, name, allowed).todo
                can = ", ".join(allowed) or "none: mill.toml names no pans (strikes, names)"
                return column, name, f"unknown {column}; allowed: {can}. {todo}".rstrip(". ") + "."
        taken = record.tags.get("of", "")
        if record.event == "feed" and taken and taken not in ("liquor", "water", *self.grades):
            allowed = ["liquor", "water", *self.grades]
            return "note", f"of={taken}", f"unknown feed; allowed: {', '.join(allowed)}"
        drop = self.drops.get(record.strike)
        if drop is not None and record.event in WHILE_BOILING and record.time > drop:
            begun = self.starts.get(record.strike)
            stops = record.event == "feed" and record.quantity == "flow" and not record.value
            if (begun is None or begun <= drop) and not stops:
                at = f"{self.calendar.to_local(drop):%Y-%m-%dT%H:%M}"
                return "event", record.event, (f"{record.strike} was dropped before, at {at}: "
                                               "correct the time of one of them")  # fmt: skip
        return None


def judge_of(store: Store, mill: Mill, records: Sequence[StrikeRow | TraceRow]) -> Judge:
    times = [r.time for r in records]
    near = Period(min(times) - 2 * BEFORE, max(times) + 2 * BEFORE)
    rows = [*store.ask(rows_in, near), *(r for r in records if isinstance(r, StrikeRow))]
    return Judge(
        mill.calendar, names_of_pans(mill.settings.pans), list(mill.settings.pans),
        {r.strike: r.time for r in rows if r.event == "drop"},
        {r.strike: r.time for r in rows if r.event == "start"},
        {r.strike for r in rows},
    )  # fmt: skip


def boiled_rows(rows: list[StrikeRow], since: datetime) -> list[StrikeRow]:
    """Rows without those of strikes that had boiled before and were only cured or sieved later."""
    own = {r.strike for r in rows if r.event == "start" or r.time >= since}
    return [r for r in rows if r.strike in own]
