"""Sets of equations, with no mill inside: compile, diagnose, solve and reconcile.

A set of equations is a table of variables (`Var`), a function that yields named residuals (`Eq`)
and, if wanted, a function that yields figures computed afterwards (`Report`). `Equations` compiles
them once; then `solve` answers "what would happen?" and `reconcile` answers "what did happen?".

Read in this order: `records` (Var, Eq, Report, results), `table` (what a set is made of),
`compiled` (the CasADi functions), `structure` (over- and under-specified), `square`, `newton` and
`bounded` (the solvers), `scenarios` (many at once); then `weights` (what one account is asked),
`augmented`, `nullspace`, `steps`, `state` (values and uncertainties), `gross_errors`, `reconciled`
and `gauss_newton` for the reconciliation; `prices`, `best` and `elastic` for the best
state and what stands in its way; last `system`, where `Equations` asks them all. `motion` follows
rates in time and stands alone. The published cases that it is held to stand with the checks.

May import `base` alone. CasADi and SciPy are loaded on first use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ratoon.equations.reconciled import Reconciled
    from ratoon.equations.records import (
        Eq,
        ReadingResult,
        Report,
        Solution,
        Suspect,
        Var,
        either,
    )
    from ratoon.equations.system import Equations, reconcile

_HOMES = {
    "Var": "records",
    "either": "records",
    "Eq": "records",
    "Report": "records",
    "Solution": "records",
    "Equations": "system",
    "reconcile": "system",
    "Reconciled": "reconciled",
    "ReadingResult": "records",
    "Suspect": "records",
}

__all__ = [
    "Eq",
    "Equations",
    "ReadingResult",
    "Reconciled",
    "Report",
    "Solution",
    "Suspect",
    "Var",
    "either",
    "reconcile",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its file on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
