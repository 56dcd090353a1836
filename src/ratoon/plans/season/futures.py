"""A block of futures run to its finish: every cause drawn from a stream of its own, then joined.

Nothing is stepped through days but what hangs on the day before. Hours offered are the day less
wet, planned and cane-less hours; long stops take theirs out of what is offered, wherever a day
ends; cane is rate times hours, the last of it slower; the season ends where cane is the crop.

A block, a cause and a draw name their own stream of random numbers, so an answer does not hang on
who worked which block; a change is run with the very draws of the block it is compared with.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from ratoon.plans.season import ccs as ccs_of
from ratoon.plans.season.answer import Cause
from ratoon.plans.season.ccs import Curve
from ratoon.plans.season.crop import Zones
from ratoon.plans.season.draws import Array, Rng
from ratoon.plans.season.ground import Ground
from ratoon.plans.season.rain import Rain
from ratoon.plans.season.rate import Rate
from ratoon.plans.season.stops import Stops

BLOCK = 1000
CAUSES: tuple[Cause, ...] = ("rain", "stops", "rate", "crop", "ccs")


@dataclass(frozen=True)
class Costs:
    """Money of the season: prices and costs a tonne, an hour, a day of delay."""

    sugar: float
    cane: float
    hour: float
    left: float
    ratoon: float
    ratoon_from: int
    """Days ahead from which later cutting costs."""


@dataclass(frozen=True)
class Fit:
    """All that a future is drawn from; small, and sent to whoever works a block."""

    days: int
    rain: Rain
    ground: Ground
    stops: Stops
    rate: Rate
    zones: Zones
    curve: Curve
    planned: Array
    tail_share: float
    costs: Costs
    cane_now: float
    sugar_now: float
    ccs_now: float
    """So far: cane [t], sugar with what is in process [t], and cane times CCS [t.%]."""
    week_starts: tuple[int, ...] = ()


@dataclass(frozen=True)
class Change:
    """What a manager might change; each figure adds to what would be."""

    rate: float = 0.0
    extraction: float = 0.0
    crop: float = 0.0
    lost: float = 0.0
    close: int | None = None
    stops: tuple[tuple[int, float], ...] = ()


NONE = Change()
EXTRACTION = 96.0
"""Extraction at which a point of it is reckoned [%] (common practice)."""
Draws = Mapping[Any, Any]


def draw(fit: Fit, seed: int, block: int, cause: Cause, which: int, count: int) -> Any:
    """What one cause is in each future of a block."""
    key = (block * BLOCK, CAUSES.index(cause), which)
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=key))
    return _DRAWN[cause](fit, rng, count)


def _rain(fit: Fit, rng: Rng, count: int) -> tuple[Array, Array]:
    rain = fit.rain.drawn(rng, count, fit.days)
    return fit.ground.drawn(rng, rain), ccs_of.washed(rain, fit.curve.wash_now)


def _crop(fit: Fit, rng: Rng, count: int) -> tuple[Array, Array]:
    crop = fit.zones.drawn(rng, count)
    return fit.zones.left(crop), crop


_DRAWN: Mapping[Cause, Callable[[Fit, Rng, int], Any]] = {
    "rain": _rain,
    "stops": lambda fit, rng, count: fit.stops.drawn(rng, fit.days, count),
    "rate": lambda fit, rng, count: fit.rate.drawn(rng, fit.days, count),
    "crop": _crop,
    "ccs": lambda fit, rng, count: fit.curve.drawn(rng, count),
}


@dataclass
class Outcome:
    """What came of a block of futures, an entry for each.

    Parameters
    ----------
    finish : days from `at` to the end of crushing, infinite where cane is left; `until`: to the
        season's end, whichever way it ends.
    cane, left : to the season's end [t]. sugar [t], ccs [%], money. hours : to the finish [h].
    weeks : cane, CCS and sugar by week and future, where asked for.
    """

    finish: Array
    until: Array
    cane: Array
    left: Array
    sugar: Array
    ccs: Array
    money: Array
    hours: dict[str, Array] = field(default_factory=dict)
    weeks: Array | None = None
    zones: Array | None = None


def run(fit: Fit, draws: Draws, change: Change = NONE, *, whole: bool = False) -> Outcome:
    """A block of futures from the draws of its causes."""
    lost, wash = draws["rain"]
    share, gaps, lengths = draws["stops"]
    rate, waits, tail = draws["rate"]
    remaining, zones = draws["crop"]
    total = fit.cane_now + remaining
    remaining = np.maximum(remaining + change.crop * total, 0.0)
    days = fit.days if change.close is None else min(fit.days, max(change.close, 1))
    planned = fit.planned[:days, None].copy()
    for day, hours in change.stops:
        if 0 <= day < days:
            planned[day] = min(24.0, planned[day, 0] + hours)
    offered = (24.0 - planned) * (1.0 - lost[:days])
    dry = np.maximum(offered - waits[:days], 0.0)
    heap = np.cumsum(dry, axis=0)
    if change.lost:
        heap = np.maximum(heap - change.lost, 0.0)
    running = _less_long(heap, gaps, lengths)
    hours_run = np.diff(running, axis=0, prepend=0.0) / (1.0 + share[:days])
    pace = rate[:days] + change.rate if change.rate else rate[:days]
    could = np.cumsum(hours_run * pace, axis=0)
    quick = np.maximum(remaining - fit.tail_share * (fit.cane_now + remaining), 0.0)
    could = np.minimum(could, quick + tail * (could - quick))  # the tail is never the quicker
    done = np.minimum(could, remaining)
    finish = _finish(could, remaining, days)
    cane = np.diff(done, axis=0, prepend=0.0)
    content = np.maximum(draws["ccs"][0][:days] - draws["ccs"][1] * wash[:days], 4.0)
    made = cane * content
    recovery = draws["ccs"][2] / 100.0
    recovery = recovery * (1.0 + change.extraction / EXTRACTION)
    sugar = made.sum(axis=0) * recovery
    crushed = done[-1]
    left = remaining - crushed
    until = np.minimum(finish, days)
    c = fit.costs
    late = 0.0
    if c.ratoon:
        late = c.ratoon * (np.maximum(np.arange(days) - c.ratoon_from, 0) @ cane)
    money = (c.sugar * (fit.sugar_now + sugar) - c.cane * (fit.cane_now + crushed)
             - c.hour * 24.0 * until - c.left * left - late)  # fmt: skip
    season = fit.cane_now + crushed
    outcome = Outcome(
        finish, until, season, left, fit.sugar_now + sugar,
        (fit.ccs_now + made.sum(axis=0)) / np.maximum(season, 1e-9), money,
    )  # fmt: skip
    if whole:
        part = np.clip(until[None, :] - np.arange(days)[:, None], 0.0, 1.0)
        held = np.diff(heap, axis=0, prepend=0.0)
        outcome.hours = {
            "rain": np.einsum("d,dn,dn->n", 24.0 - planned[:, 0], lost[:days], part),
            "stops": np.einsum("dn,dn->n", held - hours_run, part),
            "no_cane": np.einsum("dn,dn->n", offered - dry, part),
            "planned": planned[:, 0] @ part,
        }
        starts = np.array([s for s in fit.week_starts if s < days], dtype=np.int64)
        by_week = np.add.reduceat(cane, starts, axis=0)
        sweet = np.add.reduceat(made, starts, axis=0)
        full = by_week > 1.0
        outcome.weeks = np.stack([by_week, np.where(full, sweet / np.where(full, by_week, 1.0),
                                                    np.nan), sweet * recovery])  # fmt: skip
        outcome.zones = zones
    return outcome


def _less_long(heap: Array, gaps: Array, lengths: Array) -> Array:
    """Hours that remain of the hours offered, long stops taken out wherever they come.

    A stop begins after its gap of remaining hours and takes its length of offered ones.
    """
    days, count = heap.shape
    begins = np.cumsum(gaps, axis=0)
    taken = np.cumsum(lengths, axis=0)
    starts = begins.copy()
    starts[1:] += taken[:-1]  # in offered hours
    # one search for all futures: each future's hours are set apart from the others'
    apart = np.arange(count) * (starts.max() + heap.max() + 48.0)
    place = np.searchsorted((starts + apart).T.ravel(), (heap + apart).T.ravel(), side="right")
    place = place.reshape(count, days).T - np.arange(count) * len(gaps)
    before = np.maximum(place - 1, 0)
    ends = np.take_along_axis(starts + lengths, before, axis=0)
    sum_before = np.take_along_axis(taken, before, axis=0)
    remains = heap - sum_before + np.maximum(ends - heap, 0.0)
    return np.asarray(np.where(place > 0, remains, heap))


def _finish(could: Array, remaining: Array, days: int) -> Array:
    """Days until the crop is done, in part of the last day; infinite where it is not."""
    done = could >= remaining - 1e-6
    day = np.argmax(done, axis=0)
    ever = done[-1]
    columns = np.arange(could.shape[1])
    after = could[day, columns]
    before = np.where(day > 0, could[np.maximum(day - 1, 0), columns], 0.0)
    part = np.clip((remaining - before) / np.maximum(after - before, 1e-9), 0.0, 1.0)
    return np.where(ever, np.where(remaining > 0, day + part, 0.0), np.inf)


def ahead(day: date | None, at: date) -> int:
    """Days from `at` to a day; beyond all where there is none."""
    return 10**6 if day is None else (day - at).days
