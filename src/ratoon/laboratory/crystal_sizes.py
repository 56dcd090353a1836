"""Sizes of crystals: sieve figures, the log-normal size law, moments, numbers and masses.

A sieve reads mass, a slide counts crystals: say which. Sizes are metres and the size of a crystal
is the width of the sieve that it just passes; MA (mean aperture) is the size that half of the mass
exceeds, CV is the standard deviation of size by mass over MA. Moments are sums of size to a power
over all crystals; their unit follows, and the first six say all that is asked here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from ratoon.base.errors import BadInput
from ratoon.properties.crystal import DENSITY

SHAPE = 0.75
"""Volume of a crystal over its size cubed; from memory, mills differ from 0.6 to 0.9."""
ORDERS = range(6)
"""Orders of the moments that are kept."""
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class LogNormal:
    """Sizes whose logarithm is normal: median by number [m], and standard deviation of the log."""

    median: float
    sigma: float

    @classmethod
    def of_mass(cls, mean_aperture: float, cv: float) -> LogNormal:
        """By MA [m] and CV [-], both by mass.

        The mass of log-normal sizes is log-normal too, of the same sigma and a median that is
        greater by three sigma squared; its standard deviation over its median fixes sigma.

        Examples
        --------
        >>> round(LogNormal.of_mass(0.85e-3, 0.28).sigma, 4)
        0.2655
        """
        # CV^2 = e^(s2) (e^(s2) - 1), a quadratic in e^(s2)
        square = math.log((1.0 + math.sqrt(1.0 + 4.0 * cv * cv)) / 2.0)
        return cls(mean_aperture * math.exp(-3.0 * square), math.sqrt(square))

    @classmethod
    def of_number(cls, mean: float, cv: float) -> LogNormal:
        """By mean [m] and CV [-], both by number.

        Examples
        --------
        >>> law = LogNormal.of_number(0.30e-3, 0.28)
        >>> round(law.number_mean * 1e3, 6), round(law.number_cv, 6)
        (0.3, 0.28)
        """
        square = math.log1p(cv * cv)
        return cls(mean * math.exp(-square / 2.0), math.sqrt(square))

    @property
    def number_mean(self) -> float:
        """Mean size by number [m]."""
        return self.median * math.exp(self.sigma**2 / 2.0)

    @property
    def number_cv(self) -> float:
        """Standard deviation over mean, by number [-]."""
        return math.sqrt(math.expm1(self.sigma**2))

    @property
    def mass_mean(self) -> float:
        """Mean size by mass [m], mu4/mu3."""
        return self.median * math.exp(3.5 * self.sigma**2)

    @property
    def mean_aperture(self) -> float:
        """MA [m]."""
        return self.median * math.exp(3.0 * self.sigma**2)

    @property
    def mass_cv(self) -> float:
        """Standard deviation by mass over MA [-]."""
        grown = math.exp(self.sigma**2)
        return math.sqrt(grown * (grown - 1.0))

    def moments(self, mass: float, shape: float = SHAPE) -> list[float]:
        """Moments of so many kilograms of crystal, orders 0 to 5 [m^order]."""
        each = [math.exp(j * j * self.sigma**2 / 2.0) * self.median**j for j in ORDERS]
        number = mass / (DENSITY * shape * each[3])
        return [number * one for one in each]


def crystals_in(mass: float, size: float, shape: float = SHAPE, density: float = DENSITY) -> float:
    """How many crystals of one size [m] are in a mass [kg].

    Examples
    --------
    >>> round(crystals_in(1e-3, 0.50e-3, density=1588.0), -1)
    6720.0
    """
    return mass / (density * shape * size**3)


def seed_mass(crystal: float, grown: float, seed: float) -> float:
    """Seed [kg] that grows to a mass of crystal [kg] of a size [m], no crystal made or lost.

    Examples
    --------
    >>> round(seed_mass(51.8e3, 250e-6, 5e-6), 3)
    0.414
    """
    return crystal * (seed / grown) ** 3


def retained_of_normal(aperture: float, mean_aperture: float, cv: float) -> float:
    """Share of the mass on and above a sieve, sizes normal by mass [-].

    Examples
    --------
    >>> round(100 * retained_of_normal(1.0, 0.85, 0.28), 2)
    26.43
    """
    return 1.0 - _NORMAL.cdf((aperture - mean_aperture) / (cv * mean_aperture))


def probit_line(apertures: Sequence[float], retained: Sequence[float]) -> tuple[float, float]:
    """MA and CV by a straight line through all sieves on probability paper.

    Parameters
    ----------
    apertures : of the sieves, any unit. retained : share of the mass on and above each [-]; those
        outside 5 to 95 % say little and are passed over.

    Returns
    -------
    MA in the unit of the apertures, CV [-], which is (a16 - a84)/(2 MA) of the line [ICUMSA-GS].

    Raises
    ------
    BadInput : fewer than two sieves between 5 and 95 %, or a line that does not fall.
    """
    pairs = [(a, _NORMAL.inv_cdf(1.0 - r)) for a, r in zip(apertures, retained, strict=True)
             if 0.05 <= r <= 0.95]  # fmt: skip
    if len({a for a, _ in pairs}) < 2:
        raise BadInput("too few sieves say anything", where="sieve", value=len(pairs),
                       allowed="two or more that keep 5 to 95 %")  # fmt: skip
    mean_a = sum(a for a, _ in pairs) / len(pairs)
    mean_z = sum(z for _, z in pairs) / len(pairs)
    above = sum((a - mean_a) * (z - mean_z) for a, z in pairs)
    slope = above / sum((a - mean_a) ** 2 for a, _ in pairs)
    middle = mean_a - mean_z / slope if slope > 0.0 else 0.0
    if middle <= 0.0:
        raise BadInput("coarser sieves must keep less", where="sieve", value=[*retained])
    return middle, 1.0 / (slope * middle)


def standard_error(cv: float, count: int) -> float:
    """Standard error of a mean size over the mean, of so many crystals measured [-]."""
    return cv / math.sqrt(count)


def as_log_normal(moments: Sequence[float]) -> LogNormal:
    """The log-normal sizes that have a mass's mean and spread: from moments 3, 4 and 5."""
    square = math.log(max(moments[5] * moments[3] / moments[4] ** 2, 1.0))
    mean = moments[4] / moments[3]
    return LogNormal(mean * math.exp(-3.5 * square), math.sqrt(square))


def mean_aperture_and_cv(populations: Sequence[Sequence[float]]) -> tuple[float, float]:
    """MA [m] and CV [-] of crystals of several kinds together, from the moments of each.

    MA is where half of the mass is coarser, each kind log-normal by its own moments; one log-normal
    through all would be far out with a few per cent of fines.
    """
    kinds = [(m[3], as_log_normal(m)) for m in populations if min(m[3:]) > 0.0]
    total = sum(mass for mass, _ in kinds)
    low = min(math.log(law.mean_aperture) for _, law in kinds)
    high = max(math.log(law.mean_aperture) for _, law in kinds)

    def coarser(size: float) -> float:
        found = 0.0
        for mass, law in kinds:
            off = size - math.log(law.mean_aperture)
            share = 0.5 * math.erfc(off / (math.sqrt(2.0) * max(law.sigma, 1e-9)))
            found += mass * share
        return found / total

    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if coarser(middle) > 0.5 else (low, middle)
    aperture = math.exp((low + high) / 2.0)
    third, fourth, fifth = (sum(m[j] for m in populations) for j in (3, 4, 5))
    return aperture, math.sqrt(max(fifth / third - (fourth / third) ** 2, 0.0)) / aperture
