"""A linear programme as tables: blocks of variables, and blocks of rows over them.

A block of variables is an array of their numbers, so a row says which part of a block it adds up
by slicing, and no number of a variable is ever worked out by hand.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ratoon.base.errors import RatoonError

Ids = NDArray[np.intp]
Array = NDArray[np.float64]
Term = tuple[ArrayLike, Ids]
TOUCHES = 1e-6
"""How near to its bound a row must be to touch it, against the bound's own size."""


class Program:
    """Variables with what each earns, rows with least and most; the most money is sought."""

    def __init__(self) -> None:
        self._money: list[Array] = []
        self._most: list[Array] = []
        self._low: list[Array] = []
        self._high: list[Array] = []
        self._parts: list[tuple[Ids, Ids, Array]] = []
        self.columns = self.rows = 0

    def variables(self, *shape: int, money: ArrayLike = 0.0, most: ArrayLike = np.inf) -> Ids:
        """A block of variables from zero up; the numbers of its variables in that shape."""
        ids = np.arange(self.columns, self.columns + int(np.prod(shape))).reshape(shape)
        self.columns += ids.size
        for kept, value in ((self._money, money), (self._most, most)):
            kept.append(np.broadcast_to(np.asarray(value, float), shape).ravel())
        return ids

    def add(
        self, terms: Iterable[Term], *, least: ArrayLike = -np.inf, most: ArrayLike = np.inf
    ) -> Ids:
        """A row for each entry of the terms' first axis, which sums over the others.

        Each term is (factor, variables); the factor is of the variables' shape or stretches to it.
        """
        listed = [(np.asarray(f, float), v) for f, v in terms]
        count = len(listed[0][1])
        ids = np.arange(self.rows, self.rows + count)
        self.rows += count
        for factor, which in listed:
            each = np.broadcast_to(factor, which.shape)
            row = np.broadcast_to(ids.reshape(-1, *[1] * (which.ndim - 1)), which.shape)
            self._parts.append((row.ravel(), which.ravel(), each.ravel()))
        for kept, value in ((self._low, least), (self._high, most)):
            kept.append(np.broadcast_to(np.asarray(value, float), (count,)))
        return ids

    def solved(self) -> Solved | None:
        """The best values; None where no values keep all rows.

        Raises
        ------
        RatoonError : the solver found neither values nor that there are none.
        """
        from scipy.optimize import linprog
        from scipy.sparse import csr_array, vstack

        rows, columns, values = (np.concatenate(x) for x in zip(*self._parts, strict=True))
        matrix = csr_array((values, (rows, columns)), shape=(self.rows, self.columns))
        low, high = np.concatenate(self._low), np.concatenate(self._high)
        money, most = np.concatenate(self._money), np.concatenate(self._most)
        live, same = most > 0.0, low == high
        if not live.any():  # nothing can move: the rows hold as they are, or never
            kept = bool(np.all(low <= 0.0) and np.all(high >= 0.0))
            nothing = np.zeros(self.columns)
            return Solved(0.0, nothing, matrix @ nothing, low, high) if kept else None
        above, below = ~same & np.isfinite(low), ~same & np.isfinite(high)
        used = matrix[:, live]
        found = linprog(-money[live], vstack([used[below], -used[above]]),
                        np.concatenate([high[below], -low[above]]), used[same], low[same],
                        np.stack([np.zeros(int(live.sum())), most[live]], axis=1),
                        method="highs-ipm")  # fmt: skip
        if found.status == 2:
            return None
        if found.status != 0:
            raise RatoonError(f"the year was not solved: {found.message}", where="refinery",
                              todo="Look for figures of wrong size in the case.")  # fmt: skip
        best = np.zeros(self.columns)
        best[live] = np.maximum(found.x, 0.0)
        return Solved(float(money @ best), best, matrix @ best, low, high)


class Solved:
    """Values of a programme: `money` earned, the variables, the rows and whether they touch."""

    def __init__(self, money: float, values: Array, rows: Array, low: Array, high: Array) -> None:
        self.money, self._values = money, values
        self._touches = np.zeros(len(rows), bool)
        for bound in (low, high):
            stated = np.where(np.isfinite(bound), bound, np.nan)
            self._touches |= np.abs(rows - stated) <= TOUCHES * np.maximum(1.0, np.abs(stated))

    def of(self, ids: Ids) -> Array:
        """The values of a block."""
        return self._values[ids]

    def touched(self, rows: Ids) -> NDArray[np.bool_]:
        """Which of the rows are at one of their bounds."""
        return self._touches[rows]
