"""CCS through the season, and the sugar made of it.

CCS of a week is a curve of the season's weeks (level, slope and bend about the middle), less a fall
while the ground is washed by rain, and errors that hang together from week to week. Each season has
a curve of its own; earlier seasons are what this one's is expected to be, with the tails that few
seasons leave, and its weeks so far revise it. Sugar made over CCS in cane is a ratio of the season.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.base.season import MillDay
from ratoon.plans.season.draws import WEIGHT, Array, Level, Rng, variances, wandering
from ratoon.plans.season.given import Given

MIDDLE, HALF = 11.0, 11.0
"""Weeks: middle of a season of 22 weeks, and half of it."""
USUAL = (14.0, 0.6, -0.8)
"""Level, slope over half a season and bend where no season is on record: 14, and a peak between
weeks 15 and 18 with 0.01 to 0.03 a square week (common practice)."""
SPREADS = (0.5, 0.35, 0.35)
WIDE = (1.0, 0.5, 0.5)
"""Of those three: usual spread from season to season, and error where there is no season."""
USUAL_FALL, FALL_ERROR = 0.15, 0.15
"""Fall for each unit of `washed`: 0.2 to 0.6 unit after storms (common practice)."""
USUAL_NOISE, USUAL_RHO = 0.2, 0.4
WASH_KEEPS = 0.9
WASH_MM = 20.0
"""Share of the wash kept from day to day; mm of it for one unit of logarithm."""
FILLING = 3
"""Days of a season while tanks and pans fill and sugar runs behind its cane."""
USUAL_RECOVERY, RECOVERY_SPREAD = 0.97, 0.012
"""Sugar made over CCS in cane: 0.972 of a whole country's crop [CrushReports]."""


def washed(rain: Array, before: float) -> Array:
    """How far rain of late washes the cane, by day (and future): log(1 + decayed rain / 20 mm)."""
    made = np.empty_like(rain)
    held: Array | float = before
    for day, fell in enumerate(rain):
        held = WASH_KEEPS * held + fell
        made[day] = held
    made /= WASH_MM
    np.log1p(made, out=made)
    return made


@dataclass(frozen=True)
class Curve:
    """CCS, fitted.

    Parameters
    ----------
    mean, squares, seasons : of the earlier seasons' three figures: mean, sum of squares, number.
    precision, pull, wash_pull : what this season's weeks say: X'WX, X'Wy and X'W washed.
    fall : by washing, with its error. noise, rho : of a week's error. last : the last week's, as
        data and as rows of (1, three figures, fall). wash_now : decayed rain now [mm].
    week_of : week ahead of each day ahead; basis : the curve's three columns by day ahead.
    """

    mean: Array
    squares: Array
    seasons: int
    precision: Array
    pull: Array
    wash_pull: Array
    fall: tuple[float, float]
    noise: float
    rho: float
    last: tuple[float, Array, float] | None
    wash_now: float
    week_of: NDArray[np.int64]
    basis: Array
    recovery: Level

    def drawn(self, rng: Rng, count: int) -> tuple[Array, Array, Array]:
        """CCS by day and future without washing [%], the fall by washing, sugar over CCS."""
        usual = WEIGHT * np.array(SPREADS) ** 2 + self.squares
        variance = variances(usual, self.seasons, rng, (count, 3))
        variance = variance * (1 + 1 / self.seasons) if self.seasons else variance + np.square(WIDE)
        fall = np.maximum(self.fall[0] + self.fall[1] * rng.standard_normal(count), 0.0)
        weight = 1.0 / variance
        precision = self.precision[None] + weight[:, :, None] * np.eye(3)
        pull = weight * self.mean + self.pull + fall[:, None] * self.wash_pull
        centre = np.linalg.solve(precision, pull[:, :, None])[:, :, 0]
        root = np.linalg.cholesky(np.linalg.inv(precision))
        figures = centre + (root @ rng.standard_normal((count, 3, 1)))[:, :, 0]
        start: Array | float = 0.0
        if self.last is not None:
            read, row, wash = self.last
            start = read - figures @ row + fall * wash
        weeks = int(self.week_of[-1]) + 1 if len(self.week_of) else 1
        # the first of these is the week in which `at` lies
        errors = wandering(rng, self.rho, self.noise, start, (weeks, count))
        made = self.basis @ figures.T
        made += errors[self.week_of]
        return made, fall, self.recovery.drawn(rng, count)


