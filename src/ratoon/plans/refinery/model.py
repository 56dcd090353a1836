"""The year as a linear programme: its blocks of variables, and its rows in the words of a limit.

A good is a brand and an age: the stock at the start, then the four weeks in which it was made.
Where nothing is told of keeping there is one age. A row of a limit is there in all weeks of the
year where the case states that limit, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ratoon.plans.refinery.case import AGE_WEEKS, REFINERY, Array, Case, Ways
from ratoon.plans.refinery.program import Ids, Program, Term

HOURS = 168.0
"""Hours of a week."""
NO_ROOM = "no room"
"""Where sugar goes that was made and could go nowhere."""


@dataclass(frozen=True)
class Year:
    """A case's programme and its blocks.

    Parameters
    ----------
    hauls, draws : ways from mills and from sheds, as (from, to). haul : by way, brand, week. draw :
        by way, brand, age, week. stock : by shed, brand, age, week. hire : by shed, week. pack,
        held : by product, week. given : by order, week. short : by order. limits : rows by name.
    """

    program: Program
    brands: tuple[str, ...]
    hauls: tuple[tuple[str, str], ...]
    draws: tuple[tuple[str, str], ...]
    haul: Ids
    draw: Ids
    stock: Ids
    hire: Ids
    pack: Ids
    held: Ids
    given: Ids
    short: Ids
    limits: Mapping[str, Ids]


def year_of(case: Case) -> Year:
    """The programme of a case."""
    return _Built(case).year()


class _Built:
    """The case while it becomes a programme: its blocks, and what quality they have."""

    def __init__(self, case: Case) -> None:
        self.case, self.program = case, Program()
        self.limits: dict[str, Ids] = {}
        self.brands = tuple(case.brands)
        self.ages = 1 + -(-case.weeks // AGE_WEEKS) if case.aged else 1
        mills = [(name, mill.ways) for name, mill in case.mills.items()]
        sheds = [(name, shed.ways) for name, shed in case.sheds.items()]
        self.hauls, cost = _ways(mills, [*case.sheds, REFINERY, *case.buyers])
        self.hauls += [(name, NO_ROOM) for name in case.mills]
        cost += [case.spill_cost] * len(case.mills)
        self.draws, draw_cost = _ways(sheds, [REFINERY, *case.buyers])
        b, w, a = len(self.brands), case.weeks, self.ages
        self.haul = self._moved(self.hauls, cost, (b, w))
        self.draw = self._moved(self.draws, draw_cost, (b, a, w))
        keep = np.array([shed.keep_cost for shed in case.sheds.values()])
        worth = np.zeros(w)
        worth[-1] = case.left_value
        shape = len(sheds), b, a, w
        self.stock = self.program.variables(
            *shape, money=worth - keep.reshape(-1, 1, 1, 1),
            most=np.where(self._born(), np.inf, 0.0) * np.ones(shape))  # fmt: skip
        hired = case.hire_cost
        self.hire = self.program.variables(len(sheds), w, money=-(hired or 0.0),
                                           most=0.0 if hired is None else np.inf)  # fmt: skip

    def _born(self) -> Array:
        """One for ages that are there in a week, zero for those still to be made."""
        age, week = np.arange(self.ages)[:, None], np.arange(self.case.weeks)
        return (age <= week // AGE_WEEKS + 1).astype(float)

    def _moved(self, ways: list[tuple[str, str]], cost: list[float], shape: tuple[int, ...]) -> Ids:
        """What moves on each way: nothing of a brand that its buyer does not take."""
        buyers, tail = self.case.buyers, (1,) * (len(shape) - 1)
        takes = np.array([[to not in buyers or b in buyers[to].brands for b in self.brands]
                          for _, to in ways], bool)  # fmt: skip
        earns = [(buyers[to].price if to in buyers else 0.0) - c
                 for (_, to), c in zip(ways, cost, strict=True)]  # fmt: skip
        most = np.where(takes, np.inf, 0.0).reshape(len(ways), len(self.brands), *tail)
        money = np.array(earns).reshape(-1, *(1 for _ in shape))
        return self.program.variables(len(ways), *shape, money=money, most=most)

    def _limit(self, name: str, terms: list[Term], by: float | Array = 1.0) -> None:
        """The rows of a limit, where the case has it; `by` is how much of its unit a week has."""
        limit = self.case.limits.get(name)
        if limit is not None:
            self.limits[name] = self.program.add(terms, **{limit.side: limit.values * by})

    def year(self) -> Year:
        self._mills()
        self._sheds()
        self._melt()
        blocks = self._products()
        for name in self.case.buyers:
            self._limit(f"buyers.{name}.most", self._into(name))
        return Year(self.program, self.brands, tuple(self.hauls), tuple(self.draws), self.haul,
                    self.draw, self.stock, self.hire, *blocks, self.limits)  # fmt: skip

    def _mills(self) -> None:
        """All that is made goes somewhere."""
        for name, mill in self.case.mills.items():
            out = [n for n, (here, _) in enumerate(self.hauls) if here == name]
            for b, brand in enumerate(self.brands):
                made = mill.make.get(brand, np.zeros(self.case.weeks))
                self.program.add([(1.0, self.haul[out, b].T)], least=made, most=made)
            hauled = [n for n in out if self.hauls[n][1] != NO_ROOM]
            self._limit(f"mills.{name}.most", [(1.0, _by_week(self.haul[hauled]))])

    def _into(self, place: str) -> list[Term]:
        """What comes to a place in each week."""
        hauls = [n for n, (_, to) in enumerate(self.hauls) if to == place]
        draws = [n for n, (_, to) in enumerate(self.draws) if to == place]
        return [(1.0, _by_week(self.haul[hauls])), (1.0, _by_week(self.draw[draws]))]

    def _sheds(self) -> None:
        for s, (name, shed) in enumerate(self.case.sheds.items()):
            hauls = [n for n, (_, to) in enumerate(self.hauls) if to == name]
            draws = [n for n, (here, _) in enumerate(self.draws) if here == name]
            for b, brand in enumerate(self.brands):
                for age in range(self.ages):
                    held = self.stock[s, b, age]
                    terms: list[Term] = [(1.0, held), (1.0, self.draw[draws, b, age].T)]
                    opening = np.zeros(self.case.weeks)
                    opening[0] = shed.stock.get(brand, 0.0) if age == 0 else 0.0
                    before = np.concatenate([held[:1], held[:-1]])
                    terms.append((-1.0 * (np.arange(self.case.weeks) > 0), before))
                    terms.append((-1.0 * self._comes(age)[:, None], self.haul[hauls, b].T))
                    self.program.add(terms, least=opening, most=opening)
            whole = (1.0, _by_week(self.stock[[s]]))
            self._limit(f"sheds.{name}.tonnes", [whole, (-1.0, self.hire[s])])
            self._limit(f"sheds.{name}.heel", [whole])
            self._limit(f"sheds.{name}.in_rate", [(1.0, _by_week(self.haul[hauls]))], HOURS)
            self._limit(f"sheds.{name}.out_rate", [(1.0, _by_week(self.draw[draws]))], HOURS)
        self._limit("refinery.heel", [(1.0, _by_week(self.stock))])
        self._limit("refinery.hire_most", [(1.0, self.hire.T)])

    def _comes(self, age: int) -> Array:
        """One in the weeks whose sugar goes into an age."""
        if self.ages == 1:
            return np.ones(self.case.weeks)
        return np.asarray(np.arange(self.case.weeks) // AGE_WEEKS + 1 == age, float)

    def _kept_weeks(self, shed: str) -> Array:
        """Weeks for which each age has been kept in each week."""
        week = np.arange(self.case.weeks)
        if not self.case.aged:
            return np.zeros((1, self.case.weeks))
        kept = week - AGE_WEEKS * (np.arange(self.ages)[:, None] - 1.0)
        kept[0] = week + self.case.sheds[shed].age
        weeks: Array = np.maximum(kept, 0.0)
        return weeks

    def _quality(self, figure: str) -> tuple[Array, Array]:
        """A figure of what is hauled (by brand, week) and drawn (by way, brand, age, week)."""
        of = [getattr(self.case.brands[b], f"{figure}_after") for b in self.brands]
        aged = np.array([[after(self._kept_weeks(self.draws[n][0])) for after in of]
                         for n in self._drawn])  # fmt: skip
        fresh = np.array([after(np.zeros(self.case.weeks)) for after in of])
        shape = len(self.brands), self.ages, self.case.weeks
        return fresh.reshape(len(of), self.case.weeks), aged.reshape(len(self._drawn), *shape)

    @property
    def _drawn(self) -> list[int]:
        return [n for n, (_, to) in enumerate(self.draws) if to == REFINERY]

    def _melt(self) -> None:
        """Melt between its limits, and its quality; what has lost pol gives less product."""
        hauled = self.haul[[n for n, (_, to) in enumerate(self.hauls) if to == REFINERY]]
        drawn = self.draw[self._drawn]
        into: list[Term] = [(1.0, _by_week(hauled)), (1.0, _by_week(drawn))]
        self.program.add(into, most=np.where(self.case.open > 0.0, np.inf, 0.0))
        self._limit("refinery.melt_most", into, self.case.open)
        self._limit("refinery.melt_least", into, self.case.open)
        for name, figure, sign in (("pol_least", "pol", 1.0), ("colour_most", "colour", -1.0)):
            asked = self.case.limit(f"refinery.{name}")
            if asked is not None:
                fresh, aged = self._quality(figure)
                self.limits[f"refinery.{name}"] = self.program.add(
                    [(_by_week(sign * (fresh - asked) * np.ones(hauled.shape)), _by_week(hauled)),
                     (_by_week(sign * (aged - asked)), _by_week(drawn))], least=0.0)  # fmt: skip
        fresh, aged = self._quality("pol")
        whole = np.where(fresh > 0.0, fresh, 1.0)[None, :, None]
        worth = np.where(fresh[None, :, None] > 0.0, aged / whole, 1.0)
        self.yields: list[Term] = [(1.0, _by_week(hauled)), (_by_week(worth), _by_week(drawn))]

    def _products(self) -> tuple[Ids, Ids, Ids, Ids]:
        """Packed from what is melted, held, given to orders; the blocks of it."""
        case, orders, weeks = self.case, self.case.orders, np.arange(self.case.weeks)
        listed, names = list(case.products.values()), list(case.products)
        keep = np.array([p.keep_cost for p in listed]).reshape(-1, 1)
        pack = self.program.variables(len(listed), case.weeks)
        held = self.program.variables(len(listed), case.weeks, money=-keep)
        within = np.array([(o.first <= weeks) & (weeks <= o.last) for o in orders])
        within = within.reshape(len(orders), case.weeks)
        value, cost = (np.array([getattr(case.products[o.product], k) for o in orders], float)
                       for k in ("value", "short_cost"))  # fmt: skip
        given = self.program.variables(len(orders), case.weeks, money=value.reshape(-1, 1),
                                       most=np.where(within, np.inf, 0.0))  # fmt: skip
        short = self.program.variables(len(orders), money=-cost)
        wanted = np.array([o.tonnes for o in orders], float)
        if orders:
            self.program.add([(1.0, given), (1.0, short)], least=wanted, most=wanted)
        raw = np.array([1.0 / p.yield_ for p in listed])
        melted = [(-np.asarray(f, float), v) for f, v in self.yields]
        self.program.add([*melted, (raw, pack.T)], least=0.0, most=0.0)
        for p, product in enumerate(listed):
            of = [n for n, o in enumerate(orders) if o.product == names[p]]
            opening = np.where(weeks == 0, product.stock, 0.0)
            before = np.concatenate([held[p, :1], held[p, :-1]])
            self.program.add([(1.0, held[p]), (-1.0 * (weeks > 0), before), (-1.0, pack[p]),
                              (1.0, given[of].T)], least=opening, most=opening)  # fmt: skip
            self._limit(f"products.{names[p]}.store", [(1.0, held[p])])
        return pack, held, given, short


def _ways(
    places: list[tuple[str, Ways]], ends: list[str]
) -> tuple[list[tuple[str, str]], list[float]]:
    """Ways from places to ends that they reach, and the cost of a tonne on each."""
    found = [(here, to, cost) for here, ways in places for to in ends
             if (cost := ways.to(to)) is not None]  # fmt: skip
    return [(here, to) for here, to, _ in found], [cost for *_, cost in found]


def _by_week(block: Any) -> Any:
    """A block whose last axis is the week, as a row for each week."""
    return np.moveaxis(block, -1, 0).reshape(block.shape[-1], -1)
