"""Rain by storms: bursts of wet days whose number and size share a factor of the year.

No chain of days: storms begin at random, more often towards summer, last some days each, and rain
falls in Weibull amounts. The year's factor is gamma, and each half of a season has one of its own
besides, so that a wet start foretells a wet end only in part.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

Rng = np.random.Generator
FIRST = (5, 1)
LENGTH = 300
"""Days of a rain year: from 1 May into the next February."""
GAUGE = 1000.0
"""Most that a gauge records in a day [mm]; Weibull amounts of a wild year know no end."""


@dataclass(frozen=True)
class Climate:
    """Laws of a district's rain."""

    storms: float
    """Storms a day in winter."""
    summer: float
    """How many times as many at midsummer."""
    lasting: float
    """Mean days of a storm."""
    heavy: float
    """Mean rain of a day in a storm [mm]."""
    shape: float
    drizzle: float
    """Chance of a wet day outside storms."""
    year: float
    """Coefficient of variation of the year's factor."""
    half: float
    """The same of each half season's own."""


def drawn(rng: Rng, wild: bool) -> Climate:
    """A climate: years differ much where it is wild, little where it is not."""
    u = rng.uniform
    year = u(0.5, 0.9) if wild else u(0.15, 0.4)
    return Climate(u(0.020, 0.045), u(2.0, 4.5), u(1.8, 3.2), u(9.0, 18.0), u(0.6, 0.9),
                   u(0.02, 0.08), year, u(0.1, 0.3))  # fmt: skip


def year_of_rain(rng: Rng, climate: Climate, year: int) -> dict[date, float]:
    """Rain of each day of one rain year [mm]."""
    first = date(year, *FIRST)
    factor = rng.gamma(1 / climate.year**2, climate.year**2)
    halves = rng.gamma(1 / climate.half**2, climate.half**2, 2) * factor
    rain = np.zeros(LENGTH + 30)
    from math import gamma

    scale = climate.heavy / gamma(1 + 1 / climate.shape)
    for day in range(LENGTH):
        own = halves[0 if day < 120 else 1]
        summer = 1 + (climate.summer - 1) * np.clip((day - 90) / 150, 0, 1) ** 1.5
        often = climate.storms * summer * own**0.5
        for _ in range(rng.poisson(often)):
            days = rng.geometric(1 / climate.lasting)
            rain[day : day + days] += scale * own**0.5 * rng.weibull(climate.shape, days)
        if rng.random() < climate.drizzle:
            rain[day] += rng.exponential(2.5)
    told = np.round(np.minimum(rain, GAUGE), 1)
    return {first + timedelta(days=d): float(told[d]) for d in range(LENGTH)}
