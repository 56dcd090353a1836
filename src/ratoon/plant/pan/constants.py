"""One constant of a grade, as a fit finds it and a record keeps it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Constant:
    """One constant of a grade as fitted; `sigma` is a standard uncertainty."""

    value: float
    sigma: float
    kind: Literal["found", "assumed"]
    told_by: Literal["strikes", "prior"]
