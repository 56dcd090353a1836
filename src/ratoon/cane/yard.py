"""The yard hour by hour: which bins are full, empty or out, what cane stands in it, and how old.

A bin is full from its weighing to its tip, empty from its tip until it is sent away, and out until
it is weighed again: its last event says where it is. A bin that nobody saw for as long as the
records go back is out. Moments are seconds since the epoch, UTC; masses [kg].
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, nan

import numpy as np
from numpy.typing import NDArray

UNREAD_AFTER = 3600.0
"""After the last tip of a consignment's other bins, a bin of it is taken as tipped unread [s]."""
FULL, EMPTY, OUT = "full", "empty", "out"


@dataclass(frozen=True, slots=True)
class Load:
    """A bin weighed full. `kg`: net, NaN when not both weights are known; `cut`: NaN when no note
    says so; `siding`: where it was filled, "" when not known."""

    tag: str
    weighed: float
    kg: float
    consignment: str
    cut: float
    grower: str = ""
    siding: str = ""
    burnt: bool = False


@dataclass(frozen=True, slots=True)
class Span:
    """A bin in one place from `start` to `end` (infinity: until now); `load` when it is full."""

    place: str
    start: float
    end: float
    load: Load | None = None


@dataclass(frozen=True, slots=True)
class YardHour:
    """The yard at one moment. `tonnes`: cane of the full bins; `oldest_h`: hours since the oldest
    of it was cut, None without cane or notes. Without records of empties sent out, `empty` and
    `out` are None."""

    at: float
    full: int
    empty: int | None
    out: int | None
    tonnes: float
    oldest_h: float | None


@dataclass(frozen=True, slots=True)
class Turn:
    """Bins of one siding: how often, and the median hours, of each part of their way round.

    `away`: sent out empty to weighed full; `yard`: weighed to tipped; `idle`: tipped to sent out
    again; `slow`: the longest tenth of the time away begins here. None where nothing is known.
    """

    siding: str
    bins: int
    away: float | None
    slow: float | None
    yard: float | None
    idle: float | None

    @property
    def whole(self) -> float | None:
        """From one sending out to the next [h]."""
        parts = (self.away, self.yard, self.idle)
        return None if None in parts else sum(p for p in parts if p is not None)


@dataclass(frozen=True, slots=True)
class Yard:
    """Where every bin was. `fleet`: number of bins; `unread`: full bins whose tip nobody read,
    taken as tipped with the rest of their consignment. `payload`: mean net weight [kg]."""

    spans: tuple[Span, ...]
    now: float
    fleet: int
    sent_known: bool
    unread: int
    payload: float

    def hours(self, marks: Sequence[float]) -> list[YardHour]:
        """The yard at some moments, none later than now."""
        at = np.asarray(marks, dtype=float)[:, None]
        found: dict[str, NDArray[np.bool_]] = {}
        for place in (FULL, EMPTY):
            mine = [s for s in self.spans if s.place == place]
            start, end = (np.array([getattr(s, k) for s in mine]) for k in ("start", "end"))
            found[place] = (start <= at) & (at < end) if mine else np.zeros((len(at), 0), bool)
        loads = [s.load for s in self.spans if s.place == FULL and s.load is not None]
        kg = np.array([self.payload if np.isnan(x.kg) else x.kg for x in loads])
        cut = np.array([x.cut for x in loads])
        out = []
        for row, moment in enumerate(marks):
            inside = found[FULL][row]
            full, empty = int(inside.sum()), int(found[EMPTY][row].sum())
            ages = (moment - cut[inside]) / 3600.0 if full else np.zeros(0)
            known = ages[~np.isnan(ages)]
            out.append(YardHour(
                moment, full, empty if self.sent_known else None,
                max(self.fleet - full - empty, 0) if self.sent_known else None,
                float(kg[inside].sum()) / 1000.0 if full else 0.0,
                float(known.max()) if known.size else None,
            ))  # fmt: skip
        return out

    @property
    def standing(self) -> list[Load]:
        """Full bins in the yard now, those weighed first first."""
        mine = [s.load for s in self.spans if s.place == FULL and s.start <= self.now < s.end]
        return sorted((x for x in mine if x is not None), key=lambda x: (x.weighed, x.tag))

    @property
    def empties(self) -> list[float]:
        """When each bin that is empty at the mill now was tipped."""
        return sorted(s.start for s in self.spans
                      if s.place == EMPTY and s.start <= self.now < s.end)  # fmt: skip


