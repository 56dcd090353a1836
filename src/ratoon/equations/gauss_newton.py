"""Reconciliation: weighted least squares under the equations, by Gauss-Newton.

Each step solves the augmented system

    [ I   H   0  ] [ r      ]   [ y - h(z) ]
    [ H'  0   A' ] [ dz     ] = [ 0        ]
    [ 0   A   0  ] [ lambda ]   [ -g(z)    ]

with H = dh/dz of the readings and A = dg/dz of the equations; readings are whitened by the
Cholesky factor of their covariance, so that an instrument's common error binds all its readings.
It never squares H, and its solution for unit right-hand sides is the sensitivity of every figure
to every reading: the covariance of everything is that matrix times its transpose.

Directions that neither an equation nor a reading determines are found by a pivoted orthogonal
factorisation (relative 1e-8) and held where they are; a figure that leans on one of them is "not
determined". A sparse LU alone gives such a case a large sigma in silence.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved
from ratoon.equations.augmented import Augmented, Factors
from ratoon.equations.nullspace import all_lean, null_space
from ratoon.equations.steps import AT_LIMIT, Filter, Past, largest, within
from ratoon.equations.weights import Problem

Floats = NDArray[np.float64]
MOST_STEPS = 60
LAST_STEPS = 300  # where the steps have become short: a bent equation slows them
SHORT = 0.1  # of a column's scale: such a step
ROBUST_ROUNDS = 30
HOLDINGS = 8  # times that other columns are held; two are rare
LEAN = 1e-6  # of a direction that nothing determines: a column that moves along it
RAN = 5.0  # times its usual size, or one part in so many: farther than works go
CLOSE = 1e-8  # of a column's scale: a smaller step ends the account
ROUND_CLOSE = 1e-4  # the same for a round of robust weights, which the next round moves again
NEAR = 0.5  # of a column's scale: after so short a step the factors at hand serve for the next
COASTS = 20  # steps with the same factors: half as many are rare
WORSE = 2.0  # times as long as the shortest: such a step ends them
TOGETHER = 32  # right-hand sides solved for at once: more do not stay near the processor
HUBER = 1.345  # 95 % efficiency on normal errors, a standard choice


class Solver:
    """Steps and sensitivities of one problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.compiled = problem.equations.compiled("account")
        self.augmented = Augmented(problem, self.compiled.residuals)
        self.weights = np.ones(len(problem.readings))
        self._last: tuple[Factors, Floats] | None = None
        self.held: NDArray[np.int64] = np.zeros(0, dtype=np.int64)
        self._basis: Floats = np.zeros((len(problem.free), 0))
        self.pressed: NDArray[np.bool_] = np.zeros(len(problem.free), dtype=bool)

    def evaluate(self, z: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Equations, their slopes, what would be read, and its whitened and weighted slopes."""
        with np.errstate(all="ignore"):
            g, a, modelled, h = self.augmented.evaluate(z)
        return g, a, modelled, h * self.weights[self.augmented.h_rows]

    def values(self, z: Floats) -> tuple[Floats, Floats]:
        """Equations and readings at z."""
        p = self.problem
        modelled = np.array(z[np.where(p.is_report, 0, p.index)])
        if p.is_report.any():
            reports = p.equations.reported.value(z)
            modelled[p.is_report] = reports[p.index[p.is_report]]
        return self.compiled.residuals.value(z), modelled

    def whiten(self, values: Floats) -> Floats:
        """L^-1 times the values, times the robust weights."""
        return np.asarray(self.weights * (self.problem.sparse_whitener @ values))

    @property
    def kept(self) -> NDArray[np.int64]:
        stays = np.ones(len(self.problem.free), dtype=bool)
        stays[self.held] = False
        return np.flatnonzero(stays)

    def run(self, z: Floats, robust: bool) -> tuple[Floats, int]:
        """Iterate from z; what nothing determines is held where it is."""
        last = self.weights
        z, steps = self._iterate(z)
        z, more = self._let_go(z)
        steps += more
        for _ in range(ROBUST_ROUNDS if robust else 0):
            modelled = self.evaluate(z)[2]
            self.weights = np.ones(len(self.problem.readings))
            residual = np.abs(self.whiten(self.problem.values - modelled))
            new = np.sqrt(np.where(residual > HUBER, HUBER / np.maximum(residual, 1e-12), 1.0))
            moved = float(np.max(np.abs(new - last), initial=0.0))
            self.weights = last = new
            if moved < 1e-3:
                break
            z, more = self._iterate(z, ROUND_CLOSE)
            steps += more
        if robust:
            z, more = self._iterate(z)
            steps += more
        return z, steps

    def _let_go(self, z: Floats) -> tuple[Floats, int]:
        """Go on from an answer at which other columns need be held than where it began.

        A column held there without need keeps the readings from being met: a false answer, which
        few readings, and they alone, may reach; and a sure one: what is held has no uncertainty.
        """
        steps = 0
        for _ in range(HOLDINGS):
            if not self.held.size:
                break
            basis, held = self._basis, self.held
            self.find_null(z)
            fewer = len(self.held) < len(held)
            if not fewer and (len(self.held) > len(held) or all_lean(self._basis, held)):
                self._basis, self.held = basis, held
                break
            try:
                z, more = self._iterate(z)
            except NotSolved:
                # What nothing determines bends: the readings are met where it was held before.
                self._basis, self.held = basis, held
                break
            steps += more
        return z, steps

    def _iterate(self, z: Floats, close: float = CLOSE) -> tuple[Floats, int]:
        p = self.problem
        low, high = (limit[p.free] / p.scale for limit in p.equations.account_limits)
        z = z.copy()
        tried, damping, before = Filter(), 0.0, np.inf
        for steps in range(1, LAST_STEPS + 1):
            g, a, modelled, h = self.evaluate(z)
            if not (np.all(np.isfinite(g)) and np.all(np.isfinite(modelled))):
                raise NotSolved("the account ran out of the range of its equations",
                                todo="Check readings far from their usual size.")  # fmt: skip
            u = z[p.free] / p.scale
            white = self.whiten(p.values - modelled)
            tried.add(g, white)
            while True:
                step = self._step(a, h, white, g, u, low, high, damping)
                moved, off = largest(step), largest(g)
                part = self._accepted(z, u, step, low, high, tried)
                if part or moved < 1e-8:
                    break
                # Nothing along this step is better: shorten it where little is known.
                damping = max(10.0 * damping, 1e-2)
                if damping > 1e6:
                    raise self._no_answer(z)
            z[p.free] = within(u, part * step, low, high) * p.scale
            if moved < close and (off < 0.1 * close or max(before, off) < close):
                return z, steps
            before = moved
            if part == 1.0 and not damping and moved < NEAR:
                before = self._coast(z, moved, low, high, close)
            if steps > 12 and moved < 1e-6 and off < 1e-8:
                return z, steps
            if steps >= MOST_STEPS and moved > SHORT:
                break
            damping = 0.1 * damping if part == 1.0 and damping > 1e-3 else damping * (part < 1.0)
        raise self._no_answer(z)

    def _step(
        self, a: Floats, h: Floats, white: Floats, g: Floats, u: Floats, low: Floats, high: Floats,
        damping: float,
    ) -> Floats:  # fmt: skip
        """One step; a variable at its limit that wants to pass is held there."""
        keep, step = self.kept, np.zeros(len(u))
        self.pressed = np.zeros(len(u), dtype=bool)
        for attempt in range(4):
            right = np.concatenate([white, np.zeros(len(keep)), -g])
            try:
                factors = self.augmented.factors(a, h, keep, damping)
            except RuntimeError:
                if attempt:
                    # Without the variables at their limits the equations cannot hold.
                    break
                held, (self._basis, self.held) = (
                    self.held,
                    null_space(*self.augmented.matrices(a, h)),
                )
                if not np.array_equal(held, self.held):
                    # Another column than where it began is what nothing determines here.
                    return self._step(a, h, white, g, u, low, high, damping)
                raise NotSolved(
                    "the equations contradict one another or repeat one another",
                    todo="Check the mill's description for a recycle that cannot close.",
                ) from None
            step = np.zeros(len(u))
            step[keep], multipliers = factors.solve(right)
            self._last = factors, multipliers
            passing = ((u - low < AT_LIMIT) & (step < 0)) | ((high - u < AT_LIMIT) & (step > 0))
            if not passing.any() or np.abs(step[passing]).max() < 1e-9:
                break
            keep = keep[~passing[keep]]
            self.pressed |= passing
            step[passing] = 0.0
        return step

    def _coast(self, z: Floats, moved: float, low: Floats, high: Floats, close: float) -> float:
        """Go on from z with the factors at hand, each step at a quarter of the cost.

        The slopes on the right are those at z: where it ends no other place has a say.

        Returns
        -------
        The least step; z is where that one led, or as it was where none is shorter than `moved`.
        """
        p = self.problem
        assert self._last is not None
        factors, multipliers = self._last
        count, at, past = len(factors.keep), z.copy(), Past()
        for _ in range(COASTS):
            g, a, modelled, h = self.evaluate(at)
            white, u = self.whiten(p.values - modelled), at[p.free] / p.scale
            off = self.augmented.turned(a, h, white, multipliers)[factors.keep]
            right = np.concatenate([np.zeros(len(white)), -off, -g])
            if not np.all(np.isfinite(right)):
                break
            step = np.concatenate(factors.solve(right))
            size = largest(step[:count])
            if size > WORSE * moved:
                break
            step = past.foreseen(np.concatenate([u[factors.keep], multipliers]), step, count)
            u[factors.keep] += step[:count]
            if ((u < low) | (u > high)).any():
                break
            at[p.free], multipliers = u * p.scale, multipliers + step[count:]
            if size < moved:
                z[:], moved = at, size
            if size < close:
                break
        return moved

    def _accepted(
        self, z: Floats, u: Floats, step: Floats, low: Floats, high: Floats, tried: Filter
    ) -> float:
        """Longest part of a step (1, 1/2 ... 1/64) that is an improvement; 0 when none is."""
        p = self.problem
        trial = z.copy()
        for halvings in range(7):
            part = 0.5**halvings
            trial[p.free] = within(u, part * step, low, high) * p.scale
            with np.errstate(all="ignore"):
                g, modelled = self.values(trial)
            finite = bool(np.all(np.isfinite(g)) and np.all(np.isfinite(modelled)))
            white = self.whiten(p.values - modelled)
            if finite and tried.takes(g, white):
                return part
        return 0.0

    def _no_answer(self, z: Floats) -> NotSolved:
        p = self.problem
        g, _, modelled, _ = self.evaluate(z)
        order = np.argsort(-np.abs(g))[:3]
        names = ", ".join(f"{self.compiled.names[i]} ({g[i]:+.2g})" for i in order)
        far = np.abs(self.whiten(p.values - modelled))
        order = np.argsort(-far)[:3]
        read = ", ".join(p.readings[i].address for i in order)
        return NotSolved(f"the account found no answer; worst equations: {names}; readings "
                         f"farthest from it: {read}", todo="Check those readings.")  # fmt: skip

    def find_null(self, z: Floats) -> frozenset[str]:
        """Find the columns to hold, by pivoted orthogonal factorisation; and all that are open."""
        _, a, _, h = self.evaluate(z)
        if not (np.isfinite(a).all() and np.isfinite(h).all()):
            raise NotSolved("the equations have no slopes where the account would begin")
        self._basis, self.held = null_space(*self.augmented.matrices(a, h))
        along = np.abs(self._basis).max(axis=1, initial=0.0)
        names = list(self.problem.equations.variables)
        return frozenset(names[j] for j in self.problem.free[along > LEAN])

    def null_space(self, z: Floats) -> Floats:
        """Directions of the scaled columns that nothing determines (n x k)."""
        if not len(self.held):
            return self._basis
        _, a, _, h = self.evaluate(z)
        basis, _ = null_space(*self.augmented.matrices(a, h))
        return basis if basis.shape[1] >= len(self.held) else self._basis

    def sensitivity(self, z: Floats) -> Floats:
        """d(scaled columns)/d(whitened readings), n x readings."""
        p = self.problem
        nr = len(p.readings)
        _, a, _, h = self.evaluate(z)
        factors = self.augmented.factors(a, h, self.kept, 0.0)
        out = np.zeros((len(p.free), nr))
        for k in range(0, nr, TOGETHER):
            count = min(TOGETHER, nr - k)
            right = np.zeros((len(factors.place), count), order="F")
            np.fill_diagonal(right[k:], 1.0)
            out[factors.keep, k : k + count] = factors.solve(right)[0]
        return out
