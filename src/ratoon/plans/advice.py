"""The answer of `ratoon best`: what was found, told in trade units and money an hour."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby

import numpy as np

from ratoon.account.move_results import BestMove
from ratoon.base import units
from ratoon.equations.prices import Price
from ratoon.plans.best import BOUND, Bound, Found, MillSearch, Rate
from ratoon.plans.best_result import (
    BestCurve,
    BestDraws,
    BestLimit,
    BestMoney,
    BestRegime,
    BestResult,
    BestSetting,
    BestSolver,
    BestTerm,
    Side,
    Tried,
    Without,
)
from ratoon.plans.moves import MOVED, SURE, Draws, Moved
from ratoon.plant.declared import DEFER
from ratoon.plant.flowsheet import CRUSHING

MOST_MOVES = 3


def told(
    search: MillSearch,
    found: Found,
    rate: Rate,
    day: str,
    moved: list[Moved],
    drawn: Draws | None,
    curves: dict[str, BestCurve],
    others: dict[str, Found],
) -> BestResult:
    """Everything that is told of a day's best settings.

    Parameters
    ----------
    day : the mill day, YYYY-MM-DD. moved : settings that the best state moves. drawn : draws of
        the day's uncertainty, where they were asked for. others : by doubted reading, the best
        with it left out; what they do not all move the same way is no move.
    """
    plant, best = search.plant, found.best
    regime = BestRegime(*search.regime(found, rate))
    figures = {
        a: Tried(_trade(search, a, found.today.values[a]), _trade(search, a, best[a]),
                 plant.addresses[a].unit)
        for a in plant.equations.reports
        if a.startswith("account.") and a in found.today.values and a in best.values
    }  # fmt: skip
    limits = tuple(_limits(search, found))
    agreed = _agreed(found, moved, others)
    return BestResult(
        day, "best", regime, search.mill.settings.mill.currency, _money(search, found, drawn),
        tuple(BestTerm(t.name, t.price, t.unit, t.source,
                       float(t.price * t.amount(found.today.values)) * 3600.0,
                       float(t.price * t.amount(best.values)) * 3600.0) for t in search.terms),
        {a: _setting(search, found, a, b) for a, b in found.free.items()},
        figures, limits, tuple(_moves(search, found, agreed, drawn, regime)), curves,
        tuple(_without(search, a, other) for a, other in others.items()),
        None if drawn is None else BestDraws(drawn.count, len(drawn.today), drawn.over),
        BestSolver("ipopt", best.steps, best.seconds, best.residual, best.breach),
        tuple(_notes(search, found, limits, others)), _cautions(search, [m.address for m in moved]),
    )  # fmt: skip


def _trade(search: MillSearch, address: str, value: float) -> float:
    return float(units.from_inside(value, search.plant.addresses[address].unit))


def _money(search: MillSearch, found: Found, drawn: Draws | None) -> BestMoney:
    today, best = (float(search.money(v.values)) for v in (found.today, found.best))
    if drawn is None or len(drawn.today) < 2:
        return BestMoney(today, best, best - today)
    low, high = np.quantile(drawn.gain, (0.025, 0.975))
    return BestMoney(today, best, best - today, float(drawn.gain.std()), float(low), float(high))


def _setting(search: MillSearch, found: Found, address: str, bound: Bound) -> BestSetting:
    info, value = search.plant.addresses[address], found.best[address]
    near = 1e-6 * max(bound.high - bound.low, 1e-12)
    at: Side | None = ("low" if value - bound.low <= near else
                       "high" if bound.high - value <= near else None)  # fmt: skip
    low, high = (_trade(search, address, x) for x in (bound.low, bound.high))
    return BestSetting(info.name, info.unit, _trade(search, address, found.today[address]),
                       _trade(search, address, value), low, high,
                       at if bound.high > bound.low else None, bound.source)  # fmt: skip


def _limits(search: MillSearch, found: Found) -> Iterator[BestLimit]:
    """Limits of settings and stations, what binds first, dearest first."""
    prices = {(p.address, p.side): p for p in found.best.prices}
    rows = []
    for address, bound in {**found.free, **found.limits}.items():
        if bound.low == bound.high:
            continue
        ends: tuple[tuple[Side, float, float], ...]
        ends = ("low", bound.low, bound.rated_low), ("high", bound.high, bound.rated_high)
        for side, at, rated in ends:
            price = prices.get((address, side))
            if math.isfinite(at) and (address in found.limits or price is not None):
                rows.append(_limit(search, found, address, side, at, rated, bound, price))
    rows = [_joined(list(alike)) for _, alike in groupby(rows, key=_alike)]
    yield from sorted(rows, key=lambda r: -r.price * max(abs(r.limit), 1e-9))


def _limit(
    search: MillSearch, found: Found, address: str, side: Side, at: float, rated: float,
    bound: Bound, price: Price | None,
) -> BestLimit:  # fmt: skip
    info = search.plant.addresses[address]
    unit = info.unit or "1"
    one = units.spread_to_inside(1.0, unit)
    asked = 0.0 if price is None or price.own else price.price * 3600.0
    binds = asked * max(abs(at), one) > BOUND * 3600.0
    return BestLimit(address, info.name, info.unit, side, _trade(search, address, at),
                     _trade(search, address, rated), at != rated,
                     _trade(search, address, found.best[address]), binds,
                     asked * one if binds else 0.0, info.unit, None, bound.source)  # fmt: skip


def _alike(row: BestLimit) -> tuple[str, Side, float, float]:
    """Limits that say one thing: of machines that are alike, and at the same value."""
    return re.sub(r"\.\d+\.", ".", row.address), row.side, row.limit, round(row.value, 6)


def _joined(alike: list[BestLimit]) -> BestLimit:
    """One row for limits that say one thing: their prices add up."""
    first = alike[0]
    if len(alike) == 1:
        return first
    numbers = [m.group(1) for row in alike if (m := re.search(r"\.(\d+)\.", row.address))]
    return replace(first, name=f"{first.name} (and {' and '.join(numbers[1:])})",
                   price=sum(r.price for r in alike), binds=any(r.binds for r in alike),
                   )  # fmt: skip


def _moves(
    search: MillSearch, found: Found, moved: list[Moved], drawn: Draws | None, regime: BestRegime
) -> Iterator[BestMove]:
    """The moves that gain most; what gains less than its own uncertainty is none."""
    hours = found.today.values[CRUSHING] / 3600.0
    sure = [m for m in moved if m.gain > 0.0 and m.gain > SURE * _spread(drawn, m.address)]
    for one in sorted(sure, key=lambda m: -m.gain)[:MOST_MOVES]:
        info = search.plant.addresses[one.address]
        spread = None if drawn is None else _spread(drawn, one.address) * hours
        yield BestMove(
            one.address, info.name, _trade(search, one.address, found.today[one.address]),
            _trade(search, one.address, found.best[one.address]), info.unit, one.gain * hours,
            spread, None if one.by_itself is None else one.by_itself * hours,
            one.stopped_by, regime.name, "; ".join(_cautions(search, [one.address])[:-1]),
        )  # fmt: skip


def _spread(drawn: Draws | None, address: str) -> float:
    """Standard uncertainty of what a setting gains [money an hour]; 0 where nothing was drawn."""
    return 0.0 if drawn is None else drawn.spread.get(address, 0.0)


def _cautions(search: MillSearch, changed: list[str]) -> tuple[str, ...]:
    """What can hurt where something is changed, as the places of the plant declare it."""
    places = [p for station in search.plant.works.stations for p in station.picture()]
    mine = (p for a in changed for p in places if p.hold(a))
    return tuple(dict.fromkeys([c for p in mine for c in p.cautions] + [DEFER]))


def _agreed(found: Found, moved: list[Moved], others: dict[str, Found]) -> list[Moved]:
    """The moves that go the same way whichever doubted reading is left out."""

    def way(one: Found, address: str) -> float:
        span = found.free[address].high - found.free[address].low
        far = one.best[address] - one.today[address]
        return math.copysign(1.0, far) if abs(far) > MOVED * span else 0.0

    every = [found, *others.values()]
    return [m for m in moved if len({way(one, m.address) for one in every}) == 1]


def _without(search: MillSearch, address: str, other: Found) -> Without:
    gain = float(search.money(other.best.values) - search.money(other.today.values))
    return Without(address, gain, {a: _trade(search, a, other.best[a]) for a in other.free})


def _notes(
    search: MillSearch, found: Found, limits: tuple[BestLimit, ...], others: dict[str, Found]
) -> Iterator[str]:
    if others:
        names = ", ".join(search.plant.addresses[a].name for a in others)
        yield (f"The day's readings contradict one another ({names}): settle them first. Only "
               "moves that hold whichever of them is wrong are told.")  # fmt: skip
    yield "Stocks stand still in both; money is an estimate and never paid."
    for row in limits:
        if row.raised:
            ran = f"{row.limit:.4g} {row.unit}".rstrip()
            yield (f"{row.name}: the day ran at {ran} where {row.rated:.4g} is stated; the search "
                   "may go as far as the day.")  # fmt: skip
    for price in found.best.prices:
        if price.own and price.price > 0.0 and price.limit != 0.0:  # a flow that is shut is none
            yield (f"{price.address} stands at the end of the program's own range: that is no "
                   "advice; state a limit of the mill for it under [best.limits].")  # fmt: skip
