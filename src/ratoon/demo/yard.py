"""A season's bins in tip order: whose cane each holds, what it weighs, when it was tipped.

Cane lies on the carrier at one depth, so a bin takes a stretch of carrier in proportion to its
mass; the carrier stands while the mills stand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ratoon.account.mill import Mill
from ratoon.demo.district import FLEET, District, Floats, Ints
from ratoon.demo.truth import TrueDay

BIN, BIN_SPREAD = 6000.0, 380.0  # kg
SMALL_SHARE = 0.16  # of consignments
USUAL_SPEED, USUAL_RATE = 0.12, 470.0e3 / 3600.0  # m/s, kg/s
LOADING = USUAL_RATE / USUAL_SPEED  # kg of cane on a metre of carrier
PIECE = 1800.0  # s for which the carrier keeps one speed


@dataclass(frozen=True)
class Drive:
    """How the carrier ran over the season: at `time` [s UTC] it had gone `gone` [m]; `speed` [m/s]
    holds from each time to the next."""

    time: Floats
    gone: Floats
    speed: Floats

    def when(self, gone: Floats) -> Floats:
        """Moment at which the carrier had gone so far."""
        rising = np.concatenate([[True], np.diff(self.gone) > 0])
        # the last moment of a stop is when the carrier starts again
        last = np.concatenate([np.diff(self.gone) > 0, [True]])
        keep = rising | last
        found: Floats = np.interp(gone, self.gone[keep], self.time[keep])
        return found

    def where(self, time: Floats) -> Floats:
        found: Floats = np.interp(time, self.time, self.gone)
        return found


@dataclass(frozen=True)
class Yard:
    """All bins of the season in tip order, and the consignments they belong to."""

    day: Ints  # of bins: place in the list of days
    net: Floats  # kg, true
    tag: Ints
    consignment: Ints  # of bins
    tipped: Floats  # s UTC
    begins: Floats  # m of carrier gone when it was tipped
    weighed: Floats  # s UTC, full
    block: Ints  # of consignments
    cut: Floats  # s UTC, of consignments
    burnt: Floats  # s UTC or NaN, of consignments
    road: NDArrayBool  # of consignments


NDArrayBool = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def drive_of(mill: Mill, days: list[TrueDay], rng: np.random.Generator) -> Drive:
    """Speeds of the carrier that bring each day's cane in that day's crushing time."""
    time: list[float] = []
    speed: list[float] = []
    for day in days:
        period = mill.calendar.period(day.date)
        start, end = period.start.timestamp(), period.end.timestamp()
        edges, standing = {start, end}, []
        for stop in day.stops:
            a, b = max(start, stop.start.timestamp()), min(end, stop.end.timestamp())
            standing.append((a, b))
            edges |= {a, b}
        edges |= set(np.arange(start, end, PIECE).tolist())
        cuts = np.array(sorted(edges))
        middle = (cuts[1:] + cuts[:-1]) / 2
        runs = np.ones(len(middle))
        for a, b in standing:
            runs[(middle > a) & (middle < b)] = 0.0
        paces = runs * (1.0 + 0.03 * rng.standard_normal(len(middle)))
        wanted = day.amounts.get("cane.weight", 0.0) / LOADING
        gone = float((paces * np.diff(cuts)).sum())
        time += cuts[:-1].tolist()
        speed += (paces * (wanted / gone if gone and wanted else 0.0)).tolist()
    last = mill.calendar.period(days[-1].date).end.timestamp()
    times, speeds = np.array([*time, last]), np.array(speed)
    gone_ = np.concatenate([[0.0], np.cumsum(speeds * np.diff(times))])
    return Drive(times, gone_, np.concatenate([speeds, [0.0]]))


def fill_yard(
    district: District, days: list[TrueDay], drive: Drive, rng: np.random.Generator
) -> Yard:
    """Draw consignments and bins so that each day's net weights are the day's cane."""
    blocks = _Blocks(district, rng)
    day_of, net, consignment, block = [], [], [], []
    for place, day in enumerate(days):
        left = day.amounts.get("cane.weight", 0.0) if day.crushing else 0.0
        if left < BIN:
            continue
        masses = (BIN + BIN_SPREAD * rng.standard_normal(round(left / BIN))).clip(4500, 7600)
        masses *= left / masses.sum()
        taken = 0
        for size, which in blocks.of_day(len(masses)):
            block.append(which)
            consignment += [len(block) - 1] * size
            taken += size
        net.append(masses)
        day_of += [place] * len(masses)
    mass = np.concatenate(net)
    of = np.array(consignment)
    begins = np.concatenate([[0.0], np.cumsum(mass)[:-1]]) / LOADING
    tipped = np.floor(drive.when(begins) + 0.5)
    first = np.searchsorted(of, np.arange(len(block)))
    count = len(block)
    waited = rng.gamma(4.0, 0.9 * 3600.0, count)
    came = tipped[first] - waited - 600.0
    inside = np.arange(len(of)) - first[of]
    weighed = np.floor(came[of] + 45.0 * inside + rng.uniform(0, 12, len(of)))
    weighed = np.minimum(weighed, tipped - 120.0)
    cut = np.floor((came - rng.gamma(4.0, 1.3 * 3600.0, count)) / 300) * 300
    fire = cut - 3600.0 * rng.uniform(1.0, 14.0, count)
    burnt = np.where(rng.random(count) < 0.25, np.floor(fire / 300) * 300, np.nan)
    road = rng.random(count) < 0.2
    return Yard(np.array(day_of), mass, _tags(len(of), rng), of, tipped, begins, weighed,
                np.array(block), cut, burnt, road)  # fmt: skip


def _tags(count: int, rng: np.random.Generator) -> Ints:
    """Bins go round: a tag comes back after about a day and a half, never sooner than a day."""
    order = rng.permutation(FLEET)
    out = np.empty(count, dtype=np.int64)
    for at in range(0, count, FLEET):
        # neighbours change places, so that the order is never quite the same
        order = order[np.argsort(np.arange(FLEET) + rng.uniform(0, 200, FLEET), kind="stable")]
        part = out[at : at + FLEET]
        part[:] = order[: len(part)]
    return out


class _Blocks:
    """Which blocks are being cut: each is cut for some days, then the farm's next one."""

    def __init__(self, district: District, rng: np.random.Generator) -> None:
        self._rng = rng
        farms = {f: i for i, f in enumerate(dict.fromkeys(district.farm))}
        self._of = [[i for i, f in enumerate(district.farm) if f == name] for name in farms]
        for one in self._of:
            rng.shuffle(one)
        self._left = [int(rng.integers(3, 12)) for _ in self._of]

    def of_day(self, bins: int) -> list[tuple[int, int]]:
        """Consignments of a day in tip order: number of bins, block."""
        rng, out, taken = self._rng, [], 0
        order = rng.permutation(len(self._of))
        at = 0
        while taken < bins:
            farm = int(order[at % len(order)])
            at += 1
            small = rng.random() < SMALL_SHARE
            size = int(rng.integers(1, 6)) if small else int(rng.integers(12, 41))
            size = min(size, bins - taken)
            out.append((size, self._of[farm][0]))
            taken += size
            self._left[farm] -= 1
            if self._left[farm] <= 0:
                self._of[farm].append(self._of[farm].pop(0))
                self._left[farm] = int(rng.integers(6, 16))
        return out
