"""A block of futures run to its finish: every cause drawn from a stream of its own, then joined.

Nothing is stepped through days but what hangs on the day before. Hours offered are the day less
wet, planned and cane-less hours; long stops take theirs out of what is offered, wherever a day
ends; cane is rate times hours, the last of it slower; the season ends where cane is the crop.

A block, a cause and a draw name their own stream of random numbers, so an answer does not depend on
which process worked which block; a change is run with the very draws of the block it is compared
with.
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
    """All that a future is drawn from; small, and sent to the process that works a block."""

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


@dataclass(frozen=True)
class Crushed:
    """Tonnes and hours of a block of futures, before what the cane holds is known."""

    days: int
    remaining: Array
    finish: Array
    until: Array
    cane: Array
    """By day and future [t]."""
    offered: Array
    waited: Array
    heap: Array
    hours_run: Array
    planned: Array


def run(fit: Fit, draws: Draws, change: Change = NONE, *, whole: bool = False) -> Outcome:
    """A block of futures from the draws of its causes."""
    return valued(fit, crushed(fit, draws, change), draws, change, whole=whole)


def crushed(
    fit: Fit, draws: Draws, change: Change = NONE, planned: Array | None = None
) -> Crushed:  # fmt: skip
    """What is crushed on each day of each future; CCS plays no part in it.

    Parameters
    ----------
    planned : hours of planned stops by day, or by day and future, in place of the fit's.
    """
    lost, _ = draws["rain"]
    share, gaps, lengths = draws["stops"]
    rate, waits, tail = draws["rate"]
    remaining, _ = draws["crop"]
    if change.crop:
        remaining = np.maximum(remaining + change.crop * (fit.cane_now + remaining), 0.0)
    days = fit.days if change.close is None else min(fit.days, max(change.close, 1))
    planned = (fit.planned if planned is None else planned)[:days].copy()
    for day, hours in change.stops:
        if 0 <= day < days:
            planned[day] += hours
    planned = carried(planned)
    offered = (24.0 - (planned if planned.ndim == 2 else planned[:, None])) * (1.0 - lost[:days])
    dry = np.maximum(offered - waits[:days], 0.0)
    heap = np.cumsum(dry, axis=0)
    if change.lost:
        heap = np.maximum(heap - change.lost, 0.0)
    running = _less_long(heap, gaps, lengths)
    hours_run = np.diff(running, axis=0, prepend=0.0) / (1.0 + share[:days])
    pace = np.maximum(rate[:days] + change.rate, 0.0) if change.rate else rate[:days]
    could = np.cumsum(hours_run * pace, axis=0)
    quick = np.maximum(remaining - fit.tail_share * (fit.cane_now + remaining), 0.0)
    could = np.minimum(could, quick + tail * (could - quick))  # the tail is never the quicker
    finish = _finish(could, remaining, days)
    cane = np.diff(np.minimum(could, remaining), axis=0, prepend=0.0)
    until = np.minimum(finish, days)
    return Crushed(days, remaining, finish, until, cane, offered, offered - dry, heap, hours_run,
                   planned)  # fmt: skip


def valued(
    fit: Fit, c: Crushed, draws: Draws, change: Change = NONE, *, whole: bool = False
) -> Outcome:
    """What the cane of a block of futures holds, makes and is worth."""
    wash = draws["rain"][1]
    content, fall, recovery = draws["ccs"]
    sweet = np.maximum(content[: c.days] - fall * wash[: c.days], 4.0)
    sweet *= c.cane
    made = sweet.sum(axis=0)
    recovery = recovery / 100.0 * (1.0 + change.extraction / EXTRACTION)
    sugar, total = fit.sugar_now + made * recovery, c.cane.sum(axis=0)
    left, season = c.remaining - total, fit.cane_now + total
    costs = fit.costs
    money = (costs.sugar * sugar - costs.cane * season - costs.hour * 24.0 * c.until
             - costs.left * left)  # fmt: skip
    if costs.ratoon:
        money -= costs.ratoon * (np.maximum(np.arange(c.days) - costs.ratoon_from, 0) @ c.cane)
    ccs = (fit.ccs_now + made) / np.maximum(season, 1e-9)
    outcome = Outcome(c.finish, c.until, season, left, sugar, ccs, money)
    if whole:
        _told(fit, c, draws, sweet, recovery, outcome)
    return outcome


def _told(
    fit: Fit, c: Crushed, draws: Draws, sweet: Array, recovery: Array, outcome: Outcome
) -> None:
    """Hours to the finish and figures of weeks, for those who look."""
    part = np.clip(c.until[None, :] - np.arange(c.days)[:, None], 0.0, 1.0)
    held = np.diff(c.heap, axis=0, prepend=0.0)
    lost = draws["rain"][0][: c.days]
    outcome.hours = {
        "rain": np.einsum("d,dn,dn->n", 24.0 - c.planned, lost, part),
        "stops": np.einsum("dn,dn->n", held - c.hours_run, part),
        "no_cane": np.einsum("dn,dn->n", c.waited, part),
        "planned": c.planned @ part,
    }
    starts = np.array([s for s in fit.week_starts if s < c.days], dtype=np.int64)
    cane = np.add.reduceat(c.cane, starts, axis=0)
    sweet = np.add.reduceat(sweet, starts, axis=0)
    full = cane > 1.0
    content = np.where(full, sweet / np.where(full, cane, 1.0), np.nan)
    outcome.weeks = np.stack([cane, content, sweet * recovery])
    outcome.zones = draws["crop"][1]


def carried(hours: Array) -> Array:
    """Hours that the mill stands on each day: what a day has no room for runs on into the next."""
    made, over = np.empty_like(hours), np.zeros(hours.shape[1:])
    for day, own in enumerate(hours):
        over = own + over
        made[day] = np.minimum(over, 24.0)
        over = over - made[day]
    return made


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
