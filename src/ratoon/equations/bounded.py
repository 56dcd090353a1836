"""The second way to a solution: an interior-point solver that keeps every limit."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def bounded(
    solver: Any, base: Floats, want: Floats, start: Floats, low: Floats, high: Floats
) -> Floats | None:
    """Scaled unknowns by IPOPT, or None when it has no answer either."""
    import casadi

    parameters = np.concatenate([base, want])
    wide = 1e19
    try:
        answer = solver(
            x0=np.clip(start, low, high),
            p=parameters,
            lbx=np.maximum(low, -wide),
            ubx=np.minimum(high, wide),
            lbg=0.0,
            ubg=0.0,
        )
    except RuntimeError:
        return None
    found: Floats = np.array(casadi.DM(answer["x"]).full()).ravel()
    return found if np.all(np.isfinite(found)) else None


def bounded_solver(unknown: Any, parameters: Any, residual: Any) -> Any:
    """The solver of one square system, from its symbols; made once."""
    import casadi

    problem = {"x": unknown, "p": parameters, "f": casadi.SX(0), "g": residual}
    options: dict[str, Any] = {
        "print_time": False,
        # A trial point without a value is refused by the solver itself; nobody need read of it.
        "show_eval_warnings": False,
        "calc_lam_p": False,
        "ipopt": {"print_level": 0, "sb": "yes", "max_iter": 200, "max_cpu_time": 3.0,
                  "hessian_approximation": "limited-memory"},
    }  # fmt: skip
    return casadi.nlpsol("bounded", "ipopt", problem, options)
