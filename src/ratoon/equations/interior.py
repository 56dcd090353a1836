"""The interior-point solver of a compiled problem, begun afresh or from a neighbour's answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ratoon.equations.prices import Multipliers

MOST_STEPS = 200
NEAR = 1e-8  # of the scale: how far from its limits a neighbour's answer is begun
WAYS: Mapping[str, Mapping[str, str | float]] = {
    "near": {"mu_strategy": "monotone", "mu_init": 1e-6, "max_iter": 40,
             "warm_start_init_point": "yes", "warm_start_bound_push": NEAR,
             "warm_start_bound_frac": NEAR, "warm_start_slack_bound_push": NEAR,
             "warm_start_slack_bound_frac": NEAR, "warm_start_mult_bound_push": NEAR},
    "quick": {"mu_strategy": "adaptive", "mu_oracle": "probing"},
    "steady": {"mu_strategy": "monotone"},
}  # fmt: skip
"""How the solver lets go of its barrier: the next is tried where one does not end.

The first begins with the prices of another answer and is for that alone.
"""


SHARED = {"grad_f": "nlp_grad_f", "jac_g": "nlp_jac_g", "hess_lag": "nlp_hess_l"}
"""Derivatives that every way takes: option, and the function that the first made for it."""


class InteriorPoint:
    """IPOPT on one problem of CasADi, in several ways; each is made on first use."""

    def __init__(self, problem: Mapping[str, Any]) -> None:
        self._problem = dict(problem)
        self._solvers: dict[str, Any] = {}

    def __call__(self, near: Multipliers | None, **question: Any) -> tuple[Any, Any]:
        """The solver's answer and what it says of it; where one way fails, by the next.

        `near` are the multipliers of a neighbour's answer, at which `x0` then stands.
        """
        if near is not None:
            question["lam_x0"], question["lam_g0"] = near
        for name in list(WAYS)[near is None :]:
            solver = self._solver(name)
            found, stats = solver(**question), solver.stats()
            if stats["success"]:
                break
        return found, stats

    def _solver(self, name: str) -> Any:
        import casadi

        if name not in self._solvers:
            made = next(iter(self._solvers.values()), None)
            shared = {option: made.get_function(f) for option, f in SHARED.items()} if made else {}
            self._solvers[name] = casadi.nlpsol(name, "ipopt", self._problem, {
                "print_time": False, "show_eval_warnings": False, "calc_lam_p": False,
                "no_nlp_grad": True, **shared,
                "ipopt": {"print_level": 0, "sb": "yes", "max_iter": MOST_STEPS, "tol": 1e-9,
                          "bound_relax_factor": 0.0, "constr_viol_tol": 1e-9, **WAYS[name]},
            })  # fmt: skip
        return self._solvers[name]
