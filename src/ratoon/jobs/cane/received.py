"""The bins of a mill day: each delivery belongs to one day, also over a stop in which it stood.

A bin's tip is the first of its tag after its weighing, whichever day asks: tips and weighings are
looked at from before the day on, so that two days never find the same bin.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.receival import Received, receive
from ratoon.cane.records import NetBin
from ratoon.jobs.cane.load import CaneRecords

if TYPE_CHECKING:
    from ratoon.settings import Settings

STANDING = timedelta(days=5)  # within which a bin weighed full is still waited for
ONWARD = timedelta(hours=6)  # past the day's end, in which a consignment's last bins may come


def receival_of(
    records: CaneRecords, period: Period, yard: timedelta, settings: Settings
) -> Received:
    """Bins tipped in a period, and those weighed in it that should have been tipped by now.

    Bins that stood full over a stop longer than `yard` are looked for too, and said to be late.
    A bin weighed again without a tip is told at once.
    """
    everything = _received(records, period, yard, settings)
    if yard < STANDING and _stood(records, period, yard, everything):
        everything = _received(records, period, STANDING, settings)
    newest = records.newest_tip or period.start

    def mine(one: NetBin) -> bool:
        if one.tip_time is not None:
            return bool(period.start <= one.tip_time < period.end)
        weighed = one.bin.gross_time
        again = any(f.code == "weighed twice" for f in one.flags)
        return bool(period.start <= weighed < period.end and (again or weighed + yard < newest))

    kept = tuple(b for b in everything.bins if mine(b))
    own = {b.bin.consignment for b in kept}
    ahead = Period(period.end, period.end + ONWARD)
    first_here = own - everything.begun
    beside = tuple(
        b for b in everything.bins
        if b.bin.consignment in first_here and b.tip_time is not None
        and ahead.start <= b.tip_time < ahead.end
    )  # fmt: skip
    flags = tuple(
        f for f in everything.flags
        if (f.consignment in own if f.consignment else _within(f.rests_on, period))
    )  # fmt: skip
    return Received(kept, flags, beside)


def _within(at: str, period: Period) -> bool:
    """Whether a tip without a weighing, named by its moment, is of the period."""
    return period.start <= datetime.fromisoformat(at) < period.end


def _stood(records: CaneRecords, period: Period, yard: timedelta, found: Received) -> bool:
    """Whether a tip or a weighing without its other half has it further off than `yard`."""
    lost = {f.subject for f in found.flags
            if f.code == "tip without weighing" and _within(f.rests_on, period)}  # fmt: skip
    full = {b.bin.tag for b in found.bins
            if b.tip_time is None and period.start <= b.bin.gross_time < period.end}  # fmt: skip
    before = records.bins_in(period.start - STANDING, period.start - yard) if lost else []
    after = records.tips_in(period.end + yard, period.end + STANDING) if full else []
    return any(b.tag in lost for b in before) or any(t.tag in full for t in after)


def _received(
    records: CaneRecords, period: Period, around: timedelta, settings: Settings
) -> Received:
    bins = records.bins_in(period.start - around, period.end + around)
    tips = records.tips_in(period.start - around, period.end + around)
    names = {b.consignment for b in bins}
    notes = [n for n in records.notes.values() if n.consignment in names]
    return receive(
        bins, tips, notes, records.blocks, agreed.receival_rules(settings),
        records.tares_before(period.start), records.decisions,
        Period(period.start, period.end + ONWARD),
    )  # fmt: skip
