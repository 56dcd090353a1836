"""A plan in whole kilograms, so that mass closes: what moves is rounded, stocks are what is left.

The sum of each flow so far is rounded, not the flow, so that no flow is ever more than a kilogram
off, nor the stock that many flows make more than a kilogram for each of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.plans.refinery.case import REFINERY, Case
from ratoon.plans.refinery.model import Year
from ratoon.plans.refinery.program import Array, Solved
from ratoon.plans.refinery.result import Haul, RefineryWeek

KG = 1000.0
Kilograms = NDArray[np.int64]


def weeks_of(case: Case, year: Year, found: Solved) -> tuple[RefineryWeek, ...]:
    """The plan week by week."""
    return _Told(case, year, found).weeks()


def _whole(flows: Array) -> Kilograms:
    """Flows in kg by week (last axis) such that their sums so far are the nearest whole ones."""
    sums = np.rint(np.cumsum(flows, axis=-1) * KG).astype(np.int64)
    return np.diff(sums, axis=-1, prepend=0)


@dataclass
class _Told:
    case: Case
    year: Year
    found: Solved

    def weeks(self) -> tuple[RefineryWeek, ...]:
        case, year, of = self.case, self.year, self.found.of
        self.make = {m: {b: _whole(v) for b, v in mill.make.items()}
                     for m, mill in case.mills.items()}  # fmt: skip
        self.haul = _whole(of(year.haul))
        self.draw = _whole(of(year.draw).sum(axis=2))
        self._all_goes()
        self.pack, self.given = _whole(of(year.pack)), _whole(of(year.given))
        self.stock = self._stocks()
        self.held = self._packed()
        return tuple(self._week(n) for n in range(case.weeks))

    def _all_goes(self) -> None:
        """What a mill made is what leaves it: the largest way of a week takes the odd kilogram."""
        for mill, made in self.make.items():
            ways = [n for n, (here, _) in enumerate(self.year.hauls) if here == mill]
            for b, brand in enumerate(self.year.brands):
                here = self.haul[ways, b]
                odd = made.get(brand, np.zeros(self.case.weeks, np.int64)) - here.sum(axis=0)
                most = np.array(ways)[here.argmax(axis=0)]
                self.haul[most, b, np.arange(self.case.weeks)] += odd

    def _stocks(self) -> dict[str, dict[str, Kilograms]]:
        """Raw sugar by shed and brand; what would fall below nothing is not drawn."""
        made: dict[str, dict[str, Kilograms]] = {}
        for name, shed in self.case.sheds.items():
            into = [n for n, (_, to) in enumerate(self.year.hauls) if to == name]
            out = [n for n, (here, _) in enumerate(self.year.draws) if here == name]
            made[name] = {}
            for b, brand in enumerate(self.year.brands):
                level = int(np.rint(KG * shed.stock.get(brand, 0.0)))
                line = np.zeros(self.case.weeks, np.int64)
                for week in range(self.case.weeks):
                    level += self.haul[into, b, week].sum() - self.draw[out, b, week].sum()
                    if level < 0:
                        most = out[int(self.draw[out, b, week].argmax())]
                        self.draw[most, b, week] += level
                        level = 0
                    line[week] = level
                made[name][brand] = line
        return made

    def _packed(self) -> dict[str, Kilograms]:
        """Packed sugar by product; what would fall below nothing is not given."""
        held = {}
        for p, (name, product) in enumerate(self.case.products.items()):
            of = [n for n, o in enumerate(self.case.orders) if o.product == name]
            level, line = int(np.rint(KG * product.stock)), np.zeros(self.case.weeks, np.int64)
            for week in range(self.case.weeks):
                level += self.pack[p, week] - self.given[of, week].sum()
                if level < 0:
                    self.given[of[int(self.given[of, week].argmax())], week] += level
                    level = 0
                line[week] = level
            held[name] = line
        return held

    def _out(self, place: str, week: int) -> dict[str, int]:
        """Kilograms of each brand that come to a place."""
        hauls = [n for n, (_, to) in enumerate(self.year.hauls) if to == place]
        draws = [n for n, (_, to) in enumerate(self.year.draws) if to == place]
        both = self.haul[hauls, :, week].sum(axis=0) + self.draw[draws, :, week].sum(axis=0)
        return dict(zip(self.year.brands, map(int, both), strict=True))

    def _week(self, n: int) -> RefineryWeek:
        case, year = self.case, self.year
        moved = [
            Haul(here, to, brand, int(kg[b, n]) / KG)
            for ways, block in ((year.hauls, self.haul), (year.draws, self.draw))
            for (here, to), kg in zip(ways, block, strict=True)
            for b, brand in enumerate(year.brands) if kg[b, n]
        ]  # fmt: skip
        short = dict.fromkeys(case.products, 0)
        for o, order in enumerate(case.orders):
            if order.last == n:
                short[order.product] += int(np.rint(KG * order.tonnes)) - int(self.given[o].sum())
        stock = {s: _tonnes({b: int(v[n]) for b, v in of.items()}) for s, of in self.stock.items()}
        stock[REFINERY] = _tonnes({p: int(v[n]) for p, v in self.held.items()})
        return RefineryWeek(
            case.week(n), {m: _tonnes({b: int(v[n]) for b, v in of.items()})
                           for m, of in self.make.items()},
            tuple(moved), _tonnes(self._out(REFINERY, n)),
            _tonnes({p: int(self.pack[i, n]) for i, p in enumerate(case.products)}),
            {buyer: sum(self._out(buyer, n).values()) / KG for buyer in case.buyers},
            _tonnes(short), stock,
        )  # fmt: skip


def _tonnes(kilograms: dict[str, int]) -> dict[str, float]:
    return {name: kg / KG for name, kg in kilograms.items()}
