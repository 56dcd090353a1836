"""What is asked of the best settings, what is to be at its most, and what is found."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from ratoon.equations.prices import Best, Side
from ratoon.equations.records import Solution

Numbers = Mapping[str, float]
Rate = Literal["free", "held", "crop"] | float
"""Free within its range, as on the day, free with a crop to finish, or a rate [kg/s]."""
ROOM = 1e-7  # of a limit, by which the day is left inside what it ran at


@dataclass(frozen=True, slots=True)
class Bound:
    """How far a quantity may go [inside unit].

    `rated_low`, `rated_high` are what was stated; `low`, `high` hold the day as well.
    """

    low: float
    high: float
    rated_low: float
    rated_high: float
    source: str
    station: bool = False

    def holding(self, value: float) -> Bound:
        """Widened to hold what was run."""
        room = ROOM * max(abs(value), 1e-3)
        return replace(self, low=self.low if value >= self.low else value - room,
                       high=self.high if value <= self.high else value + room)  # fmt: skip

    def end(self, side: Side) -> float:
        """One of its ends."""
        return self.low if side == "low" else self.high

    def looser(self, side: Side, by: float) -> Bound:
        """Wider on one side."""
        if side == "low":
            return replace(self, low=self.low - by)
        return replace(self, high=self.high + by)

    def at(self, value: float) -> Bound:
        """Held at one value."""
        return replace(self, low=value, high=value)


@dataclass(frozen=True, slots=True)
class Aim:
    """What is to be at its most: money an hour, or with a crop to finish, money of its cane.

    `crop` is the day's cane [kg/s], 0 for money an hour. With a crop the aim is money, less `cost`
    of a second of the season, for the cane that the day crushed in a second.
    """

    crop: float = 0.0
    cost: float = 0.0

    @property
    def numbers(self) -> dict[str, float]:
        """By the names that a search knows."""
        return {"crop": self.crop, "cost": self.cost}

    def of(self, money: Any, cane: Any) -> Any:
        """The aim from money and cane of a second."""
        return (money - self.cost) * self.crop / cane if self.crop else money


AN_HOUR = Aim()
"""Money an hour."""


@dataclass(frozen=True, slots=True)
class Found:
    """The day's plant and the best one, with what was free and what was limited."""

    today: Solution
    best: Best
    free: Mapping[str, Bound]
    limits: Mapping[str, Bound]
    given: Numbers
    aim: Aim = AN_HOUR


def bounds_of(asked: Found) -> dict[str, tuple[float, float]]:
    """Lowest and highest of all that is limited."""
    bounds = {a: (b.low, b.high) for a, b in asked.limits.items()}
    for a, b in asked.free.items():
        low, high = bounds.get(a, (-math.inf, math.inf))
        bounds[a] = max(low, b.low), min(high, b.high)
    return bounds
