"""History of blocks and neighbours: notes or tags exchanged, and blocks mislabelled for days.

CCS of a consignment is compared with what its block gave on earlier days, both less the day's
level, so that the seasonal curve falls out. A block without history takes what it gave in
earlier seasons, else its neighbours', then its variety's, with the wider spread of those.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from ratoon.cane.bias import TO_SIGMA
from ratoon.cane.records import Array, Block, BlockSeason

KNOWN = 10  # differences before a spread is taken from them
FEWEST = 2  # parcels before a block speaks for itself
SETTLED_DAYS = 4  # with parcels, before history judges anybody
SETTLED_STEPS = 30  # differences inside blocks, before their spread is known
ALIKE = 2.0  # sigma within which a week's cane is like another block's
CLIPPED, CLIPPED_COST = 1.5, 1.05  # sigma of the clip; variance beside that of a plain mean


@dataclass(frozen=True, slots=True)
class Parcel:
    """One consignment of one day, as history keeps it.

    Parameters
    ----------
    day : number of the mill day. relative : CCS less the day's mean or level [kg/kg].
    sigma : of it.
    """

    consignment: str
    block: str
    variety: str
    day: int
    relative: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Expected:
    """What a block's cane should give, less the day's mean: value, sigma [kg/kg], source."""

    value: float
    sigma: float
    source: str


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations of relative CCS [kg/kg].

    `within`: of one block's parcels about its mean. `variety`: of block means about their
    variety's, which also serves for neighbours: they differ by no more, and how much less is not
    known.
    """

    within: float
    variety: float


def find_spreads(parcels: Sequence[Parcel], least: float = 0.0010) -> Spreads:
    """Spreads from the parcels themselves; analysis error is part of `within`.

    Notes
    -----
    Method: the median size of differences of following figures, so that exchanged parcels do not
    widen the very spread by which they should be found.
    """
    by_block: dict[str, list[float]] = defaultdict(list)
    variety_of: dict[str, str] = {}
    for one in parcels:
        by_block[one.block].append(one.relative)
        variety_of[one.block] = one.variety
    within = max(_robust(by_block.values(), 4 * least), least)
    medians: dict[str, list[float]] = defaultdict(list)
    for block, values in by_block.items():
        medians[variety_of[block]].append(float(np.median(values)))
    variety = max(_robust(medians.values(), 12 * least), within)
    return Spreads(within, variety)


def _robust(groups: Iterable[Sequence[float]], otherwise: float) -> float:
    """Standard deviation inside groups; `otherwise` with fewer than ten differences."""
    steps = np.concatenate([np.zeros(0), *(np.abs(np.diff(g)) for g in groups if len(g) > 1)])
    if steps.size < KNOWN:
        return otherwise
    return float(TO_SIGMA * np.median(steps) / sqrt(2.0))


def levelled(parcels: Sequence[Parcel], rounds: int = 4) -> list[Parcel]:
    """Parcels with each day's level taken out, whichever blocks were cut on it.

    Notes
    -----
    A mean of few parcels follows the blocks of the day as much as the day. Days and blocks are
    found together by medians of each in turn (median polish, common practice), which exchanged
    parcels do not bend.
    """
    values = np.array([p.relative for p in parcels], dtype=np.float64)
    level = np.zeros_like(values)
    of_blocks = _places([p.block for p in parcels])
    of_days = _places([p.day for p in parcels])
    for _ in range(rounds):
        blocks = _medians(values - level, of_blocks)
        level = _medians(values - blocks, of_days)
    flat = (values - level).tolist()
    return [replace(p, relative=value) for p, value in zip(parcels, flat, strict=True)]


def _places(names: Sequence[Hashable]) -> list[Array]:
    found: dict[Hashable, list[int]] = defaultdict(list)
    for place, name in enumerate(names):
        found[name].append(place)
    return [np.array(places) for places in found.values()]


def _medians(values: Array, groups: Sequence[Array]) -> Array:
    """The median of its group at every place."""
    out = np.zeros_like(values)
    for places in groups:
        out[places] = np.median(values[places])
    return out


