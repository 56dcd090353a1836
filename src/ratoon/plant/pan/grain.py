"""False grain: crystals born in a strike that was to grow those it had, by mass at the drop.

What sieves keep of a strike with a shower is less on each sieve, in the shape of a whole grist
shrunk; what makes clean strikes differ (size, CV, who sieves) has another shape. How the mill's own
clean strikes scatter tells the one from the other, and how little can be seen at all. Slides taken
on the way say what size and CV the grist was heading for. Nothing is assumed of how crystals grow.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from ratoon.base.strikes import SIEVE, aperture
from ratoon.plant.pan.records import StrikeRecord

Floats = NDArray[np.float64]
FEWEST = 20
"""Strikes of a grade without which nothing is judged: how they scatter is not known."""
ROUNDS, OUT, DIRTY = 12, 1e-3, 2.0
"""Rounds of finding how clean strikes scatter; chance by which a strike is too odd to tell of it;
spreads of fines from which on it may have some."""
READ = 0.003
"""Spread that any reading has at least, on what a sieve keeps or a logarithm of size [-]."""
ONE_IN, MEAN = 50.0, 0.04
"""How often a strike has false grain before it is looked at, and how much then by mass of crystal:
our own, stated so that a chance can be given. Calls do not rest on them."""
SEEN = 0.02
"""Fines on a slide, by mass, from which on they count as seen."""


@dataclass(frozen=True, slots=True)
class Grain:
    """What is found of one strike.

    Attributes
    ----------
    fines, sigma : by mass of crystal at the drop. least : of which 90 of 100 strikes would be
        called. chance : that it has false grain. called : beyond what one clean strike of the
        season may show. since, until : when it was made.
    """

    fines: float
    sigma: float
    least: float
    chance: float
    called: bool
    since: datetime
    until: datetime


def least_called(sigma: float, strikes: int) -> float:
    """Fines of which nine strikes in ten are called, of a season of so many strikes."""
    return (threshold(strikes) + NormalDist().inv_cdf(0.9)) * sigma


def threshold(strikes: int) -> float:
    """Standard uncertainties beyond which false grain is called.

    One false call in all the strikes tested is to be expected, and one in a hundred at most.
    """
    return NormalDist().inv_cdf(1.0 - 1.0 / max(strikes, 100))


def grains(strikes: Sequence[StrikeRecord], season: int) -> dict[str, Grain]:
    """What is found of the strikes of one grade, by strike; those without sieves are not in it.

    Parameters
    ----------
    season : strikes of all grades that are tested in a season.
    """
    features = {s.id: _features(s) for s in strikes if not s.contradictions and s.drop}
    sieves = _common(f for f in features.values())
    by_kind: dict[tuple[str, ...], list[StrikeRecord]] = {}
    for s in strikes:
        own = features.get(s.id, {})
        if sieves and all(name in own for name in sieves):
            slides = tuple(n for n in SLIDES if n in own)
            for names in {(*sieves, *slides), sieves}:
                by_kind.setdefault(names, []).append(s)
    found: dict[str, Grain] = {}
    for names in sorted(by_kind, key=len):  # what is judged with more readings comes last
        mine = by_kind[names]
        if len(mine) >= FEWEST + 2 * len(names):
            values = np.array([[features[s.id][n] for n in names] for s in mine])
            found |= {
                s.id: _grain(s, *pair, season)
                for s, pair in zip(mine, _matched(values, len(sieves)))
            }
    return found


SLIDES = ("size_0", "cv_0", "size_1", "cv_1")


def _features(s: StrikeRecord) -> dict[str, float]:
    """What sieves keep, and the logarithm of size and CV of the first and last slide by mass."""
    found: dict[str, float] = {}
    rows = [r for r in s.rows if r.event == "sieve" and aperture(r.quantity)]
    found |= {r.quantity: r.value for r in rows if r.time == rows[-1].time}
    slides: dict[datetime, dict[str, float]] = {}
    for r in s.rows:
        if r.event == "slide" and r.tags.get("basis") == "mass" and r.value > 0.0:
            slides.setdefault(r.time, {})[r.quantity] = r.value
    whole = [v for v in slides.values() if {"ma", "cv"} <= {*v}]
    for n, v in enumerate((whole[0], whole[-1]) if len(whole) > 1 else ()):
        found |= {f"size_{n}": float(np.log(v["ma"])), f"cv_{n}": v["cv"]}
    return found


def _common(features: Iterable[Mapping[str, float]]) -> tuple[str, ...]:
    """The set of sieves that most strikes were sieved on."""
    counted: dict[tuple[str, ...], int] = {}
    for one in features:
        names = tuple(sorted(n for n in one if n.startswith(SIEVE)))
        if len(names) > 1:
            counted[names] = counted.get(names, 0) + 1
    return max(counted, key=lambda n: counted[n], default=())


def _matched(values: Floats, sieves: int) -> list[tuple[float, float]]:
    """Fines of each strike and their standard uncertainty, by how the strikes scatter."""
    from scipy.special import chdtri

    count, size = values.shape
    keep = np.ones(count, dtype=bool)
    for _ in range(ROUNDS):
        middle = values[keep].mean(axis=0)
        spread = np.cov(values[keep].T) + READ**2 * np.eye(size)
        off = values - middle
        odd = np.einsum("ij,ij->i", off, np.linalg.solve(spread, off.T).T)
        shape = np.concatenate([-middle[:sieves], np.zeros(size - sieves)])
        weights = np.linalg.solve(spread, shape)
        fines: Floats = off @ weights / (shape @ weights)
        centre = float(np.median(fines))
        # clean strikes below the middle tell the scatter, those above may have some fines
        below = 1.4826 * float(np.median(centre - fines[fines <= centre]))
        keep = (odd < chdtri(size, OUT)) & (fines - centre < DIRTY * below)
    few = 1.0 + size / keep.sum()  # what the scatter was found from is not what is tested
    sigma = few * below
    # a strike that is odd in other ways too is judged the less surely
    rest = (odd - fines**2 * (shape @ weights)) / (2.0 * size)
    return [(float(f - centre), sigma * float(max(r, 1.0) ** 0.5)) for f, r in zip(fines, rest)]


def _grain(s: StrikeRecord, fines: float, sigma: float, season: int) -> Grain:
    since, until = _when(s)
    return Grain(max(fines, 0.0), sigma, least_called(sigma, season), _chance(fines, sigma),
                 fines > threshold(season) * sigma, since, until)  # fmt: skip


def _chance(fines: float, sigma: float) -> float:
    """That a strike has false grain, by how often and how much of it there is in strikes."""
    amounts = (np.arange(400) + 0.5) * 0.001
    weights = np.exp(-amounts / MEAN)
    off = ((fines - amounts) ** 2 - fines**2) / (2.0 * sigma**2)
    for_it = float((weights * np.exp(-np.maximum(off, -600.0))).sum() / weights.sum())
    odds = for_it / (ONE_IN - 1.0)
    return odds / (1.0 + odds)


def _when(s: StrikeRecord) -> tuple[datetime, datetime]:
    """Between which moments it was made: after the last clean slide, before the first that shows
    fines, else before the drop."""
    since, until = s.start, s.drop or s.seen
    for r in s.rows:
        if r.event == "slide" and r.quantity == "fines" and since <= r.time < until:
            if r.value >= SEEN:
                return since, r.time
            if r.value < SEEN / 2.0:
                since = r.time
    return since, until
