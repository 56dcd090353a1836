"""Readings that are far off before any account is found: by the equations, by size, exchanged.

One reading that cannot be may leave a period without an answer, or bend it so far that what the
tests say there is of no use. So the readings are looked at from a state at which the equations
hold, to first order, with their uncertainties widened: a period lies off that state, and the
equations bend. What is named is only left out at first; the account that is found decides.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ratoon.base.records import Reading
from ratoon.equations.gauss_newton import RAN, Solver
from ratoon.equations.reconciled import Reconciled
from ratoon.equations.records import Suspect
from ratoon.equations.table import Table
from ratoon.equations.weights import Problem, set_up

Floats = NDArray[np.float64]
WIDE = 5.0
"""Times its stated uncertainty that a reading may be off to first order."""
CLOSER = 5.0
"""Times closer to what is usual from which two readings count as exchanged."""


def first_look(
    equations: Table,
    readings: Iterable[Reading],
    start: Mapping[str, float],
    constants: Mapping[str, float] | None,
) -> tuple[Suspect, ...]:
    """See `Equations.first_look`."""
    begun = time.perf_counter()
    wide = [replace(r, sigma=WIDE * float(np.hypot(r.sigma, r.common)), common=0.0)
            for r in readings if r.sigma]  # fmt: skip
    problem = set_up(equations, wide, start, constants, None)
    solver, z = Solver(problem), problem.base
    solver.find_null(z)
    answer = Reconciled(problem, z, solver.sensitivity(z), solver.null_space(z), 0, (), begun,
                        solver.weights)  # fmt: skip
    tests, usual = answer.tests, answer.adjusted_
    answer.white_residuals = tests.projection @ answer.white_residuals
    tests.d = answer.factor_inverse.T @ answer.white_residuals
    found = {s.address: s for s in tests.eliminate()}
    names = [r.address for r in problem.readings]
    for j, k in _exchanged(problem, usual):
        for one, other in ((j, k), (k, j)):
            found[names[one]] = _by_size(problem, usual, one, (names[other],))
    for j in _strange(problem, usual):
        found.setdefault(names[j], _by_size(problem, usual, j))
    return tuple(found.values())


def _by_size(problem: Problem, usual: Floats, j: int, with_: tuple[str, ...] = ()) -> Suspect:
    """A reading named for its size alone, and what it was exchanged with."""
    off = float(problem.values[j] - usual[j])
    each = tuple((float(np.copysign(np.inf, off)), off) for _ in with_)
    address, endless = problem.readings[j].address, float(np.copysign(np.inf, off))
    return Suspect(address, endless, off, with_, np.inf, np.inf, each=each)


def _strange(problem: Problem, usual: Floats) -> Iterator[int]:
    """Readings many times what is usual, or of another sign: what no other checks, too."""
    with np.errstate(all="ignore"):
        times = problem.values / usual
    for j in np.flatnonzero(usual):
        if problem.readings[j].kind == "measured" and not 1.0 / RAN < times[j] < RAN:
            yield int(j)


def _exchanged(problem: Problem, usual: Floats) -> Iterator[tuple[int, int]]:
    """Pairs of readings in one unit of which each is far nearer to what is usual of the other."""
    y, sigma = problem.values, np.diag(problem.factor)
    unit = [problem.equations.unit_of(r.address) for r in problem.readings]
    off = np.abs(y - usual)
    measured = [j for j in np.flatnonzero(off > sigma) if problem.readings[j].kind == "measured"]
    for a, b in combinations(measured, 2):
        changed = abs(y[a] - usual[b]) + abs(y[b] - usual[a])
        if unit[a] == unit[b] and off[a] + off[b] > CLOSER * changed:
            yield int(a), int(b)
