"""The year's problem: mills, sheds, refinery, products, buyers, orders, and one table of limits.

Masses in t, flows in t a week unless they say t/h, analyses in % and IU, money in the mill's
currency. The how-to on the refinery's year says what each key of a file means.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Side = Literal["most", "least"]
REFINERY = "refinery"
AGE_WEEKS = 4
"""Weeks of making that are kept as one age (mill's choice)."""
TELLS = 0.5
"""Loss of pol in a year's keeping from which it is worth telling ages apart [%] (mill's choice)."""
DAYS, PERIOD = 7.0, 30.0
"""Of a week, and of the time for which a rate of keeping is told."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit as the case states it: one value in all weeks, or one for each (`each`)."""

    side: Side
    unit: str
    values: Array
    each: bool = False

    def moved(self, by: float, week: int | None) -> Limit:
        """With its value, or one week's, raised by so much."""
        values = self.values.copy()
        values[slice(None) if week is None else week] += by
        return replace(self, values=values)


@dataclass(frozen=True, slots=True)
class Ways:
    """What a tonne costs from a place to others; one that names its places reaches no other."""

    cost: float
    named: Mapping[str, float] | None = None

    def to(self, place: str) -> float | None:
        """Cost to a place; None where it is not reached."""
        return self.cost if self.named is None else self.named.get(place)


@dataclass(frozen=True, slots=True)
class Mill:
    """Sugar made by brand and week, and how sure that is.

    Parameters
    ----------
    sigma : uncertainty of a week, new in each [t]. common : relative, the same in all weeks.
    futures : what is made in years as they may come, by (future, week) [t], in place of these two.
    """

    make: Mapping[str, Array]
    ways: Ways
    sigma: Array
    common: float
    futures: Array | None = None


@dataclass(frozen=True, slots=True)
class Shed:
    """Opening stock by brand with its age [weeks], cost of a tonne kept a week."""

    stock: Mapping[str, float]
    age: float
    ways: Ways
    keep_cost: float


@dataclass(frozen=True, slots=True)
class Product:
    """Tonnes of a pack, share of raw sugar that becomes product, money by the tonne."""

    pack: float
    yield_: float
    value: float
    short_cost: float
    stock: float
    keep_cost: float


@dataclass(frozen=True, slots=True)
class Buyer:
    """Who buys raw sugar: of which brands, at what price."""

    brands: tuple[str, ...]
    price: float


@dataclass(frozen=True, slots=True)
class Order:
    """Tonnes of a product wanted between two weeks, both included."""

    name: str
    product: str
    tonnes: float
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Brand:
    """Polarisation and colour as made, None where the case does not say; what 30 days in a shed
    take of pol [%] and add to colour [% of itself]."""

    pol: float | None = None
    colour: float | None = None
    pol_lost: float = 0.0
    colour_gained: float = 0.0

    def pol_after(self, weeks: Array) -> Array:
        """Pol after weeks of keeping; zero where it is not known."""
        return (self.pol or 0.0) - self.pol_lost * weeks * DAYS / PERIOD

    def colour_after(self, weeks: Array) -> Array:
        """Colour after weeks of keeping; zero where it is not known."""
        share = self.colour_gained / 100.0 * weeks * DAYS / PERIOD
        return (self.colour or 0.0) * (1.0 + share)


@dataclass(frozen=True)
class Case:
    """The whole problem.

    Parameters
    ----------
    start : first day of the first week; None where weeks have numbers alone. open : share of each
        week in which the refinery runs. limits : by name, as ``sheds.North.tonnes``.
    hire_cost : of a tonne over a shed's room a week; None where none can be hired.
    spill_cost : of a tonne that has no room. left_value : of a tonne of raw sugar at the end.
    aged : whether sugar is told apart by its age; see `told_apart`.
    """

    start: date | None
    weeks: int
    mills: Mapping[str, Mill]
    sheds: Mapping[str, Shed]
    products: Mapping[str, Product]
    buyers: Mapping[str, Buyer]
    orders: tuple[Order, ...]
    brands: Mapping[str, Brand]
    open: Array
    limits: Mapping[str, Limit]
    hire_cost: float | None
    spill_cost: float
    left_value: float
    lacking: tuple[str, ...] = ()
    aged: bool = False

    def week(self, n: int) -> str:
        """A week as it is told: its first day, or its number."""
        return str(n + 1) if self.start is None else (self.start + timedelta(7 * n)).isoformat()

    def limit(self, name: str) -> Array | None:
        """A limit in each week; None where there is none."""
        found = self.limits.get(name)
        return None if found is None else found.values

    def moved(self, name: str, by: float, week: int | None = None) -> Case:
        """The case with one limit raised by so much."""
        return replace(self, limits={**self.limits, name: self.limits[name].moved(by, week)})

    def without(self, name: str) -> Case:
        """The case with one limit left out."""
        return replace(self, limits={k: v for k, v in self.limits.items() if k != name})


def told_apart(case: Case) -> Case:
    """The case with its sugar told apart by age where keeping may break a limit or costs pol."""
    kept = np.array([case.weeks + max((s.age for s in case.sheds.values()), default=0.0)])
    pol, colour = (case.limit(f"refinery.{k}") for k in ("pol_least", "colour_most"))
    aged = any(
        b.pol_lost * kept[0] * DAYS / PERIOD > TELLS
        or (pol is not None and b.pol_lost > 0.0 and b.pol_after(kept)[0] < pol.max())
        or (colour is not None and b.colour_gained > 0.0
            and b.colour_after(kept)[0] > colour.min())
        for b in case.brands.values()
    )  # fmt: skip
    return replace(case, aged=aged)