def fit(given: Given) -> Curve:
    """CCS and sugar of earlier seasons and of this one."""
    seasons = [w for s in given.seasons if len(w := _weeks(s, s[0].date.toordinal())) >= 6]
    start = given.rules.start.toordinal()
    now = _weeks(given.season, start)
    blocks, fall, noise, rho = _earlier(seasons)
    figures = np.array(blocks).reshape(-1, 3)
    mean = figures.mean(axis=0) if len(figures) else np.array(USUAL)
    squares = ((figures - mean) ** 2).sum(axis=0) if len(figures) else np.zeros(3)
    precision, pull, wash_pull = np.zeros((3, 3)), np.zeros(3), np.zeros(3)
    last = None
    if len(now):
        x = _basis(now[:, 0])
        weight = np.linalg.inv(noise**2 * rho ** np.abs(np.subtract.outer(now[:, 0], now[:, 0])))
        precision, pull = x.T @ weight @ x, x.T @ weight @ now[:, 1]
        wash_pull = x.T @ weight @ now[:, 2]
        last = (float(now[-1, 1]), x[-1], float(now[-1, 2]))
    at = given.at.toordinal()
    ahead = np.arange(max(given.horizon, 1)) + at - start
    week_of = np.asarray(ahead // 7 - (at - start) // 7, dtype=np.int64)
    rain = np.array([d.rain or 0.0 for d in given.season[-60:]])
    wash_now = float(sum(r * WASH_KEEPS**k for k, r in enumerate(rain[::-1])))
    return Curve(mean, squares, len(figures), precision, pull, wash_pull, fall, noise, rho, last,
                 wash_now, week_of, _basis(ahead / 7.0), _recovery(given))  # fmt: skip


def _basis(weeks: Array) -> Array:
    z = (np.asarray(weeks, dtype=float) - MIDDLE) / HALF
    z = np.minimum(z, 1.8)
    return np.column_stack([np.ones_like(z), z, z**2 - 1 / 3])


def _weeks(season: Sequence[MillDay], start: int) -> Array:
    """Middle of each week with cane [weeks], its CCS weighed by cane, how washed it was."""
    if not season:
        return np.zeros((0, 3))
    wash = washed(np.array([d.rain or 0.0 for d in season]), 0.0)
    sums: dict[int, Array] = {}
    for day, w in zip(season, wash):
        if day.cane and day.ccs:
            n = day.date.toordinal() - start
            add = day.cane * np.array([1.0, n / 7.0, day.ccs, w])
            sums[n // 7] = sums.get(n // 7, np.zeros(4)) + add
    full = [s for s in sums.values() if s[0] > 0]
    return np.array([s[1:] / s[0] for s in full]).reshape(-1, 3)


def _earlier(seasons: list[Array]) -> tuple[list[Array], tuple[float, float], float, float]:
    """Three figures of each season, the fall common to all, spread and memory of the errors."""
    if not seasons:
        return [], (USUAL_FALL, FALL_ERROR), USUAL_NOISE, USUAL_RHO
    rows, columns = sum(map(len, seasons)), 3 * len(seasons) + 1
    x, y, place = np.zeros((rows + 1, columns)), np.zeros(rows + 1), 0
    for n, weeks in enumerate(seasons):
        part = slice(place, place + len(weeks))
        x[part, 3 * n : 3 * n + 3] = _basis(weeks[:, 0])
        x[part, -1], y[part] = -weeks[:, 2], weeks[:, 1]
        place += len(weeks)
    x[-1, -1], y[-1] = USUAL_NOISE / FALL_ERROR, USUAL_FALL * USUAL_NOISE / FALL_ERROR
    found = np.linalg.lstsq(x, y, rcond=None)[0]
    off = y - x @ found
    free = max(rows - columns, 3)
    noise = float(np.sqrt((np.sum(off[:-1] ** 2) + 4 * USUAL_NOISE**2) / (free + 4)))
    pairs, place = [], 0
    for weeks in seasons:
        e = off[place : place + len(weeks)]
        pairs.append(float(e[1:] @ e[:-1]) / max(float(e @ e), 1e-12))
        place += len(weeks)
    # a curve fitted to each season takes some of the errors' memory with it
    rho = float(np.clip(np.mean(pairs) + 0.15, 0.1, 0.85))
    spread = float(np.sqrt(np.linalg.pinv(x.T @ x)[-1, -1]))
    error = noise * spread * float(np.sqrt((1 + rho) / (1 - rho)))
    figures: list[Array] = [np.asarray(found[3 * n : 3 * n + 3], dtype=np.float64)
                            for n in range(len(seasons))]  # fmt: skip
    return figures, (max(float(found[-1]), 0.0), min(error, FALL_ERROR)), noise, rho


def _recovery(given: Given) -> Level:
    """Sugar made over CCS in cane, by season, its first days left out while the pans fill."""
    made, days = [], 0
    for season in (*given.seasons, given.season):
        # sugar of a day without cane is of the cane before it
        known = [d for d in season if d.sugar is not None and (d.ccs or not d.cane)][FILLING:]
        whole = sum((d.cane or 0.0) * (d.ccs or 0.0) / 100.0 for d in known)
        days = sum(1 for d in known if d.cane)
        made.append(sum(d.sugar or 0.0 for d in known) / whole if days >= 7 and whole else None)
    *earlier, now = made
    return Level(tuple(m for m in earlier if m), USUAL_RECOVERY, RECOVERY_SPREAD, 0.02, now,
                 0.03 / np.sqrt(days) if now else 0.0)  # fmt: skip


def in_process(given: Given, recovery: Level) -> float:
    """Sugar in process at `at`: what the cane so far should have made less what was made [t].

    At most two days' sugar counts: more is an error of the ratio, not stock.
    """
    season = [d for d in given.season if d.cane and d.ccs]
    if not season or recovery.seen is None:
        return 0.0
    sweet = sum((d.cane or 0.0) * (d.ccs or 0.0) / 100.0 for d in season)
    made = sum(d.sugar or 0.0 for d in given.season)
    most = 2.0 * recovery.seen * sweet / len(season)
    return float(np.clip(recovery.seen * sweet - made, 0.0, most))
