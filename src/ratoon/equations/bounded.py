"""The second way to a solution: an interior-point solver that keeps every limit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from ratoon.equations.square import SquareSystem

Floats = NDArray[np.float64]


def bounded(
    square: SquareSystem, base: Floats, want: Floats, start: Floats, low: Floats, high: Floats
) -> Floats | None:
    """Scaled unknowns by IPOPT, or None when it has no answer either."""
    import casadi

    solver = _solver(square)
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


def _solver(square: SquareSystem) -> Any:
    """One compiled solver for each pattern of given names."""
    kept = getattr(square, "_bounded", None)
    if kept is not None:
        return kept
    import casadi

    equations = square.equations
    symbols = equations._symbols.vector()
    unknown = casadi.SX.sym("u", len(square.unknown))
    base = casadi.SX.sym("base", symbols.numel())
    want = casadi.SX.sym("want", len(square.reports))
    whole = [base[i] for i in range(symbols.numel())]
    scale = equations.scales[square.unknown]
    for k, j in enumerate(square.unknown):
        whole[j] = unknown[k] * float(scale[k])
    rows = [e.residual / e.scale for e in equations.equations if e.only in ("", "solve")]
    for (_, name), size, target in zip(
        square.reports, square.report_scales, casadi.vertsplit(want) if square.reports else []
    ):
        rows.append((equations.reports[name].expression - target) / float(size))
    residual = casadi.substitute(casadi.vertcat(*rows), symbols, casadi.vertcat(*whole))
    problem = {"x": unknown, "p": casadi.vertcat(base, want), "f": casadi.SX(0), "g": residual}
    options = {
        "print_time": False,
        "ipopt": {"print_level": 0, "sb": "yes", "max_iter": 200, "max_cpu_time": 3.0,
                  "hessian_approximation": "limited-memory"},
    }  # fmt: skip
    solver = casadi.nlpsol("bounded", "ipopt", problem, options)
    square._bounded = solver  # type: ignore[attr-defined]
    return solver