def follow(
    loads: Iterable[Load],
    tips: Iterable[tuple[str, float]],
    sent: Iterable[tuple[str, float]],
    now: float,
    fleet: int,
    longest: float,
    usual: float = nan,
) -> Yard:
    """Follow every bin up to a moment; nothing later is looked at.

    Parameters
    ----------
    loads : weighings. tips, sent : (tag, moment) of tips and of empties sent away.
    fleet : number of bins; 0 for as many as were seen. longest : a bin that would have stood full
        longer was tipped unread [s]. usual : net weight to go by where no bin has one [kg].
    """
    events: dict[str, list[tuple[float, int, Load | None]]] = defaultdict(list)
    for load in loads:
        if load.weighed <= now:
            events[load.tag].append((load.weighed, 1, load))
    known = False
    for rank, moments in ((2, tips), (0, sent)):
        for tag, at in moments:
            if at <= now and tag != "?":
                events[tag].append((at, rank, None))
                known = known or rank == 0
    last_tip: dict[str, float] = {}
    spans: list[Span] = []
    open_ends: list[tuple[Load, float]] = []
    place_of = {0: OUT, 1: FULL, 2: EMPTY}
    for mine in events.values():
        mine.sort(key=lambda e: e[:2])
        following = (*mine[1:], (inf, -1, None))
        for (start, rank, full), (end, after, _) in zip(mine, following):
            if full is not None and after != 2:
                open_ends.append((full, end))
                continue
            if full is not None:
                last_tip[full.consignment] = max(last_tip.get(full.consignment, -inf), end)
            spans.append(Span(place_of[rank], start, end, full))
    unread = 0
    for one, until in open_ends:
        tipped = last_tip.get(one.consignment, inf) if one.consignment else inf
        gone = min(until, one.weighed + longest)
        if tipped + UNREAD_AFTER <= now:
            gone = min(gone, max(tipped, one.weighed))
        unread += gone <= now
        spans.append(Span(FULL, one.weighed, gone, one))
        if gone < until:
            spans.append(Span(EMPTY, gone, until))
    weights = [s.load.kg for s in spans if s.load is not None and not np.isnan(s.load.kg)]
    payload = float(np.mean(weights)) if weights else usual
    return Yard(tuple(spans), now, fleet or len(events), known, unread, payload)


def turns(
    loads: Iterable[Load], tips: Iterable[tuple[str, float]], sent: Iterable[tuple[str, str, float]]
) -> list[Turn]:
    """Turn-round of bins of all sidings (siding ""), then by siding, those longest away first.

    Parameters
    ----------
    sent : (tag, siding, moment) of empties sent away; a bin filled at another siding than it was
        sent to counts for the one it was sent to.
    """
    away, yard, idle = (defaultdict[str, list[float]](list) for _ in range(3))
    events: dict[str, list[tuple[float, int, str]]] = defaultdict(list)
    for tag, siding, at in sent:
        events[tag].append((at, 0, siding))
    for load in loads:
        events[load.tag].append((load.weighed, 1, load.siding))
    for tag, at in tips:
        if tag != "?":
            events[tag].append((at, 2, ""))
    for mine in events.values():
        mine.sort()
        where = ""
        for (start, rank, siding), (end, after, to) in pairwise(mine):
            hours = (end - start) / 3600.0
            if (rank, after) == (0, 1):
                where = siding
                _both(away, siding, hours)
            elif (rank, after) == (1, 2):
                where = where or siding
                _both(yard, where, hours)
            elif (rank, after) == (2, 0):
                _both(idle, where or to, hours)
                where = ""
    names = sorted(set(away) | set(yard), key=lambda n: (n != "", -_middle(away.get(n)), n))
    return [
        Turn(name, len(away.get(name, ())), _median(away.get(name)), _slow(away.get(name)),
             _median(yard.get(name)), _median(idle.get(name)))
        for name in names
    ]  # fmt: skip


def bins_needed(rate: float, turn_round: float, payload: float) -> float:
    """Bins that go round to bring cane at a rate [t/h], once round in `turn_round` [h], each with
    `payload` [t]: those that fill while one is away. Arithmetic, no source.

    Examples
    --------
    >>> bins_needed(550.0, 24.0, 6.0)
    2200.0
    """
    return rate * turn_round / payload


def _both(times: Mapping[str, list[float]], siding: str, hours: float) -> None:
    times[""].append(hours)
    if siding:
        times[siding].append(hours)


def _middle(hours: Sequence[float] | None) -> float:
    """The median for an order: a siding of which nothing is known comes last."""
    return float(np.median(hours)) if hours else -1.0


def _median(hours: Sequence[float] | None) -> float | None:
    return float(np.median(hours)) if hours else None


def _slow(hours: Sequence[float] | None) -> float | None:
    return float(np.quantile(hours, 0.9)) if hours else None
