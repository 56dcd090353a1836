"""Stops by the mill's own fault: short ones as a share of the hours run, long ones one by one.

Stops come by hours run, not by days. Those under six hours are so many that their hours are a share
of the hours run, with its spread from day to day; longer ones come at random and take a length from
the record, stretched a little, and run on over a day's end. How often they come differs from season
to season.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ratoon.plans.season.draws import Array, Level, Rng
from ratoon.plans.season.given import Given

LONG = 6.0
"""From here on a stop is drawn by itself [h]."""
USUAL_SHARE, USUAL_LONG = 0.06, 0.0012
"""Where no stop is on record: hours of short stops an hour run; long stops an hour run. With the
usual length they make an availability of 90 per cent (common practice)."""
USUAL_LENGTHS = (7.0, 9.0, 12.0, 16.0, 24.0, 40.0)
SPREAD = 0.15
"""Usual standard deviation of the logarithm of how often, from season to season."""


@dataclass(frozen=True)
class Stops:
    """Stops, fitted.

    Parameters
    ----------
    share : logarithm of the hours of short stops an hour run; daily : standard deviation of a
        day's share over its mean.
    often : logarithm of the number of long stops an hour run. lengths : of long stops [h].
    """

    share: Level
    daily: float
    often: Level
    lengths: tuple[float, ...]
    known: int

    def drawn(self, rng: Rng, days: int, count: int) -> tuple[Array, Array, Array]:
        """Short stops' share by day and future, and of the long stops gaps and lengths [h].

        Gaps are in hours in which the mill would run, short stops among them; shape (stops,
        futures).
        """
        level = np.exp(self.share.drawn(rng, count).clip(-9.0, 0.0))
        shape = 1.0 / max(self.daily**2, 1e-6)
        share = np.asarray(rng.standard_gamma(shape, (days, count), dtype=np.float32)
                           * np.float32(1 / shape) * level)  # fmt: skip
        often = np.exp(self.often.drawn(rng, count).clip(-11.0, -3.0)) / (1 + level)
        most = float(np.quantile(often, 0.995)) * 24.0 * days
        number = int(most + 5 * np.sqrt(most + 1)) + 2
        gaps = rng.standard_exponential((number, count)) / often
        pick = rng.integers(0, len(self.lengths), (number, count))
        lengths = np.asarray(self.lengths)[pick]
        lengths *= np.exp(0.15 * rng.standard_normal((number, count)))
        n = max(len(self.lengths) - (0 if self.known else len(USUAL_LENGTHS)), 4)
        lengths *= 1 + np.std(self.lengths) / np.mean(self.lengths) / np.sqrt(n) * (
            rng.standard_normal(count).clip(-1.5, 2.5)
        )
        return share, gaps, np.maximum(lengths, 0.5)


def fit(given: Given) -> Stops:
    """Stops of earlier seasons and of this one."""
    share: list[tuple[float, float] | None] = []
    often: list[tuple[float, int, float] | None] = []
    lengths: list[float] = []
    daily: list[float] = []
    known = 0
    for season in (*given.seasons, given.season):
        if not season:
            share.append(None)
            often.append(None)
            continue
        first, last = season[0].date.toordinal(), season[-1].date.toordinal() + 1
        hours = [length for start, length in given.stops if first <= start < last]
        known += len(hours)
        run = sum(given.hours_run(d) for d in season if d.cane)
        short = sum(h for h in hours if h < LONG)
        long = [h for h in hours if h >= LONG]
        lengths += long
        enough = run > 24 and known
        share.append((max(short, 0.2) / run, run) if enough else None)
        often.append(((len(long) + 0.5) / run, len(long), run) if enough else None)
        daily += [min(h, LONG) ** 2 for h in hours if h < LONG]
    spread = _daily(given, daily, [s for s in share if s])
    told = share[-1] if share else None
    levels = Level(tuple(float(np.log(s[0])) for s in share[:-1] if s), float(np.log(USUAL_SHARE)),
                   SPREAD, 0.4, float(np.log(told[0])) if told else None,
                   spread / float(np.sqrt(told[1] / 24.0)) if told else 0.0)  # fmt: skip
    now = often[-1]
    earlier = _earlier_often([o for o in often[:-1] if o])
    long_level = Level(earlier, float(np.log(USUAL_LONG)), SPREAD, 0.5,
                       float(np.log(now[0])) if now else None,
                       1 / np.sqrt(now[1] + 0.5) if now else 0.0)  # fmt: skip
    few = len(lengths) < 6
    return Stops(levels, spread, long_level, tuple(lengths) + (USUAL_LENGTHS if few else ()),
                 len(lengths))  # fmt: skip


def _earlier_often(seasons: list[tuple[float, int, float]]) -> tuple[float, ...]:
    """How often in each season, its chance part taken out: counts of few stops differ anyway."""
    if not seasons:
        return ()
    total, run = sum(s[1] for s in seasons) + 0.5, sum(s[2] for s in seasons)
    mean = np.log(total / run)
    expected = [np.exp(mean) * s[2] for s in seasons]
    return tuple(float(mean + (np.log(s[0]) - mean) * e / (e + 1 / SPREAD**2))
                 for s, e in zip(seasons, expected))  # fmt: skip


def _daily(given: Given, squares: list[float], share: list[tuple[float, float]]) -> float:
    """Spread of a day's share of short stops over its mean: of a compound Poisson sum."""
    run = sum(s[1] for s in share)
    if not squares or run <= 0:
        return 0.7
    mean = sum(s[0] * s[1] for s in share) / run * 24.0
    return float(np.clip(np.sqrt(sum(squares) / run * 24.0) / max(mean, 1e-6), 0.1, 3.0))
