"""Coefficients of single vessels before they are smoothed: what of their doubt lasts.

The readings of an effect tell its coefficient; how its vessels share it is an assumption unless a
vessel's own juice or condensate is read. That part of the doubt is the same every day: no number
of days makes it smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from ratoon.account.since_clean import SHARED, DayFigure

TOLD, PARTLY = 0.5, 0.85
"""Shares of the assumption's variance left by the readings: below, they tell the vessels apart.

One vessel's condensate within 2 % leaves a third or less; its brix alone two thirds, for it also
depends on how the juice divides.
"""


@dataclass(frozen=True, slots=True)
class VesselDay:
    """A vessel's coefficient on a day beside its effect's, and what is known of their ratio."""

    day: date
    value: float
    sigma: float
    effect_value: float
    effect_sigma: float

    @property
    def beyond(self) -> float:
        """Relative variance that the vessel's figure has beyond its effect's."""
        return (self.sigma / self.value) ** 2 - (self.effect_sigma / self.effect_value) ** 2


def assumed_variance(areas: Sequence[float], ratio_sigmas: Sequence[float], vessel: int) -> float:
    """Relative variance of a vessel's coefficient by the assumed ratios alone.

    Parameters
    ----------
    areas : surface of each vessel [m2]. ratio_sigmas : doubt of the coefficient of each vessel
        after the first over that of the first [1]. vessel : its number, from 1.

    Notes
    -----
    Method: u_j = U r_j sum(A) / sum(r A), first order about equal vessels.
    """
    whole = sum(areas)
    return sum(
        (sigma * ((vessel == k) - area / whole)) ** 2
        for k, (area, sigma) in enumerate(zip(areas[1:], ratio_sigmas, strict=True), 2)
    )


def left_assumed(days: Sequence[VesselDay], assumed: float) -> float:
    """Middle over the days of what the readings leave of the assumption's variance, 0 to 1."""
    return min(max(median(d.beyond for d in days) / assumed, 0.0), 1.0) if assumed else 0.0


def day_figures(days: Sequence[VesselDay], left: float) -> list[DayFigure]:
    """A vessel's figures for smoothing, each with the part of its variance that lasts."""
    return [DayFigure(d.day, d.value, d.sigma, SHARED if left < TOLD else _shared(d)) for d in days]


def _shared(d: VesselDay) -> float:
    extra = max(d.beyond, 0.0)
    whole = (d.sigma / d.value) ** 2
    return (SHARED * (whole - extra) + extra) / whole


def cleans_of(
    cleaned: Sequence[date], vessels: Sequence[Sequence[date]], vessel: int, told: bool
) -> list[date]:
    """Days on which a vessel's line begins anew.

    A clean of the effect cleans all its vessels. Where the vessels are not told apart, a vessel's
    figure is its effect's, and a clean of any of them moves it; `vessel` 0 is the effect itself.
    """
    mine = (i for i, _ in enumerate(vessels, 1) if not told or i == vessel or not vessel)
    return sorted({*cleaned, *(d for i in mine for d in vessels[i - 1])})
