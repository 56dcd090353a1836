"""Hours lost to wet ground: what the rain of the last days leaves, against what was lost before.

Wetness of the ground keeps a share of yesterday's and takes today's rain; the share of a day lost
is zero up to a wetness, one from another on, straight between. The three figures are weighed over a
grid by how well they give the hours that the mill lost; futures take them in that proportion. Each
season's ground is a bit better or worse than that, and each day besides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.base.season import MillDay
from ratoon.plans.season.draws import Array, Level, Rng, less_error

KEEPS = np.array([0.4, 0.55, 0.65, 0.72, 0.78, 0.84, 0.90, 0.95])
DRY = np.array([0.0, 3.0, 6.0, 10.0, 15.0, 20.0, 30.0, 45.0])
REACH = np.array([8.0, 15.0, 25.0, 35.0, 50.0, 75.0, 120.0, 200.0])
"""Grid: share of wetness kept a day; wetness [mm] up to which nothing is lost; mm from there to a
whole day lost."""
TOGETHER = 4.0
"""Days of one wet spell err together: the record says as much as a quarter of its days."""
USUAL_NOISE = 0.12
USUAL_SPREAD = 0.25


@dataclass(frozen=True)
class Ground:
    """Wet ground, fitted: points of the grid with their weights, wetness now, spreads."""

    points: Array
    weights: Array
    now: Array
    """Wetness now for each point [mm]."""
    season: Level
    """Logarithm of a season's hours lost over what the grid gives."""
    noise: float
    fitted: bool

    def drawn(self, rng: Rng, rain: Array) -> Array:
        """Share of each day lost in each future, shape of `rain`."""
        count = rain.shape[1]
        pick = rng.choice(len(self.weights), count, p=self.weights)
        keeps, dry, reach = self.points[pick].T
        wet = self.now[pick].copy()
        own = np.exp(self.season.drawn(rng, count).clip(-1.5, 1.5))
        lost = np.empty_like(rain)
        for day, fell in enumerate(rain):
            wet = wet * keeps + fell
            lost[day] = wet
        lost -= dry
        lost /= reach
        np.clip(lost, 0.0, 1.0, out=lost)
        noise = rng.standard_normal(lost.shape, dtype=np.float32) * np.float32(self.noise)
        lost += noise * (lost > 0)
        np.clip(lost, 0.0, 1.0, out=lost)
        lost *= own  # a season's level is told against losses with their noise
        return np.minimum(lost, 1.0, out=lost)


def fit(seasons: Sequence[Sequence[MillDay]], now: Sequence[MillDay]) -> Ground:
    """Wet ground from the hours that were lost in earlier seasons and in this one."""
    runs = [s for s in (*seasons, now) if len(s)]
    lost = np.concatenate([[(d.rain_lost or 0.0) / 24.0 for d in s] for s in runs] or [[]])
    points = np.array([(k, d, r) for k in KEEPS for d in DRY for r in REACH])
    wetness = {k: [_wetness(s, k) for s in runs] for k in KEEPS}
    last = np.array([wetness[p[0]][-1][-1] if len(now) else 0.0 for p in points])
    enough = lost.size >= 60 and (lost > 0.02).sum() >= 8
    if not enough:
        weights = np.where((points[:, 0] > 0.6) & (points[:, 0] < 0.92) & (points[:, 1] < 18)
                           & (points[:, 2] < 60), 1.0, 0.0)  # fmt: skip
        wide = Level((), 0.0, USUAL_SPREAD, 0.4)
        return Ground(points, weights / weights.sum(), last, wide, USUAL_NOISE, False)
    squares = np.empty(len(points))
    per = len(DRY) * len(REACH)
    for n, k in enumerate(KEEPS):
        wet = np.concatenate(wetness[k])
        rows = points[n * per : (n + 1) * per]
        given = np.clip((wet[None, :] - rows[:, 1:2]) / rows[:, 2:3], 0.0, 1.0)
        squares[n * per : (n + 1) * per] = ((given - lost[None, :]) ** 2).sum(axis=1)
    best = int(np.argmin(squares))
    keeps, dry, reach = points[best]
    model = [np.clip((w - dry) / reach, 0.0, 1.0) for w in wetness[keeps]]
    given = np.concatenate(model)
    told = (given > 0) | (lost > 0.02)
    variance = max(float(np.mean((given - lost)[told] ** 2)), 1e-4)
    weights = np.exp(-(squares - squares[best]) / (2 * variance * TOGETHER))
    keep = weights > 1e-4
    own = [np.array([(d.rain_lost or 0.0) / 24.0 for d in s]) for s in runs]
    noise = float(np.clip(np.sqrt(variance), 0.05, 0.4))
    expected = [_expected(m, noise).sum() for m in model]
    logs = [float(np.log((o.sum() + 1.0) / (e + 1.0))) for o, e in zip(own, expected)]
    has_now = bool(len(now)) and model[-1].sum() > 0.5
    seen = logs[-1] if has_now else None
    errors = [noise * float(np.sqrt(TOGETHER / max(float(m.sum()), 0.5))) for m in model]
    # a season with few wet days tells little: its chance part is no difference between seasons
    before = slice(0, len(runs) - bool(len(now)))
    chance = float(np.mean(np.square(errors[before]))) if errors[before] else 0.0
    earlier = less_error(logs[before], chance)
    level = Level(earlier, 0.0, USUAL_SPREAD, 0.3, seen, errors[-1])
    return Ground(points[keep], weights[keep] / weights[keep].sum(), last[keep], level, noise, True)


def _expected(lost: Array, noise: float) -> Array:
    """Mean share lost with a day's noise, which adds to small shares: none is below zero."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    drawn = np.clip(lost[:, None] + noise * nodes, 0.0, 1.0)
    return np.asarray(np.where(lost > 0, drawn @ weights / weights.sum(), 0.0))


def _wetness(days: Sequence[MillDay], keeps: float) -> Array:
    wet, made = 0.0, np.empty(len(days))
    for n, day in enumerate(days):
        wet = wet * keeps + (day.rain or 0.0)
        made[n] = wet
    return made
