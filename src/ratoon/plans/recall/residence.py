"""How long sugar stays in the pools of a mill, hour by hour, and which hours' cane a lot holds.

Each pool is a mixed tank: in an hour, what is in it leaves at the rate of what flows out over what
is there. So a plant that stands keeps its sugar, and no hours are fixed beforehand. What circulates
comes round by the same rates. Inside an hour the solution is exact (exponential of the matrix of
rates), with the hour's cane coming evenly. What was in the pools when the first hour began is told
as one class, older.

A pool may be split into stages in series instead, which bounds the residence from the other side:
a real pool is between both. A recall goes by mixed pools, whose range is the wider.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ratoon.base.errors import BadInput

Array = NDArray[np.float64]
Join = tuple[str, str, ArrayLike]
QUICK = 60.0
"""Most changes of a pool in an hour: a smaller pool is passed within a minute all the same."""
TERMS, SMALL = 12, 0.5
"""Terms of the exponential's series, and the norm of a matrix for which they give 1e-14."""


@dataclass(frozen=True, slots=True)
class Shares:
    """What arrived at a place came in so far: by hour of its cane, and older; they sum to one.

    `tonnes` is what the flows say arrived.
    """

    by_hour: Array
    older: float
    tonnes: float


@dataclass(frozen=True)
class Residence:
    """The pools' rates, hour by hour.

    Parameters
    ----------
    states, ends : names of stages of pools in the order of the matrices, and of places behind them.
    steps : shape (hours, 1 + states, states + ends): what becomes within the hour of the cane that
        comes in it (row 0, per tonne) and of what is in each state.
    comes : cane that comes in each hour [t]. held : in each state when each hour begins [t].
    """

    states: tuple[str, ...]
    ends: tuple[str, ...]
    steps: Array
    comes: Array
    held: Array

    def _end(self, end: str) -> int:
        if end not in self.ends:
            raise BadInput("no such place behind the pools", value=end,
                           allowed=", ".join(self.ends))  # fmt: skip
        return len(self.states) + self.ends.index(end)

    def forward(self, hour: int, end: str) -> Array:
        """Share of an hour's cane that arrives at a place in each hour, shape (hours,)."""
        place, inside, made = self._end(end), len(self.states), np.zeros(len(self.comes))
        row = self.steps[hour, 0]
        made[hour] = row[place]
        for later in range(hour + 1, len(self.comes)):
            row = row[:inside] @ self.steps[later, 1:]
            made[later] = row[place]
        return made

    def into(self, end: str, window: ArrayLike) -> Shares:
        """Whose cane arrived at a place.

        Parameters
        ----------
        window : share of each hour's arrivals that is meant, 0 to 1, shape (hours,): a lot's hours.

        Raises
        ------
        BadInput : nothing arrives there in the window.
        """
        (found,) = self.into_each(end, np.asarray(window, dtype=np.float64)[None, :])
        if found is None:
            raise BadInput("nothing arrives in these hours", where=end)
        return found

    def into_each(
        self, end: str, windows: ArrayLike, since: Sequence[int] | None = None
    ) -> list[Shares | None]:
        """The same of several windows, shape (windows, hours); None where nothing arrives.

        Parameters
        ----------
        since : the hour from which each is followed; what the pools held then is older.
        """
        place, inside = self._end(end), len(self.states)
        meant = np.asarray(windows, dtype=np.float64).T
        begins = np.zeros(meant.shape[1], dtype=int) if since is None else np.asarray(since)
        came, worth = np.zeros(meant.shape), np.zeros((inside, meant.shape[1]))
        older = np.zeros(meant.shape[1])
        for hour in range(len(self.comes) - 1, -1, -1):
            step = self.steps[hour]
            arrives = step[:, :inside] @ worth + step[:, [place]] * meant[hour]
            arrives[:, begins > hour] = 0.0
            came[hour], worth = self.comes[hour] * arrives[0], arrives[1:]
            older = np.where(begins == hour, self.held[hour] @ worth, older)
        whole = came.sum(axis=0) + older
        return [Shares(came[:, n] / total, float(older[n] / total), float(total))
                if total > 0.0 else None for n, total in enumerate(whole)]  # fmt: skip

    @cached_property
    def inside(self) -> Array:
        """What the rates leave in each state at the end of each hour [t], shape (hours, states)."""
        now, made = self.held[0], []
        for step, came in zip(self.steps, self.comes):
            now = (now @ step[1:] + came * step[0])[: len(self.states)]
            made.append(now)
        return np.array(made)


