"""When the yard runs out: cane standing in it, on the way and still to be cut, against the rate.

Stock at a moment = stock now + cane that has arrived - rate x time, never below nothing; the yard
runs out when it reaches nothing. What arrives is uncertain, so the sum is worked for many draws:
each parcel on the way takes one of the times that parcels took lately (of those longer than it has
already been on the way), each group's cane is off its roster by a factor of its own and by one that
all share, and the rate is off by its spread from hour to hour. The time told is the middle of the
draws; its interval leaves 2.5 % of them out on either side. The draws are the same every time.

Cane is crushed in the order in which it came into the yard. The mill is taken to run: an
unplanned stop is not foreseen, and puts the hour off.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DRAWS = 500
STEP = 600.0
"""Draws, and the time over which arrivals are gathered [s]."""
USUAL_LEAD, USUAL_SPREAD = 4.0, 0.5
"""Where no parcel has come lately: hours from cutting to the yard, and their relative spread."""
LOW, HIGH = 0.025, 0.975


@dataclass(frozen=True, slots=True)
class Parcel:
    """Cane [t] cut at `cut` [s UTC]; `came`: when it entered the yard, None while on its way."""

    name: str
    tonnes: float
    cut: float
    came: float | None = None
    travel_h: float = 0.0


@dataclass(frozen=True, slots=True)
class Cutting:
    """Cane still to be cut: `rate` [t/h] from `start` to `end` [s UTC] by one group."""

    group: str
    start: float
    end: float
    rate: float
    travel_h: float = 0.0


@dataclass(frozen=True, slots=True)
class Given:
    """What a forecast rests on.

    Parameters
    ----------
    now : [s UTC]. standing : parcels in the yard, in the order in which they came.
    on_the_way : cut, not yet in. cutting : rosters from now on. rate, rate_sigma : [t/h].
    leads : hours from cutting to the yard of parcels lately, shortest first.
    share, share_sigma : cane that came of cane rostered, and its spread from group to group;
        share_common: its spread from day to day, the same for all groups.
    """

    now: float
    standing: Sequence[Parcel]
    on_the_way: Sequence[Parcel]
    cutting: Sequence[Cutting]
    rate: float
    rate_sigma: float
    leads: Sequence[float]
    share: float = 1.0
    share_sigma: float = 0.15
    share_common: float = 0.10


@dataclass(frozen=True, slots=True)
class Forecast:
    """The yard from now on.

    Parameters
    ----------
    runs_out, early, late : [s UTC]: the middle of the draws and its 95 % interval; infinite where
        the yard lasts beyond the hours looked at. chance : share of draws in which it runs out.
    marks : hours from now on [s UTC]. tonnes, low, high : in the yard at each, 95 %.
    arrived, crushed : tonnes since now, means. oldest_h : age of the oldest cane at each mark.
    slower : the rate at which it lasts over the hours looked at [t/h]; the rate itself where it
        lasts anyway.
    """

    runs_out: float
    early: float
    late: float
    chance: float
    marks: tuple[float, ...]
    tonnes: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    arrived: tuple[float, ...]
    crushed: tuple[float, ...]
    oldest_h: tuple[float | None, ...]
    slower: float


@dataclass(frozen=True, slots=True)
class Ageing:
    """A parcel that grows too old before it is crushed, if cane is taken as it came."""

    name: str
    tonnes: float
    age_now_h: float
    age_crushed_h: float
    crush_by: float
    grower: str = ""


def forecast(given: Given, hours: int = 24) -> Forecast:
    """The yard over the coming hours; see the module for how."""
    rng = np.random.default_rng(14)
    steps = round(hours * 3600.0 / STEP)
    arrivals = _arrivals(given, steps, rng)
    rates = np.maximum(given.rate + given.rate_sigma * rng.standard_normal(DRAWS), 1e-6)
    opening = sum(p.tonnes for p in given.standing)
    stock, dry, taken = _run(opening, arrivals, rates)
    times = given.now + np.where(dry < inf, dry, np.inf)
    runs_out, early, late = (_quantile(times, q) for q in (0.5, LOW, HIGH))
    per_hour = round(3600.0 / STEP)
    at = np.arange(0, steps + 1, per_hour)
    marks = tuple(given.now + STEP * float(k) for k in at)
    low, high = np.quantile(stock[:, at], [LOW, HIGH], axis=0)
    return Forecast(
        runs_out, early, late, float((dry < inf).mean()), marks,
        _tuple(np.median(stock[:, at], axis=0)), _tuple(low), _tuple(high),
        _tuple(np.concatenate([[0.0], np.cumsum(arrivals.mean(axis=0))])[at]),
        _tuple(np.concatenate([[0.0], np.cumsum(taken.mean(axis=0))])[at]),
        _oldest(given, marks), _slower(opening, np.median(np.cumsum(arrivals, axis=1), axis=0),
                                       given.rate),
    )  # fmt: skip


def _tuple(values: Array) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _quantile(times: Array, share: float) -> float:
    """A quantile of moments, some of them infinite: no mean is taken between two of them."""
    return float(np.sort(times)[min(int(share * len(times)), len(times) - 1)])


def _arrivals(given: Given, steps: int, rng: np.random.Generator) -> Array:
    """Cane that enters the yard in each step of each draw [t], shape (DRAWS, steps)."""
    into = np.zeros(DRAWS * (steps + 1))
    draw = np.arange(DRAWS) * (steps + 1)

    def add(moments: Array, tonnes: Array) -> None:
        step = np.clip((moments - given.now) // STEP, 0, steps).astype(np.int64)
        np.add.at(into, draw + step, tonnes)

    for parcel in given.on_the_way:
        been = (given.now - parcel.cut) / 3600.0
        add(parcel.cut + 3600.0 * _lead(given.leads, been, parcel.travel_h, rng),
            np.full(DRAWS, parcel.tonnes))  # fmt: skip
    together = given.share + given.share_common * rng.standard_normal(DRAWS)
    factors = {g: np.maximum(together + given.share_sigma * rng.standard_normal(DRAWS), 0.0)
               for g in sorted({c.group for c in given.cutting})}  # fmt: skip
    for cutting in given.cutting:
        edges = np.append(np.arange(max(cutting.start, given.now), cutting.end, 1800.0),
                          cutting.end)  # fmt: skip
        for a, b in pairwise(edges):
            if b > a:
                lead = _lead(given.leads, 0.0, cutting.travel_h, rng)
                add((a + b) / 2 + 3600.0 * lead,
                    factors[cutting.group] * cutting.rate * (b - a) / 3600.0)  # fmt: skip
    return into.reshape(DRAWS, steps + 1)[:, :steps]


def _lead(leads: Sequence[float], been: float, travel: float, rng: np.random.Generator) -> Array:
    """Hours from cutting to the yard in each draw, longer than `been` and than the way."""
    least = max(been, travel)
    if not len(leads):
        usual = max(USUAL_LEAD, travel)
        drawn = usual * np.exp(USUAL_SPREAD * rng.standard_normal(DRAWS))
        return np.where(drawn > least, drawn, least + usual * rng.random(DRAWS) / 4.0)
    known = np.asarray(leads, dtype=float)
    longer = known[known > least]
    if not longer.size:  # later than any of late: soon, nobody knows when
        return least + rng.random(DRAWS)
    return longer[rng.integers(0, longer.size, DRAWS)]


def _run(opening: float, arrivals: Array, rates: Array) -> tuple[Array, Array, Array]:
    """Stock at each step [t], seconds until the yard is first dry, and cane taken in each step."""
    draws, steps = arrivals.shape
    stock = np.empty((draws, steps + 1))
    stock[:, 0] = opening
    taken = np.empty((draws, steps))
    dry = np.full(draws, inf)
    wanted = rates * STEP / 3600.0
    for k in range(steps):
        have = stock[:, k] + arrivals[:, k]
        left = have - wanted
        now_dry = (left < 0.0) & (dry == inf)
        dry[now_dry] = STEP * (k + have[now_dry] / wanted[now_dry])
        taken[:, k] = np.minimum(have, wanted)
        stock[:, k + 1] = np.maximum(left, 0.0)
    return stock, dry, taken


def _slower(opening: float, came: Array, rate: float) -> float:
    """The highest steady rate [t/h], up to the given one, at which the yard never runs dry."""
    hours = STEP * np.arange(1, len(came) + 1) / 3600.0
    return float(min(rate, ((opening + came) / hours).min())) if len(came) else rate


def queue(given: Given) -> list[tuple[Parcel, float, float]]:
    """Parcels in the order of the yard: each with when it comes in and is crushed [s UTC].

    Cane on the way, and cane still to be cut, is taken to come when the middle of such parcels
    comes.
    """
    coming = [(p, p.came if p.came is not None else given.now) for p in given.standing]
    coming += [(p, p.cut + 3600.0 * _middle(given, (given.now - p.cut) / 3600.0, p.travel_h))
               for p in given.on_the_way]  # fmt: skip
    for c in given.cutting:
        edges = np.append(np.arange(max(c.start, given.now), c.end, 1800.0), c.end)
        for a, b in pairwise(edges.tolist()):
            tonnes = given.share * c.rate * (b - a) / 3600.0
            cut = (a + b) / 2
            parcel = Parcel(c.group, tonnes, cut, None, c.travel_h)
            coming.append((parcel, cut + 3600.0 * _middle(given, 0.0, c.travel_h)))
    coming.sort(key=lambda c: c[1])
    out, at = [], given.now
    for parcel, came in coming:
        at = max(at, came) + 3600.0 * parcel.tonnes / max(given.rate, 1e-6)
        out.append((parcel, came, at))
    return out


def _middle(given: Given, been: float, travel: float) -> float:
    """The middle of the leads that are longer than the way and than `been` [h]."""
    least = max(been, travel)
    first, count = bisect_right(given.leads, least), len(given.leads)
    if first < count:
        return given.leads[first + (count - first) // 2]
    return max(least + 0.5, USUAL_LEAD if been == 0.0 else 0.0)


def _oldest(given: Given, marks: Sequence[float]) -> tuple[float | None, ...]:
    """Age of the oldest cane known to be in the yard at each mark [h]; None for an empty yard."""
    waiting = deque(queue(given))
    out: list[float | None] = []
    for mark in marks:
        while waiting and waiting[0][2] <= mark:
            waiting.popleft()
        ages = [(mark - p.cut) / 3600.0 for p, came, _ in waiting
                if p.cut == p.cut and came <= mark]  # fmt: skip
        out.append(max(ages, default=None))
    return tuple(out)


def ageing(given: Given, old_h: float) -> list[Ageing]:
    """Parcels in the yard that grow older than `old_h` before they are crushed, oldest first."""
    found = []
    for parcel, _, ends in queue(given):
        if parcel.came is None or parcel.cut != parcel.cut:
            continue
        crushed = (ends - parcel.cut) / 3600.0
        if crushed > old_h:
            found.append(Ageing(parcel.name, parcel.tonnes, (given.now - parcel.cut) / 3600.0,
                                crushed, parcel.cut + 3600.0 * old_h))  # fmt: skip
    return sorted(found, key=lambda a: -a.age_crushed_h)
