"""What the store holds of cane around some mill days, with persons' corrections applied."""

from __future__ import annotations

import bisect
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from ratoon.base.clock import Calendar, in_reach
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane.decisions import Decisions
from ratoon.cane.harvest import FarmHarvest
from ratoon.cane.records import (
    Bin,
    Block,
    BlockSeason,
    Consignment,
    FibreSample,
    NirSeries,
    Sample,
    SpeedSeries,
    Tip,
)  # fmt: skip
from ratoon.jobs.cane.files import record_of
from ratoon.store import Store
from ratoon.store.cane import kept as stored_cane
from ratoon.store.cane.plain import CaneRow, CorrectionRow

TARES = timedelta(days=28)
FIBRES = timedelta(days=10)  # the mill's `fibre_days` cut it shorter
MOVED = timedelta(days=2)  # within which a bottle's time is set right
RESTART = timedelta(days=7)  # within which cane on the carrier is followed over a stop
_WHOLE = ("gross_kg", "tare_kg", "bins_noted")
_TIMES = ("gross_time", "tare_time", "cut_time", "burnt_time", "start", "end")
MOST_WHOLE = 1_000_000
"""Most kilograms or bins that a correction can say: more is a slip of the hand."""
DECIDED = ("cleared", "refused")
"""Fields of corrections that decide about payment and change no record."""
FIELDS = {
    "bin": ("consignment", "gross_kg", "tare_kg", "tare_time"),
    "consignment": ("grower", "farm", "block", "variety", "fibre_class", "cut_time", "harvest",
                    "burnt_time", "bins_noted"),
    "sample": ("consignment", "start", "end"),
}  # fmt: skip


@dataclass
class CaneRecords:
    """Records in order of time; corrections are in them already."""

    blocks: dict[str, Block]
    farms: dict[str, FarmHarvest]
    seasons: list[BlockSeason]
    bins: list[Bin]
    tips: list[Tip]
    notes: dict[str, Consignment]
    samples: list[Sample]
    fibres: list[FibreSample]
    decisions: Decisions
    speeds: dict[str, SpeedSeries]
    nir: NirSeries | None
    newest_tip: datetime | None
    _bin_times: list[datetime] = field(default_factory=list)
    _tip_times: list[datetime] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._bin_times = [b.gross_time for b in self.bins]
        self._tip_times = [t.time for t in self.tips]

    def bins_in(self, start: datetime, end: datetime) -> list[Bin]:
        """Bins weighed full from `start` to `end`."""
        low, high = (bisect.bisect_left(self._bin_times, t) for t in (start, end))
        return self.bins[low:high]

    def tips_in(self, start: datetime, end: datetime) -> list[Tip]:
        """Tips from `start` to `end`."""
        low, high = (bisect.bisect_left(self._tip_times, t) for t in (start, end))
        return self.tips[low:high]

    def around(self, start: datetime, end: datetime) -> CaneRecords:
        """The same records with samples, fibre and near-infrared of a period and a little more."""
        late = end + timedelta(hours=6)
        nir = self.nir
        if nir is not None:
            low, high = np.searchsorted(nir.times, [start.timestamp(), late.timestamp()])
            cut = slice(int(low), int(high))
            nir = NirSeries(nir.times[cut], nir.brix[cut], nir.pol[cut], nir.fibre[cut])
            nir = nir if nir.times.size else None
        speeds, restart = {}, end + RESTART
        for name, one in self.speeds.items():
            low, high = np.searchsorted(one.times, [start.timestamp(), restart.timestamp()])
            cut = slice(max(int(low) - 1, 0), int(high))
            speeds[name] = SpeedSeries(name, one.times[cut], one.speeds[cut])
        return replace(
            self,
            samples=[s for s in self.samples if start <= s.start < late],
            fibres=[f for f in self.fibres if start - FIBRES <= f.time < late],
            speeds=speeds,
            nir=nir,
        )

    def tares_before(self, start: datetime) -> dict[str, list[int]]:
        """Weighed tares of each tag in the weeks before `start`."""
        found: dict[str, list[int]] = defaultdict(list)
        for one in self.bins_in(start - TARES, start):
            if one.tare_kind == "weighed" and one.tare_kg is not None:
                found[one.tag].append(one.tare_kg)
        return found


