"""Bins, notes and tips of some mill days, as persons set them right, read once for all yards."""

from __future__ import annotations

import json
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import nan
from typing import TypeVar

import numpy as np

from ratoon.base.records import Period
from ratoon.cane.harvest import FarmHarvest
from ratoon.cane.records import Block
from ratoon.cane.yard import Load
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.cane.load import CaneRecords
from ratoon.plans.yard.records import OnWay
from ratoon.store import Store
from ratoon.store.cane import kept as stored_cane
from ratoon.store.cane.moves import moves, weighings

Row = TypeVar("Row")
RECENT = 3600.0
"""After the last bin of a consignment, no more of it is waited for [s]."""
WAITED = 36 * 3600.0  # s after cutting within which cane on a note is still waited for


@dataclass(frozen=True, slots=True)
class Note:
    """A note of cane: when it was written and the cane cut [s UTC], whose, hours from farm to yard;
    `bins` that the grower noted."""

    noted: float
    cut: float
    grower: str
    farm: str
    bins: int
    burnt: bool
    siding: str
    travel: float


class Records:
    """The store's records of some days, in order of time, with persons' corrections.

    `cane` are the bins and tips of these days where they were read already.
    """

    def __init__(self, store: Store, within: Period, cane: CaneRecords | None = None) -> None:
        self.fixed: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
        for said in store.ask(stored_cane.corrections):
            if said.field != "cleared":
                self.fixed[said.kind, said.subject][said.field] = said.new
        self.farms: dict[str, FarmHarvest] = {
            r.key: record_of(r) for r in store.ask(stored_cane.records, "harvest")
        }
        self.blocks: list[Block] = [record_of(r) for r in store.ask(stored_cane.records, "block")]
        self.notes = self.notes_of(store, within)
        weighed = store.ask(weighings, within) if cane is None else [
            (b.key, b.gross_time, b.consignment, b.gross_kg, b.tare_kg)
            for b in cane.bins_in(within.start, within.end)
        ]  # fmt: skip
        self.loads = [self._load(*row) for row in weighed]
        self.weighed = _by_note(self.loads)
        self.tips = [
            (tag, at.timestamp()) for tag, at in (
                ((m.key.rpartition("@")[0], m.at)
                 for m in store.ask(moves, "tip", within, whole=False)) if cane is None
                else ((t.tag, t.time) for t in cane.tips_in(within.start, within.end))
            )
        ]  # fmt: skip
        self.sent: list[tuple[str, str, float]] = []
        for m in store.ask(moves, "dispatch", within):
            c = json.loads(m.content)
            self.sent += [(tag, c["siding"], m.at.timestamp()) for tag in c["tags"]]

    def within(self, period: Period) -> Records:
        """The records of a shorter period, as if no other had been read."""
        found, (start, end) = copy(self), (period.start.timestamp(), period.end.timestamp())

        def part(rows: list[Row], at: Callable[[Row], float]) -> list[Row]:
            return rows[bisect_left(rows, start, key=at) : bisect_left(rows, end, key=at)]

        found.notes = {name: note for name, note in self.notes.items()
                       if start - WAITED <= note.noted < end}  # fmt: skip
        found.loads = [x if x.consignment in found.notes else _without_note(x)
                       for x in part(self.loads, lambda x: x.weighed)]  # fmt: skip
        found.weighed = _by_note(found.loads)
        found.tips = part(self.tips, lambda tip: tip[1])
        found.sent = part(self.sent, lambda sent: sent[2])
        return found

    def notes_of(self, store: Store, within: Period) -> dict[str, Note]:
        """Notes of the cane that may be weighed in a period."""
        found = {}
        early = Period(within.start - timedelta(seconds=WAITED), within.end)
        for row in store.ask(moves, "consignment", early):
            c = json.loads(row.content)
            new = self.fixed.get(("consignment", row.key), {})
            cut = datetime.fromisoformat(new["cut_time"]) if "cut_time" in new else row.at
            bins = int(new["bins_noted"]) if "bins_noted" in new else c["bins"]
            named = new.get("farm", c["farm"])
            farm = self.farms.get(named)
            found[row.key] = Note(
                row.at.timestamp(), cut.timestamp(), new.get("grower", c["grower"]), named,
                bins or 0, new.get("harvest", c["harvest"]) == "burnt",
                farm.siding if farm else "", farm.travel_h if farm else 0.0,
            )  # fmt: skip
        return found

    def _load(
        self, key: str, at: datetime, consignment: str, gross: int | None, tare: int | None
    ) -> Load:
        new = self.fixed.get(("bin", key), {})
        gross = int(new["gross_kg"]) if "gross_kg" in new else gross
        tare = int(new["tare_kg"]) if "tare_kg" in new else tare
        kg = nan if gross is None or tare is None or gross <= tare else float(gross - tare)
        name = new.get("consignment", consignment)
        load = Load(key.rpartition("@")[0], at.timestamp(), kg, name, nan)
        note = self.notes.get(name)
        return load if note is None else replace(
            load, cut=note.cut, grower=note.grower, siding=note.siding, burnt=note.burnt
        )  # fmt: skip

    @property
    def travel(self) -> dict[str, float]:
        """Hours from each siding to the yard: the mean of its farms'."""
        found: dict[str, list[float]] = defaultdict(list)
        for farm in self.farms.values():
            found[farm.siding].append(farm.travel_h)
        return {name: float(np.mean(hours)) for name, hours in found.items()}

    def sidings_of_growers(self) -> dict[str, tuple[str, ...]]:
        """Sidings at which each grower's cane of these days was filled."""
        found: dict[str, set[str]] = defaultdict(set)
        for note in self.notes.values():
            if note.grower and note.siding:
                found[note.grower].add(note.siding)
        return {grower: tuple(sorted(names)) for grower, names in sorted(found.items())}

    def on_the_way(self, now: float, payload: float) -> tuple[tuple[OnWay, ...], tuple[float, ...]]:
        """Cane cut and not yet weighed, and how long the way of late parcels was [h]."""
        firsts = ((name, times[0]) for name, times in self.weighed.items() if times[0] <= now)
        leads = sorted((at - self.notes[name].cut) / 3600.0 for name, at in firsts
                       if name in self.notes and at > self.notes[name].cut)  # fmt: skip
        waiting = tuple(
            OnWay(name, note.grower, left, note.siding, left * payload / 1000.0, note.cut,
                  note.travel)
            for name, note in sorted(self.notes.items()) if (left := self.bins_left(name, now))
        )  # fmt: skip
        return waiting, tuple(leads)

    def bins_left(self, name: str, at: float) -> int:
        """Bins of a note that were cut and not yet weighed at a moment, and still waited for."""
        note, times = self.notes[name], self.weighed.get(name, ())
        came = bisect_right(times, at)
        coming = came == 0 or times[came - 1] > at - RECENT
        if not coming or not at - WAITED < note.cut <= at:
            return 0
        return max(int(note.bins) - came, 0)

    def way_at(self, at: float, payload: float) -> float:
        """Cane cut and not yet weighed at a moment [t]."""
        return sum(self.bins_left(name, at) for name in self.notes) * payload / 1000.0


def _without_note(x: Load) -> Load:
    return replace(x, cut=nan, grower="", siding="", burnt=False)


def _by_note(loads: Iterable[Load]) -> dict[str, list[float]]:
    """When the bins of each note were weighed, in order."""
    found: dict[str, list[float]] = defaultdict(list)
    for x in loads:
        found[x.consignment].append(x.weighed)
    return found
