"""What is said of a lot: its cane, its hours, its strikes and analyses, and where it went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ratoon.base.as_json import NAMED


@dataclass(frozen=True, slots=True)
class Moments:
    """When cane was crushed, by share of the lot; None where that is older than was followed."""

    q05: str | None
    q50: str | None
    q95: str | None


@dataclass(frozen=True, slots=True)
class MadeHour:
    """An hour of crushing, and the share of the lot that its cane made."""

    start: str
    end: str
    share: float


@dataclass(frozen=True, slots=True)
class LotCane:
    """A consignment's share of a lot; `id` is "" for cane of which no consignment is known."""

    id: str
    grower: str
    share: float


@dataclass(frozen=True, slots=True)
class LotAnalysis:
    """One analysis of a lot, as it was written."""

    what: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Went:
    """Where some of a lot went; what is still in the mill's own sheds is `in_place_t`."""

    to: str
    t: float
    time: str
    document: str


@dataclass(frozen=True, slots=True)
class LotAnswer:
    """A lot's whole path. Shares of `made` and `older_share` sum to one, and so do those of
    `consignments` with it; what went, is in place and is not traced sum to `t`.

    Parameters
    ----------
    older_share : cane crushed before the hours that were followed. not_traced_t : what is neither
        in a cell nor on a movement [t].
    """

    lot: str
    t: float
    crushed: Moments
    made: tuple[MadeHour, ...]
    consignments: tuple[LotCane, ...]
    strikes: tuple[str, ...]
    analyses: tuple[LotAnalysis, ...]
    went: tuple[Went, ...]
    in_place_t: float
    not_traced_t: float
    older_share: float
    mill: str
    brand: str
    cells: tuple[tuple[str, float], ...]
    """Where the rest is: cells and tonnes."""
    staged: Moments
    """When its cane was crushed if sugar passed the pools in series: the narrower bound."""
    held: tuple[str, ...]
    """Movements of it that cannot be and move nothing, in words."""
    lacking: tuple[str, ...]
    """Why its cane is not told; all of it is older then."""


@dataclass(frozen=True, slots=True)
class LotPart:
    """A lot that holds cane of a consignment: share of the lot, tonnes of it."""

    lot: str
    share: float
    t: float


@dataclass(frozen=True, slots=True)
class ConsignmentAnswer:
    """Which lots hold a consignment's cane."""

    __pydantic_config__ = NAMED

    consignment: str
    grower: str
    crushed: Moments
    lots: tuple[LotPart, ...]


@dataclass(frozen=True, slots=True)
class LoadMove:
    """A movement that a document names: what it took, from where, to where."""

    __pydantic_config__ = NAMED

    movement: str
    time: str
    from_: str
    to: str
    t: float


@dataclass(frozen=True, slots=True)
class LoadLot:
    """A lot of a load: kilograms of it on the load (None where the refinery mixed it with others:
    it may be in it), of all of it, and not found."""

    lot: str
    brand: str
    on_load_kg: int | None
    wanted_kg: int
    not_found_kg: int


@dataclass(frozen=True, slots=True)
class FoundAt:
    """Where some of the wanted lots are: a cell, or who had it and by which document."""

    place: str
    kg: int
    document: str


@dataclass(frozen=True, slots=True)
class LoadAnswer:
    """A recall from a load's document: all of every lot that is on it, wherever it is now.

    What is found by place and what is not found sum to what is wanted. `held`: movements of the
    document that cannot be; `lacking`: what cannot be told, and why.
    """

    document: str
    moves: tuple[LoadMove, ...]
    wanted_kg: int
    found: tuple[FoundAt, ...]
    not_found_kg: int
    lots: tuple[LoadLot, ...]
    held: tuple[str, ...]
    lacking: tuple[str, ...]


def whole(total: int, shares: ArrayLike) -> list[int]:
    """A whole number shared out by shares that sum to one, by largest remainder: exactly.

    Examples
    --------
    >>> whole(10, [1 / 3, 1 / 3, 1 / 3])
    [4, 3, 3]
    """
    wanted = total * np.asarray(shares, dtype=np.float64)
    made = np.floor(wanted + 1e-9).astype(int)
    left = total - int(made.sum())
    for n in np.argsort(made - wanted, kind="stable")[: max(left, 0)]:
        made[n] += 1
    return [int(kg) for kg in made]


def middle(shares: Sequence[float], older: float, level: float) -> int | None:
    """The hour before which so much of a lot's cane was crushed; None: before all of them."""
    if level < older:
        return None
    passed = older + np.cumsum(shares)
    return min(int(np.searchsorted(passed, level - 1e-12)), len(shares) - 1)
