"""Why a search for the best found nothing: the limits that cannot all be kept.

Each stated limit may be passed at a price while the equations hold; what the cheapest way passes is
asked for one by one, until limits remain of which none can be left out. A local search proves
nothing: it tells what stands in the way near its start.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ratoon.equations.prices import Side
from ratoon.equations.problem import WIDE, Limits, Problem
from ratoon.equations.records import INFINITY

PASSED = 1e-5  # of their scales, all together: less than this is kept
PRESSES = 1e-4  # of the price of passing: less is none
OPEN = (-INFINITY, INFINITY)


class Elastic:
    """A search's equations with limits that give way; what is given stands.

    Parameters
    ----------
    search : the search that found nothing.
    """

    def __init__(self, search: Problem) -> None:
        import casadi

        self.search = search
        x, g, p = (search.problem[k] for k in ("x", "g", "p"))
        self.names, rows = search.limited_rows(x, g)
        self._hard = g.numel() - search.limited_reports
        slack = casadi.SX.sym("slack", 2 * len(self.names))
        under, over = slack[: len(self.names)], slack[len(self.names) :]
        problem: Any = {"x": casadi.vertcat(x, slack), "p": p, "f": casadi.sum1(slack),
                        "g": casadi.vertcat(g[: self._hard], rows + under - over)}  # fmt: skip
        self._solver = casadi.nlpsol("elastic", "ipopt", problem, {
            "print_time": False, "show_eval_warnings": False, "calc_lam_p": False,
            "ipopt": {"print_level": 0, "sb": "yes", "max_iter": 300, "tol": 1e-7,
                      "mu_strategy": "monotone"},
        })  # fmt: skip

    def in_the_way(
        self, given: Mapping[str, float], limits: Limits, start: Mapping[str, float] | None
    ) -> list[tuple[str, Side, float]]:
        """Limits that cannot all be kept, and of which none can be left out; [] where none says."""
        with self.search.equations.lock:
            off, pressed = self._least(given, limits, start)
            if off < PASSED:
                return []
            kept: dict[str, tuple[float, float]] = {}
            for name, side in pressed:
                kept[name] = _with(kept.get(name, OPEN), side, limits[name])
            for name, side in pressed:
                without = {**kept, name: _with(kept[name], side, OPEN)}
                if self._least(given, without, start)[0] > PASSED:
                    kept = without
            return [(n, side, limits[n][side == "high"]) for n, side in pressed
                    if abs(kept[n][side == "high"]) < INFINITY]  # fmt: skip

    def _least(
        self, given: Mapping[str, float], limits: Limits, start: Mapping[str, float] | None
    ) -> tuple[float, list[tuple[str, Side]]]:
        """By how much limits must be passed at the least, and those that press on it."""
        import casadi

        begin, parameters, fixed = self.search.placed(given, start, None)
        low, high, rows_low, rows_high = self.search.bounds(fixed)
        ends = np.array([limits.get(n, OPEN) for n in self.names]).reshape(-1, 2)
        scaled = np.clip(ends / self.search.scales_of(self.names)[:, None], -WIDE, WIDE)
        none, hard = np.zeros(2 * len(self.names)), self._hard
        found = self._solver(
            x0=np.concatenate([np.clip(begin, low, high), none]), p=parameters,
            lbx=np.concatenate([low, none]), ubx=np.concatenate([high, none + WIDE]),
            lbg=np.concatenate([rows_low[:hard], scaled[:, 0]]),
            ubg=np.concatenate([rows_high[:hard], scaled[:, 1]]),
        )  # fmt: skip
        press = np.array(casadi.DM(found["lam_g"]).full()).ravel()[hard:]
        pressed: list[tuple[str, Side]] = []
        for name, force in zip(self.names, press, strict=True):
            if abs(force) > PRESSES:
                pressed.append((name, "high" if force > 0.0 else "low"))
        return float(found["f"]), pressed


def _with(kept: tuple[float, float], side: Side, other: tuple[float, float]) -> tuple[float, float]:
    """A range with one of its sides from another."""
    return (other[0], kept[1]) if side == "low" else (kept[0], other[1])
