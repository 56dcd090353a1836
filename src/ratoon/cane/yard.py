"""The yard hour by hour: which bins are full, empty or out, what cane stands in it, and how old.

A bin is full from its weighing to its tip, empty from its tip until it is sent away, and out until
it is weighed again: its last event says where it is. A bin that was not seen for as long as the
records go back is out. Moments are seconds since the epoch, UTC; masses [kg].
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf, nan

import numpy as np
from numpy.typing import NDArray

UNREAD_AFTER = 3600.0
"""After the last tip of a consignment's other bins, a bin of it is taken as tipped unread [s]."""
NOTHING, SENT, WEIGHED, TIPPED = -1, 0, 1, 2
"""What happens to a bin; of one moment, in this order."""
Array = NDArray[np.float64]
Moment = tuple[str, float]
"""A bin's tag, and when."""


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
    again; `slow`: the longest tenth of the time away begins here; `whole`: from one sending out to
    the next. None where nothing is known.
    """

    siding: str
    bins: int
    away: float | None
    slow: float | None
    yard: float | None
    idle: float | None
    whole: float | None


@dataclass(frozen=True, slots=True)
class Yard:
    """Where every bin was. `fleet`: number of bins; `unread`: full bins whose tip nobody read,
    taken as tipped with the rest of their consignment. `payload`: mean net weight [kg].

    `full`: loads, each full from its weighing to `gone`; `empty`: from and to when bins stood empty
    at the mill, shape (n, 2). Infinity is until now.
    """

    full: tuple[Load, ...]
    gone: Array
    empty: Array
    now: float
    fleet: int
    sent_known: bool
    unread: int
    payload: float

    def hours(self, marks: Sequence[float]) -> list[YardHour]:
        """The yard at some moments, none later than now."""
        at = np.asarray(marks, dtype=float)[:, None]
        came = np.array([x.weighed for x in self.full])
        standing = (came <= at) & (at < self.gone)
        empties = ((self.empty[:, 0] <= at) & (at < self.empty[:, 1])).sum(axis=1)
        kg, cut = self.kilograms, np.array([x.cut for x in self.full])
        out = []
        for inside, waiting, moment in zip(standing, empties.tolist(), marks, strict=True):
            full = int(inside.sum())
            ages = (moment - cut[inside]) / 3600.0
            known = ages[~np.isnan(ages)]
            out.append(YardHour(
                moment, full, waiting if self.sent_known else None,
                max(self.fleet - full - waiting, 0) if self.sent_known else None,
                float(kg[inside].sum()) / 1000.0,
                float(known.max()) if known.size else None,
            ))  # fmt: skip
        return out

    @property
    def kilograms(self) -> Array:
        """Cane of each of `full` [kg]: the mean where not both weights are known."""
        kg = np.array([x.kg for x in self.full])
        return np.where(np.isnan(kg), self.payload, kg)

    @property
    def standing(self) -> list[Load]:
        """Full bins in the yard now, those weighed first first."""
        mine = (x for x, gone in zip(self.full, self.gone, strict=True) if gone > self.now)
        return sorted(mine, key=lambda x: (x.weighed, x.tag))

    @property
    def empties(self) -> list[float]:
        """When each bin that is empty at the mill now was tipped."""
        start, end = self.empty.T
        return sorted(start[(start <= self.now) & (self.now < end)].tolist())


@dataclass(frozen=True, slots=True)
class _Events:
    """Weighings, tips and sendings out, by bin and then in order of time.

    `which`: place among the weighings, the tips and the sendings, in this order; `kind`: SENT,
    WEIGHED or TIPPED; `after` and `end`: what came next of the same bin, and when: NOTHING at
    infinity where nothing did.
    """

    bins: int
    which: NDArray[np.int64]
    kind: NDArray[np.int64]
    at: Array
    after: NDArray[np.int64]
    end: Array


def _events(loads: Sequence[Load], tips: Iterable[Moment], sent: Iterable[Moment]) -> _Events:
    groups = [[(x.tag, x.weighed) for x in loads], list(tips), list(sent)]
    every = [event for group in groups for event in group]
    number: dict[str, int] = {}
    bins = np.array([number.setdefault(tag, len(number)) for tag, _ in every], dtype=np.int64)
    at = np.array([moment for _, moment in every], dtype=float)
    kind = np.repeat([WEIGHED, TIPPED, SENT], [len(group) for group in groups])
    order = np.lexsort((kind, at, bins))
    bins, at, kind = bins[order], at[order], kind[order]
    last = np.append(bins[1:] != bins[:-1], True)[: len(every)]
    after, end = (np.append(a[1:], 0)[: len(every)] for a in (kind, at))
    return _Events(len(number), order, kind, at, np.where(last, NOTHING, after),
                   np.where(last, inf, end))  # fmt: skip


def follow(
    loads: Iterable[Load],
    tips: Iterable[Moment],
    sent: Iterable[Moment],
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
    weighings = [x for x in loads if x.weighed <= now]
    gone_out = [(tag, at) for tag, at in sent if at <= now and tag != "?"]
    events = _events(weighings, [(tag, at) for tag, at in tips if at <= now and tag != "?"],
                     gone_out)  # fmt: skip
    weighed, tipped = events.kind == WEIGHED, events.after == TIPPED
    full = [weighings[k] for k in events.which[weighed & tipped].tolist()]
    gone = events.end[weighed & tipped].tolist()
    last_tip: dict[str, float] = {}
    for one, end in zip(full, gone, strict=True):
        last_tip[one.consignment] = max(last_tip.get(one.consignment, -inf), end)
    emptied = events.kind == TIPPED
    empty = [np.column_stack([events.at[emptied], events.end[emptied]])]
    unread = 0
    for k, until in zip(events.which[weighed & ~tipped], events.end[weighed & ~tipped].tolist(),
                        strict=True):  # fmt: skip
        one = weighings[k]
        ended = last_tip.get(one.consignment, inf) if one.consignment else inf
        end = min(until, one.weighed + longest)
        if ended + UNREAD_AFTER <= now:
            end = min(end, max(ended, one.weighed))
        unread += end <= now
        full.append(one)
        gone.append(end)
        if end < until:
            empty.append(np.array([[end, until]]))
    kg = np.array([x.kg for x in full])
    payload = usual if np.isnan(kg).all() else float(np.nanmean(kg))
    return Yard(tuple(full), np.array(gone), np.concatenate(empty), now, fleet or events.bins,
                bool(gone_out), unread, payload)  # fmt: skip


def turns(
    loads: Iterable[Load], tips: Iterable[Moment], sent: Iterable[tuple[str, str, float]]
) -> list[Turn]:
    """Turn-round of bins of all sidings (siding ""), then by siding, those longest away first.

    Parameters
    ----------
    sent : (tag, siding, moment) of empties sent away; a bin filled at another siding than it was
        sent to counts for the one it was sent to.
    """
    away, yard, idle = (defaultdict[str, list[float]](list) for _ in range(3))
    weighings, tipped, gone_out = list(loads), [t for t in tips if t[0] != "?"], list(sent)
    events = _events(weighings, tipped, [(tag, at) for tag, _, at in gone_out])
    sidings = [*(x.siding for x in weighings), *("" for _ in tipped), *(s for _, s, _ in gone_out)]
    places = [sidings[k] for k in events.which.tolist()]
    where = ""
    for kind, siding, after, to, hours in zip(
        events.kind.tolist(), places, events.after.tolist(), [*places[1:], ""],
        ((events.end - events.at) / 3600.0).tolist(), strict=True,
    ):  # fmt: skip
        if (kind, after) == (SENT, WEIGHED):
            where = siding
            away[where].append(hours)
        elif (kind, after) == (WEIGHED, TIPPED):
            where = where or siding
            yard[where].append(hours)
        elif (kind, after) == (TIPPED, SENT):
            idle[where or to].append(hours)
            where = ""
        elif after == NOTHING:  # the next is another bin
            where = ""
    for times in (away, yard, idle):
        if times:
            times[""] = [hours for of_siding in times.values() for hours in of_siding]
    names = sorted(set(away) | set(yard), key=lambda n: (n != "", -_middle(away.get(n)), n))
    found = []
    for name in names:
        parts = [_median(times.get(name)) for times in (away, yard, idle)]
        known = [hours for hours in parts if hours is not None]
        whole = sum(known) if len(known) == len(parts) else None
        found.append(Turn(name, len(away.get(name, ())), parts[0], _slow(away.get(name)), parts[1],
                          parts[2], whole))  # fmt: skip
    return found


def bins_needed(rate: float, turn_round: float, payload: float) -> float:
    """Bins that go round to bring cane at a rate [t/h], once round in `turn_round` [h], each with
    `payload` [t]: those that fill while one is away. Arithmetic, no source.

    Examples
    --------
    >>> bins_needed(550.0, 24.0, 6.0)
    2200.0
    """
    return rate * turn_round / payload


def _middle(hours: Sequence[float] | None) -> float:
    """The median for an order: a siding of which nothing is known comes last."""
    return float(np.median(hours)) if hours else -1.0


def _median(hours: Sequence[float] | None) -> float | None:
    return float(np.median(hours)) if hours else None


def _slow(hours: Sequence[float] | None) -> float | None:
    return float(np.quantile(hours, 0.9)) if hours else None
