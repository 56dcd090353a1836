"""Each setting that the best state moves: what it gains with the others, by itself, how surely."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved
from ratoon.equations.prices import NoneFound
from ratoon.equations.reconciled import Reconciled
from ratoon.plans.best.asked import Found
from ratoon.plans.best.search import MillSearch

Floats = NDArray[np.float64]
MOVED = 1e-3  # of its range: a setting that moves less has not moved
SURE = 1.96
MOST_MOVES = 3
FEW = 200  # draws tell a move's own uncertainty to a twentieth
SEED = 20310610  # of all draws: asked twice, the answer is the same


@dataclass(frozen=True, slots=True)
class Moved:
    """Money an hour that a setting gains with all others moved, and by itself."""

    address: str
    gain: float
    by_itself: float | None
    stopped_by: str


@dataclass(frozen=True, slots=True)
class Draws:
    """Money an hour of the day's and of the advised settings in each draw that both solve.

    Attributes
    ----------
    count : draws tried. today, advised : $/h, shape (solved,). spread : setting -> standard
    uncertainty of what it gains beside the others. over : chance of each load to pass its limit.
    """

    count: int
    today: Floats
    advised: Floats
    spread: Mapping[str, float]
    over: Mapping[str, float]

    @property
    def gain(self) -> Floats:
        return self.advised - self.today


def moves(search: MillSearch, found: Found, others: Collection[Found] = ()) -> list[Moved]:
    """What moving each setting gains: it put back to the day's value with all others free again.

    What gains most comes first.

    `others` are the best settings with one suspect reading left out each: what does not go the
    same way in all of them is no move.
    """
    told = []
    for address, bound in found.free.items():
        if len({_way(one, address) for one in (found, *others)}) > 1 or not _way(found, address):
            continue
        here = found.today[address]
        try:
            without = search.again(found, found.best, **{address: bound.at(here)})
        except NoneFound:
            continue
        if (gain := (found.best.aim - without.best.aim) * 3600.0) > 0.0:
            told.append(Moved(address, gain, _alone(search, found, address),
                              _stopper(search, found, address)))  # fmt: skip
    return sorted(told, key=lambda m: -m.gain)


def _way(found: Found, address: str) -> int:
    """Whether the best moves a setting up (1), down (-1) or not to speak of."""
    bound = found.free[address]
    far = found.best[address] - found.today[address]
    return 0 if abs(far) <= MOVED * (bound.high - bound.low) else 1 if far > 0.0 else -1


def _alone(search: MillSearch, found: Found, address: str) -> float | None:
    """Money an hour of one setting moved with all others as on the day; None without an answer."""
    given = dict(found.given)
    point = search.plant.set_point_of(address)
    given[point] = search.advised(found)[point]
    try:
        alone = search.plant.solve(given, found.today.values)
        return float(
            search.money(alone.values, found.aim) - search.money(found.today.values, found.aim)
        )
    except NotSolved:
        return None


def _stopper(search: MillSearch, found: Found, address: str) -> str:
    """Address of what stops a setting from moving further; "" where it rests at its best."""
    prices = {(p.address, p.side): p.price for p in found.best.prices}
    way = "high" if found.best[address] > found.today[address] else "low"
    return address if (address, way) in prices else ""


def draws(
    search: MillSearch, found: Found, answer: Reconciled, count: int, moved: Sequence[Moved] = ()
) -> Draws:
    """Both settings tried on draws of the day's uncertainty, each solved whole.

    Parameters
    ----------
    answer : the day's account, whose covariance is drawn from. count : of draws. moved : settings
        whose own gain is drawn too, until three gain more than their uncertainty.

    Notes
    -----
    What is set or assumed is drawn; what is advised is then set exactly. Errors that the two
    settings share cancel. Slopes of the best state are not used: most draws change what binds.
    """
    drawn = _drawn(search, found, answer, count)
    advised = {**drawn, **search.handed_back(found)}

    def solved(
        given: Mapping[str, float | Floats], start: Mapping[str, float]
    ) -> dict[str, Floats]:
        return search.plant.equations.solve_many(given, start, leave=True)

    then = solved(advised, found.best.values)
    money = [search.money(v, found.aim) for v in (solved(drawn, found.today.values), then)]
    good = np.isfinite(money[0]) & np.isfinite(money[1])
    few, spread, sure = min(FEW, count), dict[str, float](), 0
    for k in range(0, len(moved), MOST_MOVES):  # some at a time: together they solve faster
        some = moved[k : k + MOST_MOVES]
        back = {a: np.tile(np.broadcast_to(v, count)[:few], len(some)) for a, v in advised.items()}
        for n, one in enumerate(some):
            point = search.plant.set_point_of(one.address)
            back[point][n * few : (n + 1) * few] = np.broadcast_to(drawn[point], count)[:few]
        put_back = search.money(solved(back, found.best.values), found.aim).reshape(-1, few)
        for one, money_back in zip(some, put_back, strict=True):
            spread[one.address] = float(np.nanstd((money[1][:few] - money_back)[good[:few]]))
            sure += one.gain > SURE * spread[one.address]
        if sure >= MOST_MOVES:
            break
    loads = [a for a in found.limits if a.endswith(".load") and a in then]
    over = {a: float(np.mean(then[a][good] > found.limits[a].high)) for a in loads}
    return Draws(count, money[0][good], money[1][good], spread, over)


def _drawn(
    search: MillSearch, found: Found, answer: Reconciled, count: int
) -> dict[str, float | Floats]:
    """What a simulation is given, each determined figure drawn with all the others."""
    plant, given = search.plant, found.given
    figures = {a: plant.held_by(a) for a in given}
    known = [a for a, figure in figures.items() if answer.sigma(figure)]
    spread = answer.covariance([figures[a] for a in known])
    # of correlations: the quantities' own sizes lie twenty powers of ten apart
    size = np.sqrt(np.diag(spread))
    values, vectors = np.linalg.eigh(spread / np.outer(size, size))
    root = size[:, None] * vectors * np.sqrt(np.maximum(values, 0.0))
    apart = np.random.default_rng(SEED).standard_normal((count, len(known))) @ root.T
    out: dict[str, float | Floats] = dict(given)
    for k, address in enumerate(known):
        drawn = given[address] + apart[:, k]
        var = plant.equations.variables.get(address)
        out[address] = drawn if var is None else np.clip(drawn, var.low, var.high)
    return out
