"""Heating surfaces of the evaporator over a season: each effect's, and each vessel's.

Thick juice passes less heat, so each day's coefficient is brought to the effect's usual brix before
its scale is fitted. The readings of an effect tell its coefficient; how its vessels share it is an
assumption unless a vessel's own juice or condensate is read. That part of the uncertainty is the
same every day: no number of days makes it smaller.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import TYPE_CHECKING

from ratoon.account.figures.since_clean import SHARED, DayFigure, SinceClean, since_clean

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

Figures = Mapping[str, tuple[float, float | None]]
"""A day's figures: value and standard uncertainty by address, trade units."""

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
    areas : surface of each vessel [m2]. ratio_sigmas : uncertainty of the coefficient of each
        vessel after the first over that of the first [1]. vessel : its number, from 1.

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


@dataclass(frozen=True)
class Season:
    """What the accounted days of one season tell of the evaporator.

    Parameters
    ----------
    figures : of each day that crushed. crushed : days of crushing in each accounted day [0 to 1].
    """

    mill: Mill
    figures: Mapping[date, Figures]
    crushed: Mapping[date, float]

    def usual_brix(self, effect: int) -> float:
        """Middle of the brix that leaves an effect [%]; zero where no day tells it."""
        known = self._of(self._brix(effect)).values()
        return median(value for value, _ in known) if known else 0.0

    def to_usual(self, effect: int, day: date) -> tuple[float, float]:
        """What brings a day's coefficient to the usual brix, and its relative uncertainty.

        Notes
        -----
        Method: the coefficient goes as 100 less brix, as in the formula that the plant's own
        coefficients move by (Dessin's, [Hugot], from memory); the day's chest is left as it was.
        """
        found = self._of(self._brix(effect)).get(day)
        if found is None:
            return 1.0, 0.0
        thin = 100.0 - found[0]
        return (100.0 - self.usual_brix(effect)) / thin, found[1] / thin

    def effect(self, effect: int) -> SinceClean | None:
        """An effect since each clean of any of its surface, at its usual brix."""
        row = self.mill.settings.effects[effect - 1]
        days = [DayFigure(day, *self._at_usual(effect, day, *f))
                for day, f in self._of(self.coefficient(effect)).items()]  # fmt: skip
        return self._since(days, cleans_of(row.cleaned, row.vessels_cleaned, 0, False))

    def vessel(self, effect: int, vessel: int) -> tuple[float, float, SinceClean | None] | None:
        """A vessel: what the readings leave of the assumption, its size, and its scale.

        None where no day tells it: an effect of one vessel is itself.
        """
        row, addresses = self.mill.settings.effects[effect - 1], self.vessels(effect)
        days = list(self._days(effect, addresses[vessel - 1]))
        if not days:
            return None
        variables = self.mill.plant.equations.variables
        sigmas = [float(variables[f"{a}_ratio"].sigma or 0.0) for a in addresses[1:]]
        assumed = assumed_variance(row.vessels, sigmas, vessel)
        left = left_assumed(days, assumed)
        brought = [DayFigure(d.day, *self._at_usual(effect, d.day, d.value, d.sigma), d.shared)
                   for d in day_figures(days, left)]  # fmt: skip
        cleans = cleans_of(row.cleaned, row.vessels_cleaned, vessel, left < TOLD)
        return left, assumed, self._since(brought, cleans)

    def coefficient(self, effect: int) -> str:
        """Address of an effect's coefficient."""
        return self.mill.roles.keyed("coefficient of effect")[str(effect)]

    def _brix(self, effect: int) -> str:
        return self.mill.roles.keyed("brix of effect")[str(effect)]

    def vessels(self, effect: int) -> tuple[str, ...]:
        """Addresses of the coefficients of an effect's vessels."""
        known = self.mill.roles.keyed("coefficient of vessel")
        return tuple(a for key, a in known.items() if key.split()[0] == str(effect))

    def _of(self, address: str) -> dict[date, tuple[float, float]]:
        found = {}
        for day, figures in self.figures.items():
            value, sigma = figures.get(address) or (None, None)
            if value and sigma:
                found[day] = (value, sigma)
        return found

    def _at_usual(self, effect: int, day: date, value: float, sigma: float) -> tuple[float, float]:
        to, relative = self.to_usual(effect, day)
        return value * to, to * (sigma**2 + (value * relative) ** 2) ** 0.5

    def _days(self, effect: int, address: str) -> Iterator[VesselDay]:
        whole = self._of(self.coefficient(effect))
        for day, (value, sigma) in self._of(address).items():
            if day in whole:
                yield VesselDay(day, value, sigma, *whole[day])

    def _since(self, days: Sequence[DayFigure], cleaned: Sequence[date]) -> SinceClean | None:
        """A clean of the season before says nothing of this one's scale."""
        if not days:
            return None
        same = self.mill.calendar.same_season
        mine = [c for c in cleaned if same(c, days[-1].day) and c <= days[-1].day]
        return since_clean(days, mine, self.crushed)
