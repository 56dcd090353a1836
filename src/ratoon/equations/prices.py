"""The words of a search for the best: its answer, and the price of each limit it stands at."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved

Side = Literal["low", "high"]
Multipliers = tuple[NDArray[np.float64], NDArray[np.float64]]


class NoneFound(NotSolved):
    """A search ended without an answer. A local search proves nothing: there may be one."""


@dataclass(frozen=True, slots=True)
class Price:
    """What the aim gains when a limit is loosened by one inside unit; at least zero.

    Attributes
    ----------
    address, side, limit : the limit. own : whether it is of the variable's table, and so no limit
        that a person has stated.
    """

    address: str
    side: Side
    limit: float
    price: float
    own: bool = False


@dataclass(frozen=True, slots=True)
class Best:
    """A state at which the aim is at its most, as far as a search near its start can tell.

    Attributes
    ----------
    values : every variable and report that has a finite value [inside unit].
    aim : the most. prices : of the limits at which the state stands.
    steps, seconds : of the search. residual : largest scaled residual of an equation.
    breach : furthest past a limit, of its scale. multipliers : of all unknowns and rows of the
    search, from which a neighbour's begins.
    met : controls opened into limits, by name, of which one side is zero.
    """

    values: dict[str, float]
    aim: float
    prices: tuple[Price, ...]
    steps: int
    residual: float
    breach: float
    seconds: float
    multipliers: Multipliers | None = field(default=None, compare=False, repr=False)
    met: frozenset[str] = frozenset()

    def __getitem__(self, name: str) -> float:
        return self.values[name]

    def price(self, address: str, side: Side) -> float:
        """What loosening a limit by one inside unit gains; 0 where it does not bind."""
        return sum(p.price for p in self.prices if (p.address, p.side) == (address, side))
