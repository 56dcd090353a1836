"""Which state is best, as a problem that a solver takes: unknowns, rows, limits and prices.

It is compiled once for what is free and what is limited; what is fixed, and where the limits stand,
come with each call. Where a control law is a pair made by `either`, it may be opened: then neither
side may be below zero, and which of them is zero is for the search to find.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.symbol import plain
from ratoon.equations.prices import Best, Multipliers, NoneFound, Price, Side
from ratoon.equations.records import Eq
from ratoon.equations.symbols import scalar
from ratoon.equations.table import Table

Floats = NDArray[np.float64]
Limits = Mapping[str, tuple[float, float]]
Aim = Callable[[Mapping[str, Any], Mapping[str, Any]], Any]
"""From the symbols of the quantities and of further numbers to an expression."""

HOLDS = 1e-7  # largest scaled residual of an equation in an answer
BREACH = 1e-6  # furthest past a limit, of its scale
WIDE = 1e19  # the solver's infinity
AT = 1e-6  # of the scale: nearer to a limit than this is at it


@dataclass(frozen=True, slots=True)
class Question:
    """Where a search begins, its parameters, and the ends of its scaled unknowns and rows."""

    begin: Floats
    parameters: Floats
    low: Floats
    high: Floats
    rows_low: Floats
    rows_high: Floats


class Problem:
    """What is asked of a set of equations when the best state is sought.

    Parameters
    ----------
    equations : the set. aim : what is to be at its most, about size one.
    given : names that are fixed; constants and assumed variables are, if they are not free.
    free : variables and reports to be chosen that a solve would be given.
    limited : variables and reports whose limits are stated with each call.
    opened : names of equations made by `either` whose two sides become limits.
    numbers : names of further numbers in the aim, whose values come with each call.

    Raises
    ------
    UnknownName, BadInput : an unknown name, or one that is fixed and free at once.
    """

    def __init__(
        self,
        equations: Table,
        aim: Aim,
        *,
        given: Collection[str] = (),
        free: Collection[str] = (),
        limited: Collection[str] = (),
        opened: Collection[str] = (),
        numbers: Collection[str] = (),
    ) -> None:
        for name in (*given, *free, *limited):
            equations.known(name)
        for name in free:
            if name in given:
                raise BadInput("cannot be free and given", where=name)
        self.equations = equations
        rows, pairs = _rows(equations, opened)
        # A report that is given is one that is limited to a single value.
        self.reports = [n for n in dict.fromkeys((*given, *limited)) if n in equations.reports]
        self._given_reports = sum(n in given for n in self.reports)
        self._limited = [n for n in limited if n in equations.variables]
        self._number_names = tuple(numbers)
        self._unknown = self._unknowns(rows, pairs, frozenset(given), frozenset(free))
        self._scale: Floats = equations.scales[self._unknown]
        self._rows, self._pairs = len(rows), 2 * len(pairs)
        self._pair_names = [e.name for e in pairs]
        self.opened_rows = [*range(self._rows, self._rows + self._pairs)]
        self.problem, self._aim = self._compile(aim, rows, pairs)

    def _unknowns(
        self, rows: list[Eq], pairs: list[Eq], given: frozenset[str], free: frozenset[str]
    ) -> NDArray[np.int64]:
        """Columns that the search finds: free variables that stand in some row, and those freed."""
        import casadi

        equations = self.equations
        every = casadi.vertcat(
            *(plain(e.residual) for e in rows),
            *(plain(s) for e in pairs for s in e.sides or ()),
            *(plain(equations.reports[n].expression) for n in self.reports),
        )
        used = np.array(casadi.which_depends(every, equations.symbols.vector(), 1, False))
        return np.array([
            j for j, (name, var) in enumerate(equations.variables.items())
            if name in free or (var.kind == "free" and name not in given and used[j])
        ], dtype=np.int64)  # fmt: skip

    def _compile(self, aim: Aim, rows: list[Eq], pairs: list[Eq]) -> tuple[Any, Any]:
        """The problem in scaled unknowns, and the aim of all variables and numbers."""
        import casadi

        equations, symbols = self.equations, self.equations.symbols.vector()
        number = casadi.SX.sym("numbers", len(self._number_names))
        wanted = scalar(
            aim(equations.symbols, dict(zip(self._number_names, casadi.vertsplit(number)))), "aim"
        )
        told = [equations.reports[n] for n in self.reports]
        held = casadi.vertcat(*(scalar(e.residual, e.name) / e.scale for e in rows),
                              *(plain(s) for e in pairs for s in e.sides or ()),
                              *(scalar(r.expression, r.name) / r.scale for r in told))  # fmt: skip
        unknown = casadi.SX.sym("u", len(self._unknown))
        base = casadi.SX.sym("base", symbols.numel())
        whole = casadi.vertsplit(base)
        for k, j in enumerate(self._unknown):
            whole[j] = unknown[k] * float(equations.scales[j])
        least, limits = casadi.substitute([-wanted, held], [symbols], [casadi.vertcat(*whole)])
        problem = {"x": unknown, "p": casadi.vertcat(base, number),
                   "f": casadi.cse(least), "g": casadi.cse(limits)}  # fmt: skip
        return problem, casadi.Function("aim", [symbols, number], [wanted])

    def told(
        self, limits: Limits, q: Question, u: Floats, g: Floats, prices: Multipliers,
        steps: int, begun: float,
    ) -> Best:  # fmt: skip
        """An answer: scaled unknowns `u`, rows `g` and the multipliers of both, if it holds."""
        residual = float(np.abs(g[: self._rows]).max(initial=0.0))
        breach = float(max(_past(g[self._rows :], q.rows_low[self._rows :],
                                 q.rows_high[self._rows :]), _past(u, q.low, q.high)))  # fmt: skip
        if not (residual < HOLDS and breach < BREACH):
            none_found("its limits do not hold")
        count = len(self.equations.variables)
        base, extra = q.parameters[:count].copy(), q.parameters[count:]
        base[self._unknown] = u * self._scale
        sides = g[self._rows : self._rows + self._pairs].reshape(-1, 2).min(axis=1)
        return Best(
            self._named(base), float(self._aim(base, extra)),
            tuple(self._prices(limits, (u, q.low, q.high, prices[0]),
                               (g, q.rows_low, q.rows_high, prices[1]))),
            steps, residual, breach, time.perf_counter() - begun, prices,
            frozenset(n for n, least in zip(self._pair_names, sides) if least < AT),
        )  # fmt: skip

    def question(
        self, given: Mapping[str, float], limits: Limits, start: Mapping[str, float] | None,
        numbers: Mapping[str, float],
    ) -> Question:  # fmt: skip
        """What is asked, in scaled unknowns and rows."""
        begin, parameters, fixed = self.placed(given, start, numbers)
        low, high, rows_low, rows_high = self.bounds({**fixed, **limits})
        return Question(np.clip(begin, low, high), parameters, low, high, rows_low, rows_high)

    @property
    def held_rows(self) -> list[int]:
        """Rows of the equations, and of reports that are given."""
        first = self._rows + self._pairs
        return [*range(self._rows), *range(first, first + self._given_reports)]

    @property
    def limited_columns(self) -> list[int]:
        """Which unknowns may be limited with a call."""
        return self.places(self._limited)[0]

    def places(self, names: Iterable[str]) -> tuple[list[int], list[int]]:
        """Columns of the variables among names, where they are sought; rows of the reports."""
        column = {j: k for k, j in enumerate(self._unknown.tolist())}
        first, index = self._rows + self._pairs, self.equations.index
        return ([column[index[n]] for n in names if n in index and index[n] in column],
                [first + self.reports.index(n) for n in names if n in self.reports])  # fmt: skip

    def placed(
        self, given: Mapping[str, float], start: Mapping[str, float] | None,
        numbers: Mapping[str, float] | None,
    ) -> tuple[Floats, Floats, dict[str, tuple[float, float]]]:  # fmt: skip
        """Where the scaled unknowns begin, the parameters, and reports given, as limits."""
        equations, base = self.equations, self.equations.begin(start)
        fixed = {n: (v, v) for n, v in given.items() if n in equations.reports}
        for name, value in given.items():
            equations.known(name)
            if name not in fixed:
                base[equations.index[name]] = value
        parameters = np.concatenate([base, self.extra(numbers)])
        return base[self._unknown] / self._scale, parameters, fixed

    def extra(self, numbers: Mapping[str, float] | None) -> Floats:
        """The further numbers of the aim in their order; zero where there are none."""
        return np.array([float(numbers[n]) if numbers else 0.0 for n in self._number_names])

    @property
    def limited_reports(self) -> int:
        """How many of its reports are limited, not given; they come last among the rows."""
        return len(self.reports) - self._given_reports

    def limited_rows(self, unknown: Any, rows: Any) -> tuple[list[str], Any]:
        """Names of all that may be limited, and their scaled expressions."""
        import casadi

        column = {j: k for k, j in enumerate(self._unknown.tolist())}
        places = {n: column[self.equations.index[n]] for n in self._limited
                  if self.equations.index[n] in column}  # fmt: skip
        told = rows[rows.numel() - self.limited_reports :]
        return ([*self.reports[self._given_reports :], *places],
                casadi.vertcat(told, *(unknown[k] for k in places.values())))  # fmt: skip

    def scales_of(self, names: Iterable[str]) -> Floats:
        """The size by which each of what may be limited is scaled."""
        variables, reports = self.equations.variables, self.equations.reports
        return np.array([(variables[n] if n in variables else reports[n]).scale for n in names])

    def bounds(self, limits: Mapping[str, tuple[float, float]]) -> tuple[Floats, ...]:
        """Lowest and highest of the scaled unknowns and of the rows."""
        equations = self.equations
        lows, highs = equations.lows.copy(), equations.highs.copy()
        reports = dict.fromkeys(self.reports, (-np.inf, np.inf))
        for name, (low, high) in limits.items():
            if name not in reports and name not in self._limited:
                raise BadInput("is not among what this search limits", where=name)
            if not low <= high:
                raise BadInput(f"limits {low:g} to {high:g} are not a range", where=name)
            if name in reports:
                reports[name] = (low, high)
            else:
                j = equations.index[name]
                lows[j], highs[j] = max(lows[j], low), min(highs[j], high)
        scales = np.array([equations.reports[n].scale for n in self.reports])
        told = np.array(list(reports.values()), dtype=float).reshape(-1, 2)
        zero, endless = np.zeros(self._rows + self._pairs), np.full(self._pairs, np.inf)
        bounds = (
            lows[self._unknown] / self._scale,
            highs[self._unknown] / self._scale,
            np.concatenate([zero, told[:, 0] / scales]),
            np.concatenate([zero[: self._rows], endless, told[:, 1] / scales]),
        )
        return tuple(np.clip(b, -WIDE, WIDE) for b in bounds)

    def _named(self, z: Floats) -> dict[str, float]:
        with np.errstate(all="ignore"):
            told = self.equations.reported.value(z)
        values = dict(zip(self.equations.variables, z.tolist()))
        values.update(
            (n, v) for n, v in zip(self.equations.reports, told.tolist()) if np.isfinite(v)
        )
        return values

    def _prices(
        self, limits: Mapping[str, tuple[float, float]], of_unknowns: tuple[Floats, ...],
        of_rows: tuple[Floats, ...],
    ) -> Iterable[Price]:  # fmt: skip
        """Limits at which the state stands, with what loosening each by one inside unit gains."""
        names = list(self.equations.variables)
        first = self._rows + self._pairs
        places = [(names[j], k, self._scale[k], of_unknowns) for k, j in enumerate(self._unknown)]
        places += [(n, first + k, self.equations.reports[n].scale, of_rows)
                   for k, n in enumerate(self.reports)]  # fmt: skip
        for name, k, scale, (value, low, high, price) in places:
            ends: tuple[tuple[Side, float, float], ...]
            ends = ("low", float(low[k]), -1.0), ("high", float(high[k]), 1.0)
            for side, at, sign in ends:
                if abs(value[k] - at) > AT or low[k] == high[k]:
                    continue
                stated = limits.get(name, (-np.inf, np.inf))[side == "high"]
                own = not abs(stated / scale - at) <= AT
                yield Price(name, side, at * float(scale),
                            max(sign * float(price[k]) / float(scale), 0.0), own)  # fmt: skip


def _rows(equations: Table, opened: Collection[str]) -> tuple[list[Eq], list[Eq]]:
    """Equations that must hold, and pairs of which neither side may be below zero."""
    every = [e for e in equations.equations if e.only in ("", "solve")]
    pairs = [e for e in every if e.name in opened]
    if lost := set(opened) - {e.name for e in pairs if e.sides}:
        raise BadInput("is no pair that can be opened", where=sorted(lost)[0])
    return [e for e in every if e.name not in opened], pairs


def none_found(why: str) -> NoReturn:
    raise NoneFound(f"no best state was found near the start ({why})",
                    todo="Widen a limit, or begin elsewhere.")  # fmt: skip


def _past(value: Floats, low: Floats, high: Floats) -> float:
    """How far past its limits the furthest value is."""
    return float(np.maximum(low - value, value - high).max(initial=0.0))
