"""The answer of `ratoon best`: what was found, told in trade units and money an hour."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ratoon.account.results.moves import BestMove
from ratoon.plans.best.asked import Bound, Found, Rate
from ratoon.plans.best.limits import limits
from ratoon.plans.best.limits import notes as limit_notes
from ratoon.plans.best.moves import MOST_MOVES, SURE, Draws, Moved
from ratoon.plans.best.result import (
    BestCurve,
    BestDraws,
    BestLimit,
    BestMoney,
    BestRegime,
    BestResult,
    BestSetting,
    BestSolver,
    Side,
    Tried,
    Without,
)
from ratoon.plans.best.search import MillSearch
from ratoon.plant.cautions import DEFER
from ratoon.plant.flowsheet import CRUSHING


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
    day : the mill day, YYYY-MM-DD. moved : what moving each setting gains, most first. drawn :
        draws of the day's uncertainty, where they were asked for. others : by suspect reading, the
        best with it left out.
    """
    plant, best = search.plant, found.best
    regime = BestRegime(*search.regime(found, rate))
    figures = {
        a: Tried(search.trade(a, found.today.values[a]), search.trade(a, best[a]),
                 plant.addresses[a].unit)
        for a in plant.equations.reports
        if a.startswith("account.") and a in found.today.values and a in best.values
    }  # fmt: skip
    rows = limits(search, found)
    return BestResult(
        day, "best", regime, search.mill.settings.mill.currency, _money(search, found, drawn),
        tuple(search.told_terms(found)),
        {a: _setting(search, found, a, b) for a, b in found.free.items()},
        figures, tuple(rows), tuple(_moves(search, found, moved, drawn, regime)), curves,
        tuple(_without(search, a, other) for a, other in others.items()),
        None if drawn is None else BestDraws(drawn.count, len(drawn.today), drawn.over),
        BestSolver(search.solver, best.steps, best.seconds, best.residual, best.breach),
        tuple(_notes(search, found, rows, others)), _cautions(search, [m.address for m in moved]),
    )  # fmt: skip


def _money(search: MillSearch, found: Found, drawn: Draws | None) -> BestMoney:
    today, best = (float(search.money(v.values, found.aim)) for v in (found.today, found.best))
    if drawn is None or len(drawn.today) < 2:
        return BestMoney(today, best, best - today)
    low, high = np.quantile(drawn.gain, (0.025, 0.975))
    return BestMoney(today, best, best - today, float(drawn.gain.std()), float(low), float(high))


def _setting(search: MillSearch, found: Found, address: str, bound: Bound) -> BestSetting:
    info, value = search.plant.addresses[address], found.best[address]
    near = 1e-6 * max(bound.high - bound.low, 1e-12)
    at: Side | None = ("low" if value - bound.low <= near else
                       "high" if bound.high - value <= near else None)  # fmt: skip
    low, high = (search.trade(address, x) for x in (bound.low, bound.high))
    return BestSetting(info.name, info.unit, search.trade(address, found.today[address]),
                       search.trade(address, value), low, high,
                       at if bound.high > bound.low else None, bound.source)  # fmt: skip


def _moves(
    search: MillSearch, found: Found, moved: list[Moved], drawn: Draws | None, regime: BestRegime
) -> Iterator[BestMove]:
    """The moves that gain most; what gains less than its own uncertainty is none."""
    hours = found.today.values[CRUSHING] / 3600.0
    spread = None if drawn is None else drawn.spread
    sure = [
        m
        for m in moved
        if spread is None or (m.address in spread and m.gain > SURE * spread[m.address])
    ]
    for one in sure[:MOST_MOVES]:
        info = search.plant.addresses[one.address]
        yield BestMove(
            one.address, info.name, search.trade(one.address, found.today[one.address]),
            search.trade(one.address, found.best[one.address]), info.unit, one.gain * hours,
            None if spread is None else spread[one.address] * hours,
            None if one.by_itself is None else one.by_itself * hours,
            one.stopped_by, regime.name, "; ".join(_cautions(search, [one.address])[:-1]),
        )  # fmt: skip


def _cautions(search: MillSearch, changed: list[str]) -> tuple[str, ...]:
    """What can hurt where something is changed, as the places of the plant declare it."""
    places = [p for station in search.plant.works.stations for p in station.picture()]
    mine = (p for a in changed for p in places if p.hold(a))
    return tuple(dict.fromkeys([c for p in mine for c in p.cautions] + [DEFER]))


def _without(search: MillSearch, address: str, other: Found) -> Without:
    gain = float(
        search.money(other.best.values, other.aim) - search.money(other.today.values, other.aim)
    )
    return Without(address, gain, {a: search.trade(a, other.best[a]) for a in other.free})


def _notes(
    search: MillSearch, found: Found, rows: list[BestLimit], others: dict[str, Found]
) -> Iterator[str]:
    if others:
        names = ", ".join(search.plant.addresses[a].name for a in others)
        yield (f"The day's readings contradict one another ({names}): settle them first. Only "
               "moves that hold whichever of them is wrong are told.")  # fmt: skip
    yield "Stocks stand still in both; money is an estimate and never paid."
    yield from limit_notes(rows, found)
