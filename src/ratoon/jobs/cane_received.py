"""The bins of a mill day: each delivery belongs to one day, also over a stop in which it stood."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.receival import Received, receive
from ratoon.jobs.cane_load import CaneRecords

STANDING = timedelta(days=5)  # within which a bin weighed full is still waited for


def receival_of(records: CaneRecords, period: Period, yard: timedelta, settings: Any) -> Received:
    """Bins tipped in a period, and those weighed in it that should have been tipped by now.

    Bins that stood full over a stop longer than `yard` are looked for too, and said to be late.
    """
    everything = _received(records, period, yard, settings)
    if yard < STANDING and _stood(records, period, yard, everything):
        everything = _received(records, period, STANDING, settings)
    newest = records.newest_tip or period.start

    def mine(tip: Any, weighed: Any) -> bool:
        if tip is not None:
            return bool(period.start <= tip < period.end)
        return bool(period.start <= weighed < period.end and weighed + yard < newest)

    kept = tuple(b for b in everything.bins if mine(b.tip_time, b.bin.gross_time))
    own = {b.bin.consignment for b in kept}
    at = {f"{t.time:%Y-%m-%d %H:%M:%S} UTC" for t in records.tips_in(period.start, period.end)}
    flags = tuple(
        f
        for f in everything.flags
        if (f.consignment in own if f.consignment else any(text in f.text for text in at))
    )
    return Received(kept, flags)


def _stood(records: CaneRecords, period: Period, yard: timedelta, found: Received) -> bool:
    """Whether a tip or a weighing without its other half has it further off than `yard`."""
    lost = {f.subject for f in found.flags if f.code == "tip without weighing"}
    full = {b.bin.tag for b in found.bins
            if b.tip_time is None and period.start <= b.bin.gross_time < period.end}  # fmt: skip
    before = records.bins_in(period.start - STANDING, period.start - yard) if lost else []
    after = records.tips_in(period.end + yard, period.end + STANDING) if full else []
    return any(b.tag in lost for b in before) or any(t.tag in full for t in after)


def _received(records: CaneRecords, period: Period, around: timedelta, settings: Any) -> Received:
    bins = records.bins_in(period.start - around, period.end + around)
    tips = records.tips_in(period.start, period.end + around)
    names = {b.consignment for b in bins}
    notes = [n for n in records.notes.values() if n.consignment in names]
    return receive(
        bins, tips, notes, records.blocks, agreed.receival_rules(settings),
        records.tares_before(period.start), records.cleared,
    )  # fmt: skip