class History:
    """What earlier parcels say of each block; `parcels` have the days' levels taken out."""

    def __init__(
        self, parcels: Sequence[Parcel], blocks: Mapping[str, Block],
        seasons: Iterable[BlockSeason] = (),
    ) -> None:  # fmt: skip
        self.spreads = find_spreads(parcels)
        self._blocks = blocks
        self._by_block: dict[str, list[float]] = defaultdict(list)
        by_variety: dict[str, list[float]] = defaultdict(list)
        for one in parcels:
            self._by_block[one.block].append(one.relative)
            by_variety[one.variety].append(one.relative)
        self._days = len({one.day for one in parcels})
        self._by_variety = {name: float(np.median(v)) for name, v in by_variety.items()}
        self._earlier = _of_seasons(seasons)
        self._between = self._between_seasons()

    def _between_seasons(self) -> float:
        """Spread of blocks about what they gave in earlier seasons [kg/kg]."""
        apart = [float(np.median(own)) - self._earlier[block]
                 for block, own in self._by_block.items()
                 if len(own) >= FEWEST and block in self._earlier]  # fmt: skip
        if len(apart) < KNOWN:  # no further apart than blocks are from their variety
            return self.spreads.variety
        return max(TO_SIGMA * float(np.median(np.abs(apart))), self.spreads.within / 2.0)

    @property
    def settled(self) -> bool:
        """Whether there are days and parcels enough to judge by: before that, all looks odd."""
        steps = sum(len(own) - 1 for own in self._by_block.values())
        return self._days >= SETTLED_DAYS and steps >= SETTLED_STEPS

    def expected(self, block: str, variety: str) -> Expected:
        """Relative CCS to expect of a block's next parcel, and how far it may lie from that.

        One earlier parcel counts with its weight beside what neighbours or the variety say.
        """
        within = self.spreads.within
        own = self._by_block.get(block, [])
        if len(own) >= FEWEST:
            # what lies far off counts as if it lay at the clip: an exchange does not bend it much
            middle, reach = float(np.median(own)), CLIPPED * within
            value = middle + float(np.mean(np.clip(np.array(own) - middle, -reach, reach)))
            return Expected(value, within * sqrt(1.0 + CLIPPED_COST / len(own)), "block")
        value, spread, source = self._beside(block, variety)
        if own:
            weight = spread**2 / (spread**2 + within**2)
            value = weight * own[0] + (1.0 - weight) * value
            spread, source = sqrt(weight) * within, f"one parcel and its {source}"
        return Expected(value, sqrt(within**2 + spread**2), source)

    def _beside(self, block: str, variety: str) -> tuple[float, float, str]:
        """What earlier seasons, neighbours or the variety say of a block's mean; its spread."""
        if block in self._earlier:
            return self._earlier[block], self._between, "earlier seasons"
        register = self._blocks.get(block)
        beside = [
            float(np.median(self._by_block[n]))
            for n in (register.neighbours if register else ())
            if len(self._by_block.get(n, ())) >= FEWEST
        ]
        if beside:
            spread = self.spreads.variety * sqrt(1.0 + 1.0 / len(beside))
            return float(np.mean(beside)), spread, "neighbours"
        return self._by_variety.get(variety, 0.0), self.spreads.variety, "variety"

    def like(self, block: str, relative: float, members: Sequence[Parcel]) -> str:
        """Another block of the farm whose own history a week's mean fits; "" when none does."""
        register = self._blocks.get(block)
        if register is None:
            return ""
        found: list[tuple[float, str]] = []
        for name, own in self._by_block.items():
            other = self._blocks.get(name)
            if name == block or other is None or other.farm != register.farm or len(own) < FEWEST:
                continue
            e = self.expected(name, other.variety)
            off = abs(relative - e.value) / self.doubt(e, members)
            if off <= ALIKE:
                found.append((off, name))
        return min(found)[1] if found else ""

    def doubt(self, e: Expected, members: Sequence[Parcel]) -> float:
        """Sigma of a week's mean about what is expected [kg/kg].

        The uncertainty of what is expected does not shrink with more parcels this week.
        """
        within = self.spreads.within
        return sqrt(max(e.sigma**2 - within**2, 0.0) + within**2 / len(members))


def _of_seasons(seasons: Iterable[BlockSeason]) -> dict[str, float]:
    """Each block's CCS less the district's over earlier seasons, by number of parcels [kg/kg]."""
    sums: dict[str, tuple[float, int]] = defaultdict(lambda: (0.0, 0))
    for one in seasons:
        total, count = sums[one.block]
        sums[one.block] = (total + one.parcels * (one.ccs - one.district), count + one.parcels)
    return {block: total / count for block, (total, count) in sums.items()}