def residence(
    stocks: Mapping[str, ArrayLike], flows: Mapping[str, ArrayLike], joins: Sequence[Join],
    *, stages: int = 1,
) -> Residence:  # fmt: skip
    """How long sugar stays in pools.

    Parameters
    ----------
    stocks : t in each pool in each hour, shape (hours,) or one figure for all.
    flows : t that leave each pool in an hour, and the cane's own, which has no stock; so shaped.
    joins : (from, to, share): what share of what leaves `from` goes to `to`, a pool or a place
        behind them all; a figure, or one an hour. What no join takes is out of the trace.
    stages : in series that each pool is split into; 1 is mixed.

    Raises
    ------
    BadInput : a pool without flow or stock, a share or figure that cannot be, hours that differ.

    Examples
    --------
    Cane of 10 t/h through one pool of 20 t: of the sugar of hour 9, 0.21 came in that hour.

    >>> r = residence(
    ...     {"tank": 20.0},
    ...     {"cane": [10.0] * 10, "tank": 10.0},
    ...     [("cane", "tank", 1.0), ("tank", "sugar", 1.0)],
    ... )
    >>> shares = r.into("sugar", [0.0] * 9 + [1.0])
    >>> round(float(shares.by_hour[9]), 4), round(shares.older, 4)
    (0.2131, 0.0087)
    """
    if not 1 <= stages <= 50:
        raise BadInput("stages of a pool", value=stages, allowed="1 to 50")
    source, hours = _source(stocks, flows)
    figures = {f"{what} of {name}": _series(value, hours, f"{what} of {name}")
               for what, all_ in (("stock", stocks), ("flow", flows))
               for name, value in all_.items()}  # fmt: skip
    ends = tuple(dict.fromkeys(to for _, to, _ in joins if to not in stocks))
    states = [(pool, n) for pool in stocks for n in range(stages)]
    place = {(end, 0): len(states) + n for n, end in enumerate(ends)}
    place |= {state: n for n, state in enumerate(states)}
    size = len(states) + len(ends)
    rates, enters = np.zeros((hours, size, size)), np.zeros((hours, size))
    given: dict[str, Array | float] = dict.fromkeys([source, *stocks], 0.0)
    for begin, to, share in joins:
        part = _series(share, hours, f"join {begin} to {to}")
        if begin not in given:
            raise BadInput("a join from no pool", where=f"join {begin} to {to}", value=begin,
                           allowed=", ".join(given))  # fmt: skip
        given[begin] = given[begin] + part
        if np.any(given[begin] > 1.0 + 1e-9):
            raise BadInput("more than all leaves it", where=f"joins from {begin}",
                           value=float(np.max(given[begin])), allowed="0 to 1")  # fmt: skip
        if begin == source:
            enters[:, place[to, 0]] += part
        else:
            rates[:, place[begin, stages - 1], place[to, 0]] += part
    for pool in stocks:
        out, held = figures[f"flow of {pool}"], figures[f"stock of {pool}"]
        rate = np.minimum(stages * out / np.maximum(held, 1e-12), QUICK * stages)
        last = place[pool, stages - 1]
        rates[:, last] *= rate[:, None]
        rates[:, last, last] -= rate
        for n in range(stages - 1):
            one = place[pool, n]
            rates[:, one, one] -= rate
            rates[:, one, one + 1] += rate
    whole = np.zeros((hours, size + 1, size + 1))
    whole[:, 0, 1:], whole[:, 1:, 1:] = enters, rates
    steps = exponential(whole)[:, : 1 + len(states), 1:]
    held = np.repeat([figures[f"stock of {pool}"] / stages for pool in stocks], stages, axis=0).T
    names = tuple(pool if stages == 1 else f"{pool}, stage {n + 1}" for pool, n in states)
    return Residence(names, ends, steps, figures[f"flow of {source}"], held)


def exponential(matrices: Array) -> Array:
    """Exponential of each matrix, shape (n, m, m), by its series, halved and squared."""
    norm = float(np.abs(matrices).sum(axis=2).max(initial=0.0))
    halvings = max(int(np.ceil(np.log2(max(norm, 1e-300) / SMALL))), 0)
    small = matrices / 2.0**halvings
    made = np.broadcast_to(np.eye(matrices.shape[1]), matrices.shape).copy()
    for term in range(TERMS, 0, -1):
        made = small @ made / term
        made += np.eye(matrices.shape[1])
    for _ in range(halvings):
        made = made @ made
    return made


def _source(stocks: Mapping[str, ArrayLike], flows: Mapping[str, ArrayLike]) -> tuple[str, int]:
    """The one flow without a stock, and how many hours there are."""
    found = [name for name in flows if name not in stocks]
    if len(found) != 1:
        raise BadInput("one flow alone has no stock: the cane's", value=", ".join(found) or "none")
    for pool in stocks:
        if pool not in flows:
            raise BadInput("a pool without a flow", where=f"flow of {pool}")
    hours = max((np.size(v) for v in (*flows.values(), *stocks.values())), default=0)
    if not hours:
        raise BadInput("no hour", where="flows")
    return found[0], hours


def _series(value: ArrayLike, hours: int, where: str) -> Array:
    made = np.asarray(value, dtype=np.float64)
    if made.shape not in ((), (1,), (hours,)):
        raise BadInput("another number of hours", where=where, value=made.size, allowed=f"{hours}")
    if not np.all(np.isfinite(made)) or np.any(made < 0.0):
        raise BadInput("not a number from zero up", where=where,
                       value=float(made.min(initial=np.inf)))  # fmt: skip
    return np.array(np.broadcast_to(made, (hours,)))
