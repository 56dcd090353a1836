"""The crushing rate as it ran: a level, a slow wander, a day's scatter, and the last fields.

The rate of a day is its cane over the hours in which the mill ran. Its logarithm is a level of the
season, a drift, a wander over some fortnights (weak ones among them) and a scatter of its
own each day; all four come from the days on record. Hours without cane, wet ground apart, are drawn
from the days on record. The last share of the crop comes more slowly, as the last fields are few.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.base.season import MillDay
from ratoon.plans.season.draws import Array, Level, Rng, less_error, wandering
from ratoon.plans.season.given import Given

LEAST_HOURS = 6.0
"""A day that ran for less says little of the rate [h]."""
MEMORY = 10.0
"""Days over which the wander is remembered where no record tells (weak spells last a fortnight:
common practice)."""
SHORTEST_MEMORY, LONGEST_MEMORY = 4.0, 20.0
NEAR, FAR = (2, 3, 4, 5), (8, 9, 10, 11, 12)
"""Days apart at which rates are compared for the wander and for its memory."""
USUAL_WANDER, USUAL_SCATTER, USUAL_SPREAD = 0.04, 0.04, 0.05
USUAL_DRIFT = 0.03
"""Standard deviation of the drift over 150 days."""
USUAL_TAIL, TAIL_SPREAD = 0.6, 0.15
"""Rate over the last fields, of that before, and how far mills differ in it (mill's choice); from
season to season it differs as the rate does."""


@dataclass(frozen=True)
class Rate:
    """The rate, fitted.

    Parameters
    ----------
    level : logarithm of the rate [t/h] at the season's middle of what is seen, drift taken out.
    drift : change of its logarithm in 150 days. wander, scatter : standard
        deviations; memory : of the wander [d].
    last : the wander on the last day. tail : rate over the last fields, of that before.
    no_cane : hours without cane of days on record. since : days from the level's middle to `at`.
    """

    level: Level
    drift: Level
    wander: float
    memory: float
    scatter: float
    last: float
    tail: Level
    no_cane: Array
    no_cane_season: Level
    since: float

    def drawn(self, rng: Rng, days: int, count: int) -> tuple[Array, Array, Array]:
        """Rate [t/h] and hours without cane by day and future, and the tail's factor."""
        rho = float(np.exp(-1.0 / self.memory))
        made = wandering(rng, rho, self.wander, self.last, (days, count))
        made += self.scatter * rng.standard_normal((days, count), dtype=np.float32)
        when = (np.arange(days) + self.since)[:, None] / 150.0
        made += self.drift.drawn(rng, count) * when
        made += self.level.drawn(rng, count)
        np.exp(made, out=made)
        waits = self.no_cane[rng.integers(0, len(self.no_cane), (days, count))]
        waits = waits * np.exp(self.no_cane_season.drawn(rng, count).clip(-1.5, 1.5))
        tail = self.tail.drawn(rng, count).clip(0.2, 1.0)
        return made, waits, tail


def fit(given: Given, tail_share: float) -> Rate:
    """The rate of earlier seasons and of this one; BadInput where no day tells any."""
    seasons = [_logs(given, s) for s in given.seasons]
    seasons = [s for s in seasons if len(s) >= 20]
    now = _logs(given, given.season)
    wander, memory, scatter = _spreads([*seasons, now])
    earlier = [_line(s, wander, scatter) for s in seasons]
    free = [wander**2 * 2 * memory / max(len(s), 1) for s in seasons]
    error = float(np.mean(free)) if free else 0.0
    levels = less_error([e[0] for e in earlier], error)
    spread = USUAL_SPREAD if earlier else 0.15
    # a slope over a season of 150 days is known twelve times as badly as its level
    drift = Level(less_error([e[1] for e in earlier], 12 * error), 0.0, USUAL_DRIFT, 0.03)
    middle, last, seen, sigma, since = 0.0, 0.0, None, 0.0, 0.0
    if len(now):
        slope = drift.centre()[0]
        days, logs = now[:, 0], now[:, 1]
        middle = float(days.mean())
        seen = float(np.mean(logs - slope * (days - middle) / 150.0))
        sigma = _error(len(now), wander, memory, scatter)
        end = (given.at - given.rules.start).days
        since = end - middle
        near = logs[-10:] - seen - slope * (days[-10:] - middle) / 150.0
        last = float(near.mean()) * _held(len(near), wander, scatter)
    usual = float(np.mean(levels)) if levels else (seen if seen is not None else np.log(400.0))
    waits = [d.no_cane or 0.0 for s in (*given.seasons, given.season) for d in s if d.cane]
    sums = [float(np.log(np.mean([d.no_cane or 0.0 for d in s if d.cane] or [0.0]) + 0.1))
            for s in given.seasons]  # fmt: skip
    centre = float(np.mean(sums)) if sums else 0.0
    return Rate(
        Level(levels, usual, spread, 0.15, seen, sigma), drift, wander, memory, scatter, last,
        _tail(given, tail_share), np.asarray(waits if len(waits) >= 20 else [0.0] * 8 + [2.0, 4.0]),
        Level(tuple(s - centre for s in sums), 0.0, 0.2, 0.3), since,
    )  # fmt: skip


def _logs(given: Given, season: Sequence[MillDay]) -> Array:
    """Day of the season and logarithm of the rate of each day that ran long enough."""
    made = [((d.date - season[0].date).days, np.log(d.cane / hours)) for d in season
            if d.cane and (hours := given.hours_run(d)) >= LEAST_HOURS]  # fmt: skip
    found = np.array(made).reshape(-1, 2)
    if len(found) < 8:
        return found
    # without the last fields, and days whose hours were booked wrong
    middle = np.median(found[:, 1])
    return np.asarray(found[np.abs(found[:, 1] - middle) < 0.35])


def _line(found: Array, wander: float, scatter: float) -> tuple[float, float]:
    """Level at the middle of a season and drift in 150 days."""
    days, logs = found[:, 0], found[:, 1]
    slope, level = np.polyfit((days - days.mean()) / 150.0, logs, 1)
    return float(level), float(slope)


def _spreads(seasons: list[Array]) -> tuple[float, float, float]:
    """Wander, its memory [d] and scatter, from how rates of days some days apart go together."""
    near, far, all_ = [], [], []
    for found in seasons:
        if len(found) < 30:
            continue
        off = found[:, 1] - np.polyval(np.polyfit(found[:, 0], found[:, 1], 1), found[:, 0])
        all_.append(float(np.mean(off**2)))
        near.append(float(np.mean([np.mean(off[k:] * off[:-k]) for k in NEAR])))
        far.append(float(np.mean([np.mean(off[k:] * off[:-k]) for k in FAR])))
    if not all_:
        return USUAL_WANDER, MEMORY, USUAL_SCATTER
    close, distant = float(np.mean(near)), max(float(np.mean(far)), 1e-6)
    apart = float(np.mean(FAR) - np.mean(NEAR))
    memory = apart / np.log(close / distant) if close > distant else LONGEST_MEMORY
    memory = float(np.clip(memory, SHORTEST_MEMORY, LONGEST_MEMORY))
    held = float(np.mean(np.exp(-np.array(NEAR) / memory)))
    total = float(np.mean(all_))
    slow = min(max(close / held + 1e-4, 1e-4), total)
    return float(np.sqrt(slow)), memory, float(np.sqrt(max(total - slow, 1e-4)))


def _error(days: int, wander: float, memory: float, scatter: float) -> float:
    """Standard error of a mean over days that wander and scatter."""
    free = max(days / (2 * memory), 1.0)
    return float(np.sqrt(wander**2 / free + scatter**2 / days))


def _held(days: int, wander: float, scatter: float) -> float:
    """How much of the last days' mean is wander."""
    return float(wander**2 / (wander**2 + scatter**2 / max(days, 1)))


def _tail(given: Given, share: float) -> Level:
    """How fast the last share of each earlier crop came, of the pace before."""
    made = []
    for season in given.seasons:
        cane = np.array([d.cane or 0.0 for d in season])
        hours = np.array([given.hours_run(d) for d in season])
        left = cane[::-1].cumsum()[::-1] / max(cane.sum(), 1e-9)
        late, before = left <= share, (left > share) & (left < share + 0.2)
        if hours[late].sum() > 12 and hours[before].sum() > 48:
            pace = cane[late].sum() / hours[late].sum()
            made.append(float(pace / (cane[before].sum() / hours[before].sum())))
    return Level(tuple(made), USUAL_TAIL, USUAL_SPREAD, TAIL_SPREAD)
