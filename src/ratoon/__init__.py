"""ratoon: a raw-sugar mill's whole account from its own readings.

Names are loaded when they are first used, so that ``import ratoon`` costs nothing.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ratoon.account.mill import Mill, read_mill
    from ratoon.equations import Eq, Equations, Report, Var, reconcile
    from ratoon.notebook import MillRecords, Table, open_records
    from ratoon.plans.recall.residence import residence
    from ratoon.plans.refinery.plan import plan_year
    from ratoon.plans.season.forecast import forecast_season

# Matrices of a mill are small: threads of the linear algebra only wait for one another, and make
# an account five times slower on a busy machine. Says nothing once NumPy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
__all__ = [
    "Eq", "Equations", "Mill", "MillRecords", "Report", "Table", "Var", "__version__",
    "forecast_season", "open_records", "plan_year", "read_mill", "reconcile", "residence",
]  # fmt: skip

_WHERE = {
    "Eq": "ratoon.equations",
    "Equations": "ratoon.equations",
    "Report": "ratoon.equations",
    "Var": "ratoon.equations",
    "reconcile": "ratoon.equations",
    "Mill": "ratoon.account.mill",
    "MillRecords": "ratoon.notebook",
    "Table": "ratoon.notebook",
    "open_records": "ratoon.notebook",
    "forecast_season": "ratoon.plans.season.forecast",
    "plan_year": "ratoon.plans.refinery.plan",
    "read_mill": "ratoon.account.mill",
    "residence": "ratoon.plans.recall.residence",
}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'ratoon' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_WHERE[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