def load_cane(store: Store, start: datetime, end: datetime, yard: timedelta) -> CaneRecords:
    """All that days from `start` to `end` need; `yard` is the longest wait from weighing to tip."""
    corrections = store.ask(stored_cane.corrections)
    changes = _by_subject(corrections)
    bins = _records(store, "bin", Period(start - TARES, end + yard), changes)
    # from before the first day: a bin tipped then must not take a later, false read for its own
    tips = _records(store, "tip", Period(start - yard, end + yard), {})
    noted = sorted({b.consignment for b in bins if b.consignment and b.gross_time >= start - yard})
    notes: list[Any] = []
    for first in range(0, len(noted), 500):
        rows = store.ask(stored_cane.records, "consignment", keys=noted[first : first + 500])
        notes += [_corrected(record_of(r), "consignment", r.key, changes) for r in rows]
    # a correction may have moved a bottle over the day's end: `around` looks at when it filled
    samples = _records(store, "sample", Period(start - MOVED, end + MOVED), changes)
    fibres = _records(store, "fibre", Period(start - FIBRES, end + timedelta(hours=6)), {})
    blocks = [record_of(r) for r in store.ask(stored_cane.records, "block")]
    farms, seasons = ([record_of(r) for r in store.ask(stored_cane.records, kind)]
                      for kind in ("harvest", "block season"))  # fmt: skip
    low, high = _ms(start), _ms(end + timedelta(hours=6))
    speeds = {}
    for name in store.ask(stored_cane.series_names):
        if name.startswith("speed "):
            points = store.ask(stored_cane.series_values, name, low, _ms(end + RESTART))
            if points:
                carrier = name.removeprefix("speed ")
                at, speed = np.array([p[:2] for p in points], dtype=float).T
                speeds[carrier] = SpeedSeries(carrier, at / 1000.0, speed)
    return CaneRecords(
        {b.block: b for b in blocks}, {f.farm: f for f in farms}, seasons, bins, tips,
        {n.consignment: n for n in notes}, samples, fibres, decisions_of(corrections), speeds,
        _near_infrared(store, low, high), store.ask(stored_cane.newest, "tip"),
    )  # fmt: skip


def _near_infrared(store: Store, low: int, high: int) -> NirSeries | None:
    points = [
        p for p in store.ask(stored_cane.series_values, "near_infrared", low, high) if p[0] >= low
    ]
    if not points:
        return None
    at, brix, pol, fibre = np.array(points, dtype=float).T
    return NirSeries(at / 1000.0, brix, pol, fibre)


def _ms(at: datetime) -> int:
    return round(at.timestamp() * 1000)


def _records(
    store: Store, kind: str, within: Period, changes: dict[tuple[str, str], list[CorrectionRow]]
) -> list[Any]:
    rows = store.ask(stored_cane.records, kind, within)
    return [_corrected(record_of(r), kind, r.key, changes) for r in rows]


def corrected_records(store: Store, rows: Iterable[CaneRow]) -> list[Any]:
    """Records from their rows, as persons have set them right."""
    changes = _by_subject(store.ask(stored_cane.corrections))
    return [_corrected(record_of(r), r.kind, r.key, changes) for r in rows]


def _by_subject(rows: Iterable[CorrectionRow]) -> dict[tuple[str, str], list[CorrectionRow]]:
    found: dict[tuple[str, str], list[CorrectionRow]] = defaultdict(list)
    for row in rows:
        if row.field not in DECIDED:
            found[row.kind, row.subject].append(row)
    return found


def decisions_of(rows: Iterable[CorrectionRow]) -> Decisions:
    """What persons decided, the newest of each refusal counting."""
    cleared: dict[tuple[str, str], set[str]] = defaultdict(set)
    refused: dict[str, str] = {}
    for row in rows:
        if row.field == "cleared":
            cleared[row.subject, row.new].add(row.old)
        elif row.field == "refused":
            refused.pop(row.subject, None)
            if row.new == "yes":
                refused[row.subject] = row.why
    return Decisions({key: frozenset(rests) for key, rests in cleared.items()}, refused)


def _corrected(
    record: Any, kind: str, key: str, changes: dict[tuple[str, str], list[CorrectionRow]]
) -> Any:
    for row in changes.get((kind, key), ()):
        record = replace(record, **{row.field: value_of(kind, row.field, row.new)})
    return record


def value_of(kind: str, name: str, text: str, calendar: Calendar | None = None) -> Any:
    """A corrected value from its text; `calendar` reads a time without offset as the mill's own.

    Raises
    ------
    BadInput : no such field, or text that is no value of it.
    """
    if name not in FIELDS.get(kind, ()):
        allowed = ", ".join(FIELDS.get(kind, FIELDS))
        raise BadInput(f"no field {name!r} of a {kind} can be corrected", allowed=allowed)
    try:
        if name in _WHOLE:
            found = int(text)
            if not 0 <= found <= MOST_WHOLE:
                raise ValueError
            return found
        if name in _TIMES:
            at = datetime.fromisoformat(text)
            if at.tzinfo is None and calendar is not None:
                at = calendar.to_utc(at)
            if at.tzinfo is None:
                raise ValueError
            return in_reach(at)
    except ValueError:
        raise BadInput(f"not a value of {name}", value=text,
                       allowed=f"whole kg or bins up to {MOST_WHOLE:,}, or a time in the mill's "
                               "zone such as 2031-08-14T06:00"
                       ) from None  # fmt: skip
    return text
