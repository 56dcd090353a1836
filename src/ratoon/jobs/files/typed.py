"""What people type into the pages: checked like the rows of a file, stored like them, nothing lost.

Each typed row is understood by the importer's own rules. Rows that are refused say which cell and
why, and go back to the form; the rest is stored in one transaction, with who typed it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ratoon.base.records import Reading
from ratoon.base.strikes import StrikeRow
from ratoon.jobs.files.far_days import why_too_far
from ratoon.store.entries import newest_day

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Entry, Store

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A typed row that was refused: which one, which cell, what stood there and why."""

    row: int
    column: str
    value: str
    reason: str


@dataclass(slots=True)
class Entered:
    """What became of typed rows."""

    accepted: int = 0
    unchanged: int = 0
    corrected: int = 0
    refused: list[RefusedRow] = field(default_factory=list)

    def add(self, other: Entered) -> None:
        """Count what became of other rows that were sent with these."""
        self.accepted += other.accepted
        self.unchanged += other.unchanged
        self.corrected += other.corrected
        self.refused += other.refused

    @property
    def in_words(self) -> str:
        """One line for the page."""
        parts = [(self.accepted, "kept"), (self.corrected, "corrected"),
                 (self.unchanged, "unchanged"), (len(self.refused), "refused")]  # fmt: skip
        return ", ".join(f"{n} {word}" for n, word in parts if n) or "nothing was typed"


def enter(
    store: Store,
    mill: Mill,
    layout_name: str,
    rows: Sequence[Row],
    who: str,
    form: str,
    reason: str = "",
    seen: int | None = None,
) -> Entered:
    """Store typed readings.

    Parameters
    ----------
    layout_name : "readings"; rows have the columns of that layout.
    who : login of the person who typed. form : the name under which the rows are found again.
    reason : why something that stands is to be corrected; without it a contradiction is refused.
    seen : the newest row that was on the page; a newer one is not corrected unseen.
    """
    from ratoon.importers.layouts import LAYOUTS
    from ratoon.importers.records import CellRefused
    from ratoon.importers.rows import Meaning, understand
    from ratoon.store import Entry

    layout = next(x for x in LAYOUTS if x.name == layout_name)
    judged: list[tuple[int, StrikeRow]] = []
    meaning = Meaning(mill.addresses, mill.calendar, mill.atmospheric)
    newest = store.ask(newest_day, mill.calendar)
    done, entries = Entered(), []
    for n, row in enumerate(rows, start=1):
        whole = {name: row.get(name, "") for name in layout.names}
        try:
            # Typed by hand, either decimal mark may be meant; a thousands mark may not.
            record = understand(layout, _with_point(whole), ".", meaning)
        except CellRefused as refused:
            value = "" if refused.value is None else str(refused.value)
            done.refused.append(RefusedRow(n, refused.column, value, refused.reason))
            continue
        start = record.start if isinstance(record, Reading) else None
        day = mill.calendar.day_of(start) if start is not None else None
        far = why_too_far(mill.calendar, newest, day) if day is not None else ""
        if far:
            done.refused.append(RefusedRow(n, "start", "", far))
            continue
        if isinstance(record, StrikeRow):
            judged.append((n, record))
            continue
        entries.append(Entry(record, n))
    if judged:
        entries += _strike_entries(store, mill, judged, done)
    if entries:
        store_typed(store, entries, who, form, reason, done, layout_name, seen)
    return done


def _strike_entries(
    store: Store, mill: Mill, typed: Sequence[tuple[int, StrikeRow]], done: Entered
) -> list[Entry]:
    """Typed rows of strikes that the mill can have, as the store keeps them."""
    from ratoon.jobs.strikes.rows import entry_of, judge_of
    from ratoon.store import Entry

    judge, kept = judge_of(store, mill, [record for _, record in typed]), []
    for n, record in typed:
        fault = judge.fault(record)
        if fault is None:
            kept.append(Entry(entry_of(record, n, ""), n))
        else:
            done.refused.append(RefusedRow(n, *fault))
    return kept


def _with_point(row: Mapping[str, str]) -> dict[str, str]:
    fixed = dict(row)
    value = fixed.get("value", "")
    if value.count(",") == 1 and "." not in value:
        fixed["value"] = value.replace(",", ".")
    return fixed


def store_typed(
    store: Store, entries: list[Entry], who: str, form: str, reason: str, done: Entered,
    layout: str, seen: int | None = None,
) -> None:  # fmt: skip
    """Store what was typed in one transaction, and say in `done` what became of it."""
    from ratoon.store import InputFile
    from ratoon.store.chain.digest import digest

    file = InputFile(form, digest([e.record for e in entries]), 0, layout)
    with store.writing(who) as transaction:
        outcome = transaction.add_file(file, entries, reason or None, seen)
    done.accepted, done.unchanged = outcome.accepted, outcome.unchanged
    done.corrected = outcome.corrected
    for r in outcome.rejected:
        why = r.reason.partition("; if the new one is right")[0]
        value = f"{getattr(r.entry.record, 'given', '')}"
        todo = "; if yours is right, write the reason for the correction, or keep it as a repeat"
        if r.unseen:
            todo = ": look at it, and send yours again if it is right"
        elif layout == "stops":
            todo = "; if yours is right, write the reason for the correction"
        done.refused.append(RefusedRow(r.entry.row, r.column, value, why + todo))
