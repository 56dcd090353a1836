"""The invented mill's true strikes: crystals by size classes, grown by a law of this file's own.

Nothing of the batch pan that the program boils with is used: crystals are followed class by class,
each with its own rate; growth goes with a power of supersaturation and of purity; a fifth of the
massecuite, by the calandria, is hotter and less supersaturated than the rest. What a strike comes
to agrees with what the day's account made: volumes, brixes and purities add to the true day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ratoon.demo.hours import Floats

CLASSES, STEP = 24, 120.0  # sizes followed in each strike; s
HOT, COOLER = 0.2, 0.07  # share of the massecuite by the calandria, and how much less it is over
POWER, OF_PURITY, ACTIVATION, BY_SIZE = 1.5, 4.5, 5200.0, 0.96
SHAPE, CRYSTAL = 0.71, 1586.0  # of a crystal; kg/m3
FALL = 0.098  # of solubility with non-sucrose on water
RISES, HEAD = (90.0, 0.0112, 0.0285), 1.9  # boiling point over vapour, and by head; K
HOLDS = (64.6, 0.079, 0.00178, -6.0e-6)  # g of sucrose in 100 g saturated, by powers of degC


@dataclass(frozen=True)
class Way:
    """How a grade is boiled here.

    Attributes
    ----------
    hours : to boil a strike. at_start : share of the drop's volume charged. brix : of that charge.
    footing : share of the drop's dry substance that comes as crystals' footing; 0 for seed.
    size, cv : of footing [m], or of seed. crystal : in the footing [kg/kg]. pressure : [kPa a].
    rich, then : what is fed first and after; `rich_share` of the drop's dry substance is rich.
    """

    hours: float
    at_start: float
    brix: float
    footing: float
    size: float
    cv: float
    crystal: float
    pressure: float
    rich: str
    then: str


WAYS = {
    "A": Way(3.05, 0.37, 0.860, 0.085, 0.32e-3, 0.27, 0.62, 15.0, "liquor", "liquor"),
    "B": Way(4.0, 0.36, 0.855, 0.090, 0.31e-3, 0.30, 0.62, 13.0, "liquor", "A"),
    "C": Way(5.4, 0.42, 0.868, 0.0, 9e-6, 0.35, 0.0, 11.0, "A", "B"),
}
SEED_GROWS = 0.21e-3  # m, what C seed is meant to grow to
FINES_AT, FINES_SIZE = 0.5, 18e-6  # share of the strike; m
LEAK, HALF, SLOW = 9.0, 0.55, 1.17  # kPa lost; part of the steam; times as long at night


@dataclass
class Strikes:
    """Strikes of one grade as arrays, one row a strike; times [s], compositions [kg/kg].

    `truth` holds what the boiling came to; `path` the volume and the rest against share of time.
    """

    grade: str
    pans: list[str]
    start: Floats
    drop: Floats
    volume: Floats
    brix: Floats
    purity: Floats
    nutsch: Floats
    density: float
    dry_on_brix: float
    leak: Floats
    half: Floats
    fines: Floats
    path: dict[str, Floats] = field(default_factory=dict)

    def volume_at(self, share: Floats) -> Floats:
        """What each pan holds at a share of its time [m3]."""
        way = WAYS[self.grade]
        grown = 1.0 - (1.0 - np.clip(share, 0.0, 1.0)) ** 1.25
        return self.volume * (way.at_start + (1.0 - way.at_start) * grown)

    def brix_at(self, share: Floats) -> Floats:
        """Brix of each massecuite at a share of its time."""
        low = WAYS[self.grade].brix
        return low + (self.brix - low) * np.clip(share, 0.0, 1.0) ** 1.8


def ratio(temperature: Floats) -> Floats:
    """Sucrose on water in a saturated pure solution."""
    held = np.polynomial.polynomial.polyval(temperature, HOLDS) / 100.0
    found: Floats = held / (1.0 - held)
    return found


def boil(s: Strikes, rng: np.random.Generator) -> None:
    """Grow the crystals of all strikes; the rate of each is the one that leaves its own liquor."""
    wanted = (s.purity - s.nutsch) / (1.0 - s.nutsch)  # crystal on dry substance at the drop
    scatter = np.exp(0.04 * rng.standard_normal((len(s.pans), CLASSES)))
    number = np.exp(0.06 * rng.standard_normal(len(s.pans)))
    low, high = np.full(len(s.pans), -4.0), np.full(len(s.pans), 8.0)
    for _ in range(22):
        middle = (low + high) / 2.0
        more = _grow(s, np.exp(middle), scatter, number, keep=False) > wanted
        high, low = np.where(more, middle, high), np.where(more, low, middle)
    _grow(s, np.exp((low + high) / 2.0), scatter, number, keep=True)


def _grow(s: Strikes, rate: Floats, scatter: Floats, number: Floats, keep: bool) -> Floats:
    """Crystal on dry substance at the drop; the path against share of time when it is kept."""
    way, n = WAYS[s.grade], len(s.pans)
    seconds = s.drop - s.start
    steps = int(seconds.max() / STEP) + 1
    spread = np.array([_normal((k + 0.5) / CLASSES) for k in range(CLASSES)])
    sizes = way.size * np.exp(np.log1p(way.cv**2) ** 0.5 * spread)[None, :] * np.ones((n, 1))
    dry = s.volume * s.density * s.brix * s.dry_on_brix
    if way.footing:
        crystals = way.footing * dry * way.crystal / 0.885
    else:
        crystals = (s.purity - s.nutsch) / (1 - s.nutsch) * dry * (way.size / SEED_GROWS) ** 3
    each = number * crystals / (SHAPE * CRYSTAL * (sizes**3).mean(axis=1)) / CLASSES
    small = np.full(n, FINES_SIZE)
    born = s.fines * (s.purity - s.nutsch) / (1 - s.nutsch) * dry / (SHAPE * CRYSTAL
                                                                   * (0.16e-3) ** 3)  # fmt: skip
    told: list[list[Floats]] = []
    for k in range(steps + 1):
        share = np.minimum(k * STEP / seconds, 1.0)
        ended = share >= 1.0
        of_crystal = SHAPE * CRYSTAL * each * (sizes**3).sum(axis=1)
        of_fines = np.where(share >= FINES_AT, SHAPE * CRYSTAL * born * small**3, 0.0)
        solid = of_crystal + of_fines
        brix = s.brix_at(share)
        now = s.volume_at(share) * s.density * (0.93 + 0.07 * share) * brix * s.dry_on_brix
        water = now * (1.0 / (brix * s.dry_on_brix) - 1.0)
        purity = purity_at(s, share)
        rest = now * (1.0 - purity)
        sucrose = np.maximum(now * purity - solid, 0.02 * now)
        kpa = way.pressure + s.leak * ((share > 0.35) & (share < 0.75))
        vapour = 45.8 + 14.3 * np.log(kpa / 10.0)
        rise = (vapour + RISES[0]) * (RISES[1] * sucrose + RISES[2] * rest) / water
        temperature = vapour + rise + HEAD
        over = sucrose / water / (ratio(temperature) * np.maximum(1 - FALL * rest / water, 0.3))
        mother = sucrose / (sucrose + rest)
        pace = (1 - HOT) * _positive(over - 1.0) ** POWER
        pace += HOT * _positive(over - 1.0 - COOLER) ** POWER
        growth = rate * 1e-7 * pace * mother**OF_PURITY
        growth *= np.exp(ACTIVATION * (1 / 338.0 - 1 / (temperature + 273.0)))
        middle = sizes.mean(axis=1)
        if keep and (k % 5 == 0 or k == steps):
            mass = each[:, None] * sizes**3
            told.append([share, solid / np.maximum(now + water, 1.0), over, temperature, kpa,
                         mother, *_sieve(mass, sizes, born * small**3 * (of_fines > 0), small),
                         of_fines / np.maximum(solid, 1e-9), rate, steam_at(s, share)])  # fmt: skip
        step = np.where(ended, 0.0, STEP * growth)[:, None]
        # no faster than what is dissolved above saturation allows
        sizes = sizes + scatter * step * (sizes / middle[:, None]) ** BY_SIZE
        small = small + np.where((share >= FINES_AT) & ~ended, STEP * growth * 0.9, 0.0)
    if keep:
        names = ("share", "crystal", "over", "temperature", "kpa", "mother", "ma", "cv", "fines",
                 "rate", "steam")  # fmt: skip
        s.path = {name: np.array([row[j] for row in told]) for j, name in enumerate(names)}
    made: Floats = solid / now
    return made


def _positive(x: Floats) -> Floats:
    found: Floats = np.maximum(x, 0.0)
    return found


def _normal(chance: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(chance)


def _sieve(
    mass: Floats, sizes: Floats, fine: Floats, small: Floats
) -> tuple[Floats, Floats]:  # fmt: skip
    """Size that half of the mass exceeds, and CV by mass, of crystals and fines together."""
    all_mass, all_sizes = np.column_stack([mass, fine]), np.column_stack([sizes, small])
    order = np.argsort(all_sizes, axis=1)
    all_mass, all_sizes = (np.take_along_axis(a, order, 1) for a in (all_mass, all_sizes))
    whole = all_mass.sum(axis=1)
    below = (np.cumsum(all_mass, axis=1) - all_mass / 2.0) / whole[:, None]
    ma = np.array([np.interp(0.5, b, size) for b, size in zip(below, all_sizes)])
    mean = (all_mass * all_sizes).sum(axis=1) / whole
    square = (all_mass * (all_sizes - mean[:, None]) ** 2).sum(axis=1) / whole
    return ma, square**0.5 / ma


def purity_at(s: Strikes, share: Floats) -> Floats:
    """Purity of all that a pan holds: rich first, poorer as it is fed."""
    way = WAYS[s.grade]
    lift = {"A": 0.0, "B": 0.055, "C": 0.045}[s.grade]
    held = s.volume_at(share) / s.volume
    return s.purity + lift * way.at_start / (1.0 - way.at_start) * (1.0 / held - 1.0)


def steam_at(s: Strikes, share: Floats) -> Floats:
    """Steam to each pan [t/h], falling as the pan fills and stiffens."""
    hours = (s.drop - s.start) / 3600.0
    boiled = 0.37 * s.volume * s.density / 1000.0 / hours
    found: Floats = boiled * 1.14 * (1.35 - 0.7 * share)
    return found


def to_days(found: Floats, share: Floats, wanted: Floats) -> Floats:
    """The nearest to `found` whose shares by day, shape (strikes, days), add to what is wanted."""
    held = share.sum(axis=0) > 0.3
    a = share[:, held].T
    off = wanted[held] - a @ found
    nearest: Floats = found + a.T @ np.linalg.lstsq(a @ a.T, off, rcond=None)[0]
    return nearest


def drops(made: Sequence[float], day: float, each: float, first: float) -> Floats:
    """When strikes are dropped so that what is made leaves the pans as it comes [s].

    Parameters
    ----------
    made : massecuite of each day [m3]. day : length of one [s]. each : volume of a strike [m3].
    first : part of a strike that the first pan lacks at the beginning.
    """
    ends = np.concatenate([[0.0], np.cumsum(made)])
    ends += 1e-6 * np.arange(len(ends))  # rising through days without cane
    whole = np.arange(first * each, ends[-1] + 3 * each, each)
    times: Floats = np.interp(whole, ends, day * np.arange(len(ends)))
    late = whole > ends[-1]
    pace = max(float(np.mean(made)), 1.0) / day
    times[late] = day * len(made) + (whole[late] - ends[-1]) / pace
    return times
