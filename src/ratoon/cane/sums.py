"""Sums by which cane of many days is compared: they add, and means with their uncertainty come out.

The laboratory's common error is taken as one over all that is added: a season's mean keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from math import sqrt
from typing import Any


@dataclass(slots=True)
class Sums:
    """What adds of some consignments' cane.

    Parameters
    ----------
    consignments : their number. kilograms : weighed. analysed : of those, with an analysis [kg].
    ccs, fibre : mass x figure [kg x kg/kg]. own : mass2 x variance of CCS new for each [kg2];
    common : mass x its common sigma [kg]. aged : with a time of cutting [kg]. hours : mass x
        cut-to-crush age [kg h]. oldest : age of the oldest [h].
    """

    consignments: int = 0
    kilograms: int = 0
    analysed: float = 0.0
    ccs: float = 0.0
    fibre: float = 0.0
    own: float = 0.0
    common: float = 0.0
    aged: float = 0.0
    hours: float = 0.0
    oldest: float = 0.0

    def add(self, other: Sums) -> None:
        """Take in another's sums."""
        oldest = max(self.oldest, other.oldest)
        for field in fields(self):
            setattr(self, field.name, getattr(self, field.name) + getattr(other, field.name))
        self.oldest = oldest

    def with_analysis(self, mass: float, ccs: float, sigma: float, common: float,
                      fibre: float) -> None:  # fmt: skip
        """Add one consignment's analysis; figures and their sigmas in fractions."""
        self.analysed += mass
        self.ccs += mass * ccs
        self.fibre += mass * fibre
        self.own += mass**2 * max(sigma**2 - common**2, 0.0)
        self.common += mass * common

    def with_age(self, mass: float, hours: float) -> None:
        """Add cane of one age [h]."""
        self.aged += mass
        self.hours += mass * hours
        self.oldest = max(self.oldest, hours)

    @property
    def mean_ccs(self) -> float | None:
        """Mean CCS by mass [kg/kg]; None without an analysis."""
        return self.ccs / self.analysed if self.analysed else None

    @property
    def sigma_ccs(self) -> float | None:
        """Its sigma [kg/kg]; the common part does not average out."""
        return sqrt(self.own + self.common**2) / self.analysed if self.analysed else None

    @property
    def mean_fibre(self) -> float | None:
        """Mean fibre by mass [kg/kg]."""
        return self.fibre / self.analysed if self.analysed else None

    @property
    def age_hours(self) -> float | None:
        """Mean cut-to-crush age by mass [h]; None when no note says when it was cut."""
        return self.hours / self.aged if self.aged else None

    def as_json(self) -> dict[str, Any]:
        """The sums by name."""
        return asdict(self)

    @classmethod
    def of_json(cls, given: Mapping[str, Any]) -> Sums:
        """Sums from their names."""
        return cls(**given)
