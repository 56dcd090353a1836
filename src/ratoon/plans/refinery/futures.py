"""Years as they may come: what mills make is drawn, sales and hire answer, sheds fill and empty.

All sheds and brands are one stock here, and all products one. A week runs so: what is sold was
promised before the week's sugar was known and is loaded first; the refinery melts what is planned
and what it is behind, as far as there is sugar above the heel; what then finds no room is spilt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.plans.refinery.case import Case
from ratoon.plans.refinery.model import NO_ROOM, Year
from ratoon.plans.refinery.program import Solved

Array = NDArray[np.float64]
Rng = np.random.Generator


@dataclass(frozen=True)
class Whole:
    """The year as one stock of raw sugar and one of product, by week.

    Parameters
    ----------
    make, melt, due : planned [t]; due of product. gives : product by a tonne melted. sold : by
        buyer and week. most : what a buyer takes, by buyer and week. earns : money by a tonne,
        haulage paid. value : of a tonne of product. brands : buyers of a set of brands alone, and
        what is made of these.
    """

    opening: float
    packed: float
    make: Array
    melt: Array
    melt_most: Array
    due: Array
    gives: Array
    room: Array
    heel: Array
    hire_most: Array
    hired: Array
    buyers: tuple[str, ...]
    sold: Array
    most: Array
    earns: Array
    brands: tuple[tuple[tuple[int, ...], Array], ...]
    hire_cost: float
    spill_cost: float
    short_cost: float
    value: float
    left_value: float


@dataclass(frozen=True)
class Answers:
    """Sales (by buyer, week) and hire (by week): what is planned, and tonnes more for each tonne
    made over plan in all weeks before."""

    sold: Array
    sold_more: Array
    hired: Array
    hired_more: Array


@dataclass(frozen=True)
class Came:
    """What came of futures: t spilt and short, whether full and empty, stock by week and future."""

    spilt: Array
    short: Array
    full: NDArray[np.bool_]
    empty: NDArray[np.bool_]
    stock: Array

    def cost(self, whole: Whole) -> float:
        """Mean cost of what was spilt and short."""
        cost = whole.spill_cost * self.spilt + whole.short_cost * self.short
        return float(cost.mean())


def whole_of(case: Case, year: Year, found: Solved) -> Whole:
    """A plan as one stock."""

    def summed(key: str) -> Array:
        kept = [v for k in case.sheds if (v := case.limit(f"sheds.{k}.{key}")) is not None]
        return sum(kept, np.zeros(case.weeks))

    def stated(name: str, missing: float) -> Array:
        value = case.limit(name)
        return np.full(case.weeks, missing) if value is None else value

    haul, draw = found.of(year.haul).sum(axis=1), found.of(year.draw).sum(axis=(1, 2))
    flows = [(to, flow) for ways, block in ((year.hauls, haul), (year.draws, draw))
             for (_, to), flow in zip(ways, block, strict=True) if to != NO_ROOM]  # fmt: skip

    def into(place: str) -> Array:
        return sum((flow for to, flow in flows if to == place), np.zeros(case.weeks))

    made = {b: np.zeros(case.weeks) for b in case.brands}
    for mill in case.mills.values():
        for brand, tonnes in mill.make.items():
            made[brand] = made[brand] + tonnes
    for shed in case.sheds.values():
        for brand, t in shed.stock.items():
            made[brand] = made[brand] + np.where(np.arange(case.weeks) == 0, t, 0.0)
    melt, pack = into("refinery"), found.of(year.pack).sum(axis=0)
    usual = sum(p.yield_ for p in case.products.values()) / max(len(case.products), 1)
    sets = dict.fromkeys(b.brands for b in case.buyers.values())
    opening = sum(t for s in case.sheds.values() for t in s.stock.values())
    given = found.of(year.given)
    weight = [o.tonnes for o in case.orders]

    def usual_of(key: str) -> float:
        """A product's figure, weighted by what is ordered."""
        each = [getattr(case.products[o.product], key) for o in case.orders]
        return float(np.average(each, weights=weight)) if sum(weight) else 0.0

    return Whole(
        opening, sum(p.stock for p in case.products.values()), sum(made.values()) - np.where(
            np.arange(case.weeks) == 0, opening, 0.0), melt,
        stated("refinery.melt_most", np.inf) * np.where(case.open > 0, case.open, 1e-9),
        given.sum(axis=0), np.where(melt > 0.0, pack / np.where(melt > 0.0, melt, 1.0), usual),
        summed("tonnes"), np.maximum(summed("heel"), stated("refinery.heel", 0.0)),
        stated("refinery.hire_most", np.inf if case.hire_cost is not None else 0.0)
        if case.hire_cost is not None else np.zeros(case.weeks),
        found.of(year.hire).sum(axis=0), tuple(case.buyers),
        np.array([into(b) for b in case.buyers]).reshape(-1, case.weeks),
        np.array([stated(f"buyers.{b}.most", np.inf) for b in case.buyers]).reshape(-1, case.weeks),
        np.array([b.price - _usual_cost(case, name) for name, b in case.buyers.items()]),
        tuple((tuple(n for n, b in enumerate(case.buyers.values()) if set(b.brands) <= set(one)),
               np.sum([made[b] for b in one], axis=0)) for one in sets),
        case.hire_cost or 0.0, case.spill_cost,
        usual_of("short_cost"), usual_of("value"), case.left_value,
    )  # fmt: skip


