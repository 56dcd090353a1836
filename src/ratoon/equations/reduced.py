"""The same search by another solver: SciPy's SLSQP on what is free alone.

For each trial of the free quantities the equations are solved by Newton's method, and all slopes
come from the factors of that solve. Nothing limits the unknowns inside but what the search limits:
a share may pass below zero on the way.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ratoon.equations.compiled import Evaluator
from ratoon.equations.newton import newton
from ratoon.equations.prices import Best, Multipliers, NoneFound
from ratoon.equations.sparsity import sparse_order
from ratoon.equations.structure import LAST, squared, told_after

if TYPE_CHECKING:
    from ratoon.equations.problem import Limits, Problem, Question

Floats = NDArray[np.float64]
WIDE = 1e19
MOST_AFTER = 5  # steps for what is told after
SOLVED = 1e-9  # largest scaled residual of a trial
MOST_STEPS, MOST_STARTS = 200, 30
BALANCED = 1e-6  # of the aim's slope, left over by the limits of a best state
AT = 1e-6  # of the scale: nearer to a limit than this is at it


class _Lost(Exception):
    """A trial of what is free at which the equations have no answer."""


class Reduced:
    """A search for the best in what is free alone.

    Parameters
    ----------
    search : the search. free : names of what is free, variables or reports.

    Notes
    -----
    Method: sequential quadratic programming (Kraft's SLSQP in SciPy). Where the equations leave
    more free than `free` names, the unknowns that move most with nothing else moved are free too.
    """

    def __init__(self, search: Problem, free: Collection[str]) -> None:
        import casadi

        problem = search.problem
        self.search, self.trial = search, Trial
        self._count = problem["x"].numel()
        self._all = Evaluator("reduced", casadi.vertcat(problem["x"], problem["p"]),
                              casadi.vertcat(problem["f"], problem["g"]))  # fmt: skip
        self.free = search.places(free)
        self.square: tuple[list[int], list[int]] | None = None

    def best(
        self,
        given: Mapping[str, float],
        limits: Limits,
        start: Mapping[str, float] | Best | None = None,
        numbers: Mapping[str, float] | None = None,
    ) -> Best:
        """The best state; parameters and errors as of `Search.best`."""
        with self.search.equations.lock:
            begun = time.perf_counter()
            values = start.values if isinstance(start, Best) else start
            question = self.search.question(given, limits, values, numbers or {})
            return self.trial(self, question).best(limits, begun)

    def evaluated(self, u: Floats, parameters: Floats) -> tuple[Floats, Any]:
        """The aim to be least, then the rows, and their slopes (CSR) by the unknowns."""
        value, slopes = self._all.value_and_slopes(np.concatenate([u, parameters]))
        return value, self._all.matrix(slopes)[:, : self._count].tocsr()

    def values(self, u: Floats, parameters: Floats) -> Floats:
        """The aim to be least, then the rows."""
        return self._all.value(np.concatenate([u, parameters]))


class Trial:
    """One question: what is held, what is free, and the last trials solved."""

    def __init__(self, reduced: Reduced, question: Question) -> None:
        from scipy.sparse import identity

        self.reduced, self.question = reduced, question
        q, held = question, reduced.search.held_rows
        self._unit = identity(len(q.begin), format="csr")
        free_columns, free_rows = reduced.free
        slopes = reduced.evaluated(q.begin, q.parameters)[1]
        if reduced.square is None:
            asked = _stacked(slopes[1:][[*held, *free_rows]], self._unit[free_columns])
            pairs = slopes[1:][reduced.search.opened_rows]
            reduced.square = squared(asked, len(held), np.unique(pairs.nonzero()[1]))
        own, loose = reduced.square
        held = [held[k] for k in own if k < len(held)]
        self._wanted, self._asked_rows = q.rows_low[held], [*held, *free_rows]
        self.columns = [*free_columns, *loose]
        self._counts = np.ones(len(q.begin))
        kept = {*self.columns, *reduced.search.limited_columns}
        self._counts[told_after(slopes, held, kept)] = LAST
        self._order = np.arange(len(q.begin))
        self._order = sparse_order(self._matrix(slopes))
        self.low = np.concatenate([q.rows_low[free_rows], q.low[self.columns]])
        self.high = np.concatenate([q.rows_high[free_rows], q.high[self.columns]])
        beside = {*reduced.search.held_rows, *free_rows}
        self._limited_rows = [k for k in range(len(q.rows_low)) if k not in beside]
        self.watched = [k for k in reduced.search.limited_columns if k not in self.columns]
        self._u = q.begin
        self._last: tuple[Floats, Floats, Floats] | None = None
        self._held: tuple[Floats, Floats] | None = None
        self._sloped: tuple[Floats, tuple[Floats, Floats]] | None = None

    def best(self, limits: Limits, begun: float) -> Best:
        """The best from the question's start.

        Where that loses the equations on the way, it goes on by parts from the last point that
        held; at the end nothing but the question's own ends holds it.
        """
        q, steps, why = self.question, 0, ""
        value = self.reduced.values(q.begin, q.parameters)
        day = at = self._asked(value, q.begin)[len(self._wanted) :]
        ends, part = (self.low, self.high), 1.0
        for _ in range(MOST_STARTS):
            self.low, self.high = (np.clip(e, at - part, at + part) for e in ends)
            if part == 1.0:
                self.low, self.high = ends
            try:
                found = self.minimised(np.clip(at, self.low, self.high))
                u, value = self.solved(found.x)
            except _Lost:  # go on from the last point that holds, less far at a time
                why, part = "the equations have no answer on the way", part / 4.0
                at, self._u = self._held or (day, q.begin)
                continue
            steps += int(found.nit)
            at, why = found.x, str(found.message).lower()
            if part < 1.0:
                part = min(2.0 * part, 1.0)
                continue
            past = np.flatnonzero((u < q.low - AT) | (u > q.high + AT))
            if len(past):  # at the end of its table: limited from here on
                self.watched = sorted({*self.watched, *past.tolist()})
                at = day
                continue
            prices, off = self.prices(found.x)
            if found.success or off < BALANCED:
                return self.reduced.search.told(limits, q, u, value[1:], prices, steps, begun)
        raise NoneFound(f"no best state was found near the start ({why})",
                        todo="Widen a limit, or begin elsewhere.")  # fmt: skip

    def minimised(self, start: Floats) -> Any:
        from scipy.optimize import minimize

        return minimize(
            lambda d: self.solved(d)[1][0], start, jac=lambda d: self.slopes(d)[0][0],
            method="SLSQP", bounds=list(zip(self.low, self.high, strict=True)),
            constraints={"type": "ineq", "fun": self.room, "jac": self._room_slopes},
            options={"ftol": 1e-11, "maxiter": MOST_STEPS},
        )  # fmt: skip

    def solved(self, d: Floats) -> tuple[Floats, Floats]:
        """Unknowns, then aim and rows, where what is free stands at `d`."""
        if self._last is None or not np.array_equal(self._last[0], d):
            u, value = self.state_at(d)
            self._last = d.copy(), u, value
            self._u = u
        return self._last[1], self._last[2]

    def state_at(self, d: Floats) -> tuple[Floats, Floats]:
        from scipy.sparse.linalg import splu

        q, reduced = self.question, self.reduced
        want: Floats = np.concatenate([self._wanted, d])

        def residual(u: Floats) -> Floats:
            off = self._asked(reduced.values(u, q.parameters), u) - want
            return np.asarray(off * self._counts)

        def both(u: Floats) -> tuple[Floats, Any]:
            value, slopes = reduced.evaluated(u, q.parameters)
            return (self._asked(value, u) - want) * self._counts, self._matrix(slopes)

        endless = np.full(len(self._u), np.inf)
        with np.errstate(all="ignore"):
            u, size, _ = newton(both, residual, self._u, -endless, endless, self._order)
            for _ in range(MOST_AFTER):  # what is told after follows in whole steps
                if not size < SOLVED or np.abs(residual(u) / self._counts).max() < SOLVED:
                    break
                value, matrix = both(u)
                u[self._order] -= splu(matrix, permc_spec="NATURAL").solve(value)
        if not np.abs(residual(u) / self._counts).max() < SOLVED:
            raise _Lost
        return u, reduced.values(u, q.parameters)

    def _asked(self, value: Floats, u: Floats) -> Floats:
        """What a trial holds: equations, reports given, and what is free."""
        held: Floats = np.concatenate([value[1:][self._asked_rows], u[self.columns]])
        return held

    def _matrix(self, slopes: Any) -> Any:
        """Slopes of the same by the unknowns, these in the order that keeps factors sparse."""
        from scipy.sparse import diags

        asked = _stacked(slopes[1:][self._asked_rows], self._unit[self.columns])
        return (diags(self._counts) @ asked.tocsc()[:, self._order]).tocsc()

    def slopes(self, d: Floats) -> tuple[Floats, Floats]:
        """Slopes by what is free: of the aim and the rows, and of the unknowns."""
        u, _ = self.solved(d)
        if self._sloped is None or self._sloped[0] is not u:
            from scipy.sparse.linalg import splu

            slopes = self.reduced.evaluated(u, self.question.parameters)[1]
            factors = splu(self._matrix(slopes), permc_spec="NATURAL")
            one = np.zeros((len(u), len(d)))
            one[len(u) - len(d) :] = np.eye(len(d))
            moved = np.empty_like(one)
            moved[self._order] = factors.solve(one)
            self._held = d.copy(), u
            self._sloped = u, (slopes @ moved, moved)
        return self._sloped[1]

    def _ends(self, u: Floats, g: Floats) -> tuple[Floats, Floats, Floats]:
        """Values and ends of all that is limited but not itself a free quantity."""
        q, w, r = self.question, self.watched, self._limited_rows
        return (np.concatenate([u[w], g[r]]), np.concatenate([q.low[w], q.rows_low[r]]),
                np.concatenate([q.high[w], q.rows_high[r]]))  # fmt: skip

    def room(self, d: Floats) -> Floats:
        """How far all that is limited is inside its ends."""
        u, value = self.solved(d)
        at, low, high = self._ends(u, value[1:])
        return np.concatenate([(at - low)[low > -WIDE], (high - at)[high < WIDE]])

    def _room_slopes(self, d: Floats) -> Floats:
        u, value = self.solved(d)
        _, low, high = self._ends(u, value[1:])
        told, moved = self.slopes(d)
        by = np.concatenate([moved[self.watched], told[1:][self._limited_rows]])
        return np.concatenate([by[low > -WIDE], -by[high < WIDE]])

    def prices(self, d: Floats) -> tuple[Multipliers, float]:
        """Multipliers of unknowns and rows, of the sign that an interior-point solver gives.

        The slope of the aim is put together from those of the limits at which the state stands;
        last comes the share of it that these leave over.
        """
        from scipy.optimize import nnls

        q, (u, value) = self.question, self.solved(d)
        told, moved = self.slopes(d)
        of_unknowns, of_rows = np.zeros(len(u)), np.zeros(len(value) - 1)
        at: list[tuple[Floats, int, float, Floats]] = []
        for state, low, high, by, prices in (
            (u, q.low, q.high, moved, of_unknowns),
            (value[1:], q.rows_low, q.rows_high, told[1:], of_rows),
        ):
            for sign, gap in ((-1.0, state - low), (1.0, high - state)):
                at += [(prices, int(k), sign, by[k]) for k in np.flatnonzero(gap < AT)
                       if low[k] < high[k]]  # fmt: skip
        off = float(np.linalg.norm(told[0]))
        size = 1.0 + off
        if at:
            weights, off = nnls(np.array([-sign * by for _, _, sign, by in at]).T, told[0])
            for (prices, k, sign, _), weight in zip(at, weights, strict=True):
                prices[k] += sign * weight
        return (of_unknowns, of_rows), float(off) / size


def _stacked(*rows: Any) -> Any:
    from scipy.sparse import vstack

    return vstack(rows, format="csr")
