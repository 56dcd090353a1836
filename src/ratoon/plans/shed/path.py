"""Will the sheds hold, and does the sugar last: stock week by week over many futures.

What is made comes from the season's forecast where there is one. What is drawn goes on as it did,
but for stops. A shed takes its share of what comes; what it has no room for goes to the others, and
what none of them takes is without room. Draws likewise; what none of them gives is short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
LEVELS = (0.05, 0.25, 0.50, 0.75, 0.95)
DAYS = 7.0
BETWEEN = 0.5826
"""A stock that is looked at once a week is higher and lower between: a limit is reached as if it
were so much of a week's own scatter nearer (limits that are watched at intervals; from memory)."""


@dataclass(frozen=True, slots=True)
class Store:
    """One shed: stock with its uncertainty, room with its own, what stays [t]; shares of what
    comes and of what is drawn."""

    name: str
    stock: float
    sigma: float
    room: float
    room_sigma: float
    heel: float
    comes: float
    goes: float


@dataclass(frozen=True)
class Ahead:
    """What comes and goes in each week of each future, arrays of (weeks, futures) [t].

    `starts` : days from now to the first day of each week; the last entry is the plan's end.
    lack : of each future, what is wanted of a brand that is not there [t].
    """

    starts: tuple[int, ...]
    comes: Array
    goes: Array
    lack: Array | float = 0.0


@dataclass(frozen=True)
class Path:
    """What came of it, arrays of (sheds, weeks, futures) and of (sheds, futures).

    full, empty : days from now, infinite where a shed never is. over, short : of each future, what
    found no room and what was not there [t]. cover : days that stock lasts with nothing coming.
    """

    stock: Array
    full: Array
    empty: Array
    over: Array
    short: Array
    cover: Array


def follow(stores: Sequence[Store], ahead: Ahead, seed: int) -> Path:
    """Stock of every shed over the weeks of every future."""
    rng = np.random.default_rng([seed, 7])
    futures, sheds = ahead.comes.shape[1], len(stores)
    draw = rng.standard_normal((2, sheds, futures))
    room = np.array([[s.room] for s in stores]) + np.array([[s.room_sigma] for s in stores]) * (
        draw[0])  # fmt: skip
    heel = np.array([[s.heel] for s in stores])
    room = np.maximum(room, heel)
    held = np.array([[s.stock] for s in stores]) + np.array([[s.sigma] for s in stores]) * draw[1]
    held = np.clip(held, 0.0, room)
    shares = [np.array([[getattr(s, n)] for s in stores]) for n in ("comes", "goes")]
    goes_a_day = ahead.goes.sum(axis=0) / max(ahead.starts[-1], 1)
    cover = np.maximum(held - heel, 0.0) / np.maximum(goes_a_day * shares[1], 1e-9)
    near = BETWEEN * _new_each_week(ahead)[:, None, None] * np.maximum(*shares)
    path, full = [], np.full((sheds, futures), np.inf)
    empty, over, short = full.copy(), np.zeros(futures), np.zeros(futures) + ahead.lack
    for week, (first, last) in enumerate(pairwise(ahead.starts)):
        before = held
        comes, none = parted(ahead.comes[week] * shares[0], room - held)
        # what comes and what goes pass in the same week: room is made by what is drawn
        goes, lack = parted(ahead.goes[week] * shares[1], np.maximum(held + comes - heel, 0.0))
        back = np.minimum(none, goes.sum(axis=0))
        more, none = parted(back * shares[0], room - (held + comes - goes))
        none = none + np.maximum(ahead.comes[week] - comes.sum(axis=0) - back, 0.0)
        held = held + comes + more - goes
        over, short = over + none, short + lack
        path.append(held)
        full = _reached(full, before, held, room - near[week], first, last)
        empty = _reached(empty, -before, -held, -heel - near[week], first, last)
    return Path(np.stack(path, axis=1), full, empty, over, short, cover)


def _new_each_week(ahead: Ahead) -> Array:
    """How far each week's net flow is from that of the week before, for no lasting reason [t]."""
    net = ahead.comes - ahead.goes
    if len(net) < 2:
        return np.zeros(len(net))
    steps = np.diff(net, axis=0).std(axis=1) / np.sqrt(2.0)
    return np.append(steps, steps[-1:])


def parted(wanted: Array, most: Array) -> tuple[Array, Array]:
    """What each shed takes or gives of what is asked of it, the others stepping in; and the rest.

    Arrays of (sheds, futures).
    """
    first = np.minimum(wanted, np.maximum(most, 0.0))
    left = (wanted - first).sum(axis=0)
    spare = np.maximum(most, 0.0) - first
    all_spare = spare.sum(axis=0)
    more = np.minimum(left, all_spare)
    return first + spare * (more / np.maximum(all_spare, 1e-9)), left - more


def _reached(
    known: Array, before: Array, after: Array, limit: Array, first: int, last: int
) -> Array:
    """Days from now at which a limit is first reached, in part of the week it is crossed in."""
    close = np.maximum(1e-6 * np.abs(limit), 1e-6)
    part = np.clip((limit - before) / np.where(after > before, after - before, 1.0), 0.0, 1.0)
    at = first + np.where(before >= limit - close, 0.0, part) * (last - first)
    now = (after >= limit - close) & np.isinf(known)
    return np.asarray(np.where(now, at, known))


def chance(days: Array) -> float:
    """Share of the futures in which it comes at all."""
    return float(np.mean(np.isfinite(days)))


def days_at(days: Array) -> tuple[float | None, ...]:
    """Quantiles of a day over all futures; None past the plan's end."""
    order = np.sort(days)
    found = [order[min(int(level * len(order)), len(order) - 1)] for level in LEVELS]
    return tuple(float(d) if np.isfinite(d) else None for d in found)


def lost(path: Path, over: float, short: float) -> Array:
    """Money lost in each future: a tonne without room, a tonne not there."""
    return np.asarray(over * path.over + short * path.short)


def with_room(stores: Sequence[Store], more: float) -> list[Store]:
    """The sheds with more room, in the largest."""
    most = max(range(len(stores)), key=lambda n: stores[n].room)
    return [replace(s, room=s.room + more) if n == most else s for n, s in enumerate(stores)]


def quantiles(values: Any) -> tuple[float, ...]:
    """The five quantiles of what futures have."""
    return tuple(float(q) for q in np.quantile(values, LEVELS))
