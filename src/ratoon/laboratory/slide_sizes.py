"""What a proof slide says of its crystals' sizes, by number or mass, with intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ratoon.laboratory.slides import Found, area, find_crystals

Floats = NDArray[np.float64]
Basis = Literal["number", "mass"]
WIDEST = 3.0
"""Half of the widest interval of what finding does to MA [%]."""
DRAWS = 400
"""How often a slide's crystals are drawn again to see how much chance there is in them."""


@dataclass(frozen=True, slots=True)
class SlideFigure:
    """A figure with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SlideBias:
    """What finding and parting does to this picture's figures, as seen on drawn pictures of such
    touching, edges and blur: MA and count in per cent of themselves, CV in its own units."""

    ma: SlideFigure
    cv: SlideFigure
    count: SlideFigure


@dataclass(frozen=True, slots=True)
class SlideResult:
    """Crystals of one slide.

    Attributes
    ----------
    rejected : what was seen and not counted: too small, cut by the edge of the picture.
    basis : whether a crystal counts once (number) or by its size cubed (mass).
    ma, cv : size that half exceed [um], standard deviation over it [%]. fines : share that is
        smaller than half of MA [%]. elongation : length over width, half of the crystals have less.
    sizes : diameters of equal circles [um], in pixels where there was no scale.
    outlines : of each, x to the right and y down [px].
    """

    count: int
    rejected: int
    basis: Basis
    ma: SlideFigure | None
    cv: SlideFigure | None
    fines: float | None
    elongation: float | None
    sizes: list[float]
    outlines: list[list[tuple[float, float]]]
    bias: SlideBias | None


def measured(picture: NDArray[Any], scale: float = 1.0, basis: Basis = "number") -> SlideResult:
    """The sizes on a grey picture (rows, columns) of so many micrometres a pixel."""
    found = find_crystals(picture)
    if not found.outlines:
        return SlideResult(0, found.rejected, basis, None, None, None, None, [], [], None)
    sizes = np.array([np.sqrt(4.0 * area(o) / np.pi) for o in found.outlines]) * scale
    weights = np.ones_like(sizes) if basis == "number" else sizes**3
    ma, cv = _ma_and_cv(sizes, weights)
    rng = np.random.default_rng(1)  # the same slide gives the same interval
    again = [rng.integers(0, len(sizes), len(sizes)) for _ in range(DRAWS)]
    drawn = np.array([_ma_and_cv(sizes[k], weights[k]) for k in again])
    low, high = np.percentile(drawn, [2.5, 97.5], axis=0)
    fine = float(weights[sizes < ma / 2.0].sum() / weights.sum())
    return SlideResult(
        len(sizes), found.rejected, basis, SlideFigure(ma, float(low[0]), float(high[0])),
        SlideFigure(cv, float(low[1]), float(high[1])), 100.0 * fine,
        float(np.median([elongation(o) for o in found.outlines])),
        [round(float(size), 3) for size in sizes],
        [[(round(float(x), 2), round(float(y), 2)) for x, y in o] for o in found.outlines],
        _bias(found),
    )  # fmt: skip


def _ma_and_cv(sizes: Floats, weights: Floats) -> tuple[float, float]:
    """The size that half of the weight exceeds, and standard deviation over it [%]."""
    order = np.argsort(sizes)
    below = np.cumsum(weights[order]) - weights[order] / 2.0
    ma = float(np.interp(below[-1] + weights[order][-1] / 2.0, 2.0 * below, sizes[order]))
    mean = float(np.average(sizes, weights=weights))
    spread = float(np.sqrt(np.average((sizes - mean) ** 2, weights=weights)))
    return ma, 100.0 * spread / ma


def elongation(outline: Floats) -> float:
    """Length over width of the narrowest box round an outline [-]."""
    turns = np.radians(np.arange(0.0, 180.0, 5.0))
    reach = outline @ np.vstack([np.cos(turns), np.sin(turns)])
    wide = np.ptp(reach, axis=0)
    narrow = int(wide.argmin())
    return float(wide[(narrow + len(turns) // 2) % len(turns)] / wide[narrow])


def _bias(found: Found) -> SlideBias:
    touching = float(np.mean(found.parted))
    rimmed = found.moved > 0.1
    # by drawn pictures: a thin dark rim blurred past 1.7 px cannot be told from a wider one
    rim = 1.8 * max(found.blur - 1.7, 0.0) if rimmed else 0.0
    ma = rim, min(0.9 + rim + 6.0 * touching, WIDEST)
    cv = 3.0 * touching - 0.5 * rim, 0.3 + 0.5 * rim + 8.0 * touching
    count = 0.0, 0.5 + 15.0 * touching
    ma_, cv_, count_ = (SlideFigure(x, x - half, x + half) for x, half in (ma, cv, count))
    return SlideBias(ma_, cv_, count_)
