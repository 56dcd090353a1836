"""The path's parameters from the mill's own readings: lag and dispersion from changes of cane."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from ratoon.cane.bias import TO_SIGMA
from ratoon.cane.day import Tracked
from ratoon.cane.mixing import fit_step
from ratoon.cane.records import Array, NirSeries

AROUND = 240.0  # s of the mill clock on each side of a change
CLEAR = 4.0  # a step is fitted when it is so many times the noise of one reading
FEWEST = 5  # steps before a figure is given


@dataclass(frozen=True, slots=True)
class PathFit:
    """What the steps of a day say of the path.

    Parameters
    ----------
    steps : changes of cane that could be fitted. late : how much later than by the settings cane
        arrives [s of mill clock], with `late_sigma`. dispersion : [s], with `dispersion_sigma`.
    """

    steps: int
    late: float
    late_sigma: float
    dispersion: float
    dispersion_sigma: float


def fit_path(tracked: Tracked, series: NirSeries) -> PathFit | None:
    """Lag and dispersion from all sharp changes of cane of a day; None with fewer than five.

    Notes
    -----
    Each change between two runs of bins that last `AROUND` on both sides is fitted by itself, by
    the constituent that steps most clearly; medians over the steps, and their standard error from
    the spread, so that one wrong note does not bend the path.
    """
    clock = tracked.path.clock(series.times)
    fits = []
    for change in _changes(tracked):
        near = np.abs(clock - change) <= AROUND
        if near.sum() < 20:
            continue
        height, values = max(((_height(v[near]), v[near]) for v in (series.brix, series.pol)),
                             key=lambda one: one[0])  # fmt: skip
        found = _fit(clock[near], values, change) if height >= CLEAR / 2 else None
        if found is not None and found[2] >= CLEAR:
            fits.append(found[:2])
    if len(fits) < FEWEST:
        return None
    late, spread = np.array(fits).T
    return PathFit(len(fits), *_middle(late), *_middle(spread))


def _changes(tracked: Tracked) -> list[float]:
    """Mill clock of each change between two long runs of one consignment each."""
    names = [b.bin.consignment for b in tracked.bins]
    starts = [0] + [n for n in range(1, len(names)) if names[n] != names[n - 1]] + [len(names)]
    found = []
    for before, start, end in zip(starts, starts[1:], starts[2:], strict=False):
        change = float(tracked.begins[start])
        if (
            change - tracked.begins[before] >= AROUND
            and tracked.ends[end - 1] - change >= AROUND
            and abs(tracked.ends[start - 1] - change) < 5.0  # no gap on the carrier between them
        ):
            found.append(change)
    return found


def _height(values: Array) -> float:
    """Height of a step by the means of its outer thirds, over the quieter one's noise."""
    third = values.size // 3
    before, after = values[:third], values[-third:]
    noise = min(float(np.std(before)), float(np.std(after)))
    return abs(float(np.mean(after) - np.mean(before))) / max(noise, 1e-12)


def _fit(clock: Array, values: Array, change: float) -> tuple[float, float, float] | None:
    """Lag [s], dispersion [s] and height of one step over its noise; None when none is found."""
    from scipy.optimize import OptimizeWarning

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", OptimizeWarning)
            found, sigma = fit_step(clock, values, change)
    except (RuntimeError, OptimizeWarning):
        return None
    late, spread, before, after = (float(x) for x in found)
    if not np.all(np.isfinite(sigma)) or abs(late) > AROUND / 2 or not 0.0 < spread < AROUND / 2:
        return None
    rest = values - np.where(clock - change - late > 0.0, after, before)
    far = np.abs(clock - change - late) > 2.5 * spread
    noise = float(np.std(rest[far])) if far.sum() > 5 else np.inf
    return late, spread, abs(after - before) / max(noise, 1e-12)


def _middle(values: Array) -> tuple[float, float]:
    """Median, and its standard error from the median deviation."""
    middle = float(np.median(values))
    spread = TO_SIGMA * float(np.median(np.abs(values - middle)))
    return middle, 1.2533 * spread / float(np.sqrt(values.size))
