"""Juice windows: when a consignment's juice can be sampled, how pure it is, and what is too small.

Window of a run of bins: from the arrival of its first cane plus the purge to that of its last
cane less the purge. Smallest parcel: rate x (2 purge + time to fill a bottle). Own arithmetic
with the mill's parameters, as common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from ratoon.base.maths import Quantity
from ratoon.cane.mixing import Mixing
from ratoon.cane.records import Array, Window
from ratoon.cane.tracking import Path, usual_lag

NOT_YET = datetime(9999, 1, 1, tzinfo=UTC)


def smallest_parcel(rate: Quantity, purge: Quantity, sample: Quantity) -> Quantity:
    """Least cane that can be sampled alone [kg].

    Parameters
    ----------
    rate : crushing rate [kg/s]. purge : let go by at each end [s]. sample : to fill a bottle [s].

    Examples
    --------
    >>> round(smallest_parcel(500e3 / 3600, 60.0, 120.0) / 1000, 1)
    33.3
    """
    return rate * (2.0 * purge + sample)


def find_windows(
    names: Sequence[str],
    index: NDArray[np.int64],
    begins: Array,
    ends: Array,
    masses: NDArray[np.int64],
    mixed: Mixing,
    path: Path,
    rate: float,
) -> list[Window]:
    """One window for each consignment: of its heaviest unbroken run of bins.

    Parameters
    ----------
    names : consignments. index : which one each bin belongs to, shape (n,), bins in tip order.
    begins, ends : mill clock of each bin at the sampler [s]. masses : [kg].
    mixed : mixing matrix by consignment. rate : usual crushing rate [kg/s].
    """
    rules = path.rules
    least = float(smallest_parcel(rate, rules.purge, rules.sample))
    shares = mixed.shares.tocsc()
    flow = mixed.flow
    heaviest = _heaviest_runs(index, masses, len(names))
    totals = np.bincount(index, weights=masses, minlength=len(names))
    usual = usual_lag(path)
    windows = []
    for place, name in enumerate(names):
        first, last, run_kg = heaviest[place]
        opens = float(begins[first]) + rules.purge
        closes = float(ends[last]) - rules.purge
        wide = closes - opens >= rules.sample - 1e-6
        if closes <= opens:
            opens = closes = 0.5 * (float(begins[first]) + float(ends[last]))
        purity, lowest = purity_between(shares, flow, mixed.edges, place, opens, closes)
        start, end = path.moment(np.array([opens, closes]))
        arrived = bool(np.isfinite(end))
        stopped = arrived and _stands(path, float(start), float(end), usual)
        alone = (
            arrived and wide and run_kg >= least and lowest >= rules.least_purity and not stopped
        )
        windows.append(
            Window(
                name,
                moment(start),
                moment(end),
                purity,
                lowest,
                int(totals[place]),
                least,
                bool(alone),
                stopped,
            )
        )
    return windows


def _heaviest_runs(
    index: NDArray[np.int64], masses: NDArray[np.int64], groups: int
) -> list[tuple[int, int, int]]:
    """First bin, last bin and mass [kg] of each group's heaviest unbroken run."""
    breaks = np.flatnonzero(np.diff(index)) + 1
    starts = np.concatenate([[0], breaks])
    stops = np.concatenate([breaks, [index.size]])
    sums = np.concatenate([[0], np.cumsum(masses)])
    best: list[tuple[int, int, int]] = [(0, 0, -1)] * groups
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        group, kg = int(index[start]), int(sums[stop] - sums[start])
        if kg > best[group][2]:
            best[group] = (start, stop - 1, kg)
    return best


def purity_between(
    shares: object, flow: Array, edges: Array, place: int, opens: float, closes: float
) -> tuple[float, float]:
    """Mean, by juice, and smallest share of a consignment in the cells of its window."""
    low = int(np.searchsorted(edges, opens, side="right") - 1)
    high = max(low + 1, int(np.searchsorted(edges, closes, side="left")))
    column = shares[low:high, [place]].toarray().ravel()  # type: ignore[index]
    weight = flow[low:high]
    if weight.sum() <= 0.0:
        return 0.0, 0.0
    return float(np.average(column, weights=weight)), float(column[weight > 0.0].min())


def _stands(path: Path, start: float, end: float, usual: float) -> bool:
    """Whether the mill stood inside the window for longer than cane takes from tip to sampler.

    Such a stop spoils a sample taken across it.
    """
    travel = path.mill
    inside = (travel.times > start) & (travel.times < end)
    moments = np.concatenate([[start], travel.times[inside], [end]])
    still = np.diff(travel.at(moments)) <= 0.0
    longest = float(np.max(np.diff(moments)[still], initial=0.0))
    return longest > usual


def moment(seconds: float) -> datetime:
    """A moment as a record writes it, to the second; `NOT_YET` for what has not arrived."""
    if not np.isfinite(seconds):
        return NOT_YET
    return datetime.fromtimestamp(round(float(seconds)), tz=UTC)
