"""Equations of motion: rates of a state's change, integrated by CVODES with exact Jacobians.

One compiled integrator serves pieces of any length: time runs from 0 to 1 and the rates are
multiplied by the piece's own length.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved

Floats = NDArray[np.float64]
Of = Callable[[Sequence[Any], Sequence[Any]], Sequence[Any]]
"""Rates of all states [1/s], or any figures, from the states and what is given."""


def written(of: Of, states: int, given: int) -> Any:
    """A compiled function of states and what is given, one column each or many side by side."""
    import casadi

    from ratoon.base.symbol import Symbol, plain

    y, p = (casadi.SX.sym(n, k) for n, k in (("y", states), ("p", given)))
    known: dict[Any, Symbol] = {}
    told = of([Symbol(y[k], known) for k in range(states)],
              [Symbol(p[k], known) for k in range(given)])  # fmt: skip
    return casadi.Function("of", [y, p], [casadi.densify(casadi.vertcat(*map(plain, told)))])


class Motion:
    """Rates compiled once.

    Parameters
    ----------
    rates, figures : written for symbols. states, given : how many of each.
    points : steps of equal length at whose ends the state is told.
    tolerance : relative; the absolute is a hundredth of it, so states should be of the order of 1.
    """

    def __init__(
        self, rates: Of, figures: Of, states: int, given: int, points: int = 10,
        tolerance: float = 1e-9,
    ) -> None:  # fmt: skip
        import casadi

        self._rates, self._figures = (written(of, states, given) for of in (rates, figures))
        y, p, length = (casadi.SX.sym(n, k) for n, k in (("y", states), ("p", given), ("h", 1)))
        moved = self._rates(y, p)
        self._integrate = casadi.integrator(
            "motion", "cvodes", {"x": y, "p": casadi.vertcat(p, length), "ode": moved * length},
            0.0, np.linspace(0.0, 1.0, points + 1)[1:],
            {"reltol": tolerance, "abstol": tolerance / 100.0, "max_num_steps": 3_000,
             "disable_internal_warnings": True,
             "show_eval_warnings": False, "newton_scheme": "direct"},
        )  # fmt: skip

    def rates(self, state: Floats, given: Floats) -> Floats:
        """Rates of a state, shape (states,)."""
        return np.asarray(self._rates(state, given)).ravel()

    def figures(self, states: Floats, given: Floats) -> Floats:
        """The figures of each of some states (n, states), shape (n, figures)."""
        return np.asarray(self._figures(states.T, given)).T

    def run(self, state: Floats, given: Floats, seconds: float) -> Floats:
        """The states at the ends of the steps of a piece, shape (points + 1, states), start first.

        Raises
        ------
        NotSolved : the rates cannot be followed, or are no numbers.
        """
        try:
            told = self._integrate(x0=state, p=np.append(given, seconds))["xf"]
        except RuntimeError as error:
            raise NotSolved("the state could not be followed", where="motion",
                            value=str(error)[-80:]) from None  # fmt: skip
        found = np.vstack([state, np.asarray(told).T])
        if not np.isfinite(found).all():
            raise NotSolved("the state could not be followed", where="motion")
        return found