def _usual_cost(case: Case, buyer: str) -> float:
    """What a tonne costs to a buyer, mean of the places that reach it."""
    ways = [*(m.ways for m in case.mills.values()), *(s.ways for s in case.sheds.values())]
    costs = [cost for one in ways if (cost := one.to(buyer)) is not None]
    return sum(costs) / max(len(costs), 1)


def uncertain(case: Case) -> bool:
    """Whether the case says how sure the mills' sugar is."""
    return any(m.common > 0.0 or m.sigma.any() or m.futures is not None
               for m in case.mills.values())  # fmt: skip


def drawn(case: Case, rng: Rng, count: int) -> Array:
    """What all mills make in each week of each future [t], by (future, week)."""
    made = np.zeros((count, case.weeks))
    for mill in case.mills.values():
        if mill.futures is not None:
            made += mill.futures[rng.integers(len(mill.futures), size=count)]
            continue
        planned = np.sum(list(mill.make.values()), axis=0)
        season = 1.0 + mill.common * rng.standard_normal((count, 1))
        week = np.where(planned > 0.0, mill.sigma, 0.0) * rng.standard_normal((count, case.weeks))
        made += np.maximum(planned * season + week, 0.0)
    return made


def lived(whole: Whole, answers: Answers, make: Array) -> Came:
    """Futures lived week by week under what sales and hire answer."""
    count, weeks = make.shape
    stock, packed = whole.opening + np.zeros(count), whole.packed + np.zeros(count)
    behind, over, spilt, short = (np.zeros(count) for _ in range(4))
    full, empty = np.zeros(count, bool), np.zeros(count, bool)
    line = np.empty((weeks, count))
    for w in range(weeks):
        sold = answers.sold[:, w, None] + answers.sold_more[:, w, None] * over
        sales = np.clip(sold, 0.0, whole.most[:, w, None]).sum(axis=0)
        hire = np.clip(answers.hired[w] + answers.hired_more[w] * over, 0.0, whole.hire_most[w])
        there = np.maximum(stock + make[:, w] - whole.heel[w], 0.0)
        loaded = np.minimum(sales, there)
        wanted = np.minimum(whole.melt[w] + behind, np.maximum(whole.melt_most[w], whole.melt[w]))
        melt = np.minimum(wanted, there - loaded)
        behind += whole.melt[w] - melt
        empty |= (loaded < sales - 0.5) | (melt < wanted - 0.5)
        stock = stock + make[:, w] - loaded - melt
        extra = np.maximum(stock - whole.room[w] - hire, 0.0)
        stock, spilt, full = stock - extra, spilt + extra, full | (extra > 0.5)
        packed += whole.gives[w] * melt - whole.due[w]
        lacks = np.maximum(-packed, 0.0)
        packed, short = packed + lacks, short + lacks
        over += make[:, w] - whole.make[w]
        line[w] = stock
    return Came(spilt, short, full, empty, line)


def unanswered(whole: Whole) -> Answers:
    """The plan as it is, whatever comes."""
    return Answers(whole.sold, 0.0 * whole.sold, whole.hired, 0.0 * whole.hired)
