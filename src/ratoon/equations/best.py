"""The best of all states that the equations allow: an aim at its most, and the price of each limit.

A search is compiled once for what is free and what is limited; what is fixed, and where the limits
stand, come with each call. Where a control law is a pair made by `either`, a search may open it:
then neither side may be below zero, and which of them is zero is for the search to find.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.symbol import plain
from ratoon.equations.interior import InteriorPoint
from ratoon.equations.prices import Best, NoneFound, Price, Side
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


class Search:
    """The search for the best state of a set of equations.

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
    UnknownName, BadInput : a name nobody knows, or one that is fixed and free at once.

    Notes
    -----
    Method: interior point on all unknowns at once, with exact second derivatives (IPOPT). The
    price of a limit is its multiplier.
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
        self.problem, self._aim = self._compile(aim, rows, pairs)
        self._solver = InteriorPoint(self.problem)

    def _unknowns(
        self, rows: list[Eq], pairs: list[Eq], given: frozenset[str], free: frozenset[str]
    ) -> NDArray[np.int64]:
        """Columns that the search finds: free variables that stand in some row, and those freed."""
        import casadi

        equations = self.equations
        every = casadi.vertcat(
            *(plain(e.residual) for e in rows), *(plain(s) for e in pairs for s in e.sides or ())
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

    def best(
        self,
        given: Mapping[str, float],
        limits: Mapping[str, tuple[float, float]],
        start: Mapping[str, float] | Best | None = None,
        numbers: Mapping[str, float] | None = None,
    ) -> Best:
        """The best state with what is given, inside the limits [inside units].

        Parameters
        ----------
        given : values of variables that are not sought. limits : lowest and highest by address;
            what has none here keeps the limits of its table. start : where to begin; another
            answer of this search takes fewer steps than its values.

        Raises
        ------
        UnknownName, BadInput : a limit on what the search was not made for, or one upside down.
        NoneFound : the search ended without an answer.
        """
        begun = time.perf_counter()
        with self.equations.lock:
            return self._search(given, limits, start, numbers or {}, begun)

    def _search(
        self, given: Mapping[str, float], limits: Mapping[str, tuple[float, float]],
        start: Mapping[str, float] | Best | None, numbers: Mapping[str, float], begun: float,
    ) -> Best:  # fmt: skip
        import casadi

        near = start.multipliers if isinstance(start, Best) else None
        values = start.values if isinstance(start, Best) else start
        begin, parameters, fixed = self.placed(given, values, numbers)
        low, high, g_low, g_high = self.bounds({**fixed, **limits})
        begin, base = np.clip(begin, low, high), parameters[: len(self.equations.variables)]
        extra = parameters[len(base) :]
        found, stats = self._solver(near, x0=begin, p=parameters, lbx=low, ubx=high,
                                    lbg=g_low, ubg=g_high)  # fmt: skip
        u = np.array(casadi.DM(found["x"]).full()).ravel()
        g = np.array(casadi.DM(found["g"]).full()).ravel()
        base[self._unknown] = u * self._scale
        residual = float(np.abs(g[: self._rows]).max(initial=0.0))
        breach = float(max(_past(g[self._rows :], g_low[self._rows :], g_high[self._rows :]),
                           _past(u, low, high)))  # fmt: skip
        if not (stats["success"] and residual < HOLDS and breach < BREACH):
            raise NoneFound(
                "no best state was found near the start "
                f"({str(stats['return_status']).replace('_', ' ').lower()})",
                todo="Widen a limit, or begin elsewhere.",
            )
        x_price, g_price = (
            np.array(casadi.DM(found[k]).full()).ravel() for k in ("lam_x", "lam_g")
        )
        return Best(
            self._named(base), float(self._aim(base, extra)),
            tuple(self._prices(limits, (u, low, high, x_price), (g, g_low, g_high, g_price))),
            int(stats["iter_count"]), residual, breach, time.perf_counter() - begun,
            (x_price, g_price),
        )  # fmt: skip

    def placed(
        self, given: Mapping[str, float], start: Mapping[str, float] | None,
        numbers: Mapping[str, float],
    ) -> tuple[Floats, Floats, dict[str, tuple[float, float]]]:  # fmt: skip
        """Where the scaled unknowns begin, the parameters, and reports given, as limits."""
        equations, base = self.equations, self.equations.begin(start)
        fixed = {n: (v, v) for n, v in given.items() if n in equations.reports}
        for name, value in given.items():
            equations.known(name)
            if name not in fixed:
                base[equations.index[name]] = value
        extra = np.array([float(numbers[n]) for n in self._number_names])
        return base[self._unknown] / self._scale, np.concatenate([base, extra]), fixed

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


def _past(value: Floats, low: Floats, high: Floats) -> float:
    """How far past its limits the furthest value is."""
    return float(np.maximum(low - value, value - high).max(initial=0.0))
