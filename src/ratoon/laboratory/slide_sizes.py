"""What a proof slide says of its crystals' sizes, by number or mass, with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ratoon.laboratory.slides import CONVEX, Found, area, find_crystals

Floats = NDArray[np.float64]
Basis = Literal["number", "mass"]
WIDEST = 3.0
"""Half of the widest interval of what finding does to MA [%]."""
DRAWS = 400
"""How often a slide's crystals are drawn again to see how much chance there is in them."""

TURNS = np.array([f(np.radians(np.arange(180.0))) for f in (np.cos, np.sin)])
"""Directions in which outlines are measured, half a turn."""
SHARES = (0.05, 0.1, 0.16, 0.25, 0.5, 0.75, 0.84, 0.9, 0.95)
"""Shares of the weight at which the distribution is told."""


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


@dataclass(frozen=True, slots=True)
class Shape:
    """Length and width of the narrowest box round an outline [px]; its area on that of its hull."""

    length: float
    width: float
    convexity: float

    @property
    def is_conglomerate(self) -> bool:
        """Whether it bends inwards as one crystal does not: several grown together."""
        return self.convexity < CONVEX


def measured(picture: NDArray[Any], scale: float = 1.0, basis: Basis = "number") -> SlideResult:
    """The sizes on a grey picture (rows, columns) of so many micrometres a pixel."""
    return sized(find_crystals(picture), scale, basis)


def sized(
    found: Found, scale: float = 1.0, basis: Basis = "number", shapes: Sequence[Shape] = ()
) -> SlideResult:
    """The sizes of crystals as they were found, or as a person left them; their shapes if known."""
    if not found.outlines:
        return SlideResult(0, found.rejected, basis, None, None, None, None, [], [], None)
    sizes = np.array([np.sqrt(4.0 * area(o) / np.pi) for o in found.outlines]) * scale
    ma, cv, fine = spread_of(sizes, basis)
    shapes = shapes or [shape_of(o) for o in found.outlines]
    return SlideResult(
        len(sizes), found.rejected, basis, ma, cv, fine,
        float(np.median([s.length / s.width for s in shapes])),
        [round(float(size), 3) for size in sizes],
        [[(x, y) for x, y in np.round(o, 2).tolist()] for o in found.outlines],
        _bias(found),
    )  # fmt: skip


def spread_of(sizes: Floats, basis: Basis) -> tuple[SlideFigure, SlideFigure, float]:
    """MA in the unit of the sizes and CV [%], each with its interval of chance; fines [%]."""
    ordered, weights = _drawn(sizes, basis)
    ma = _passed(ordered, weights, (0.5,))[:, 0]
    share = weights / weights.sum(axis=1, keepdims=True)
    mean = share @ ordered
    cv = 100.0 * np.sqrt(np.maximum(share @ ordered**2 - mean**2, 0.0)) / ma
    fine = 100.0 * float(share[0, ordered < ma[0] / 2.0].sum())
    return _figure(ma), _figure(cv), fine


def distribution(sizes: Floats, basis: Basis) -> list[tuple[float, SlideFigure]]:
    """Share of the weight that is smaller [%], and the size at which it is, with its interval."""
    passed = _passed(*_drawn(sizes, basis), SHARES)
    return [(100.0 * share, _figure(values)) for share, values in zip(SHARES, passed.T)]


def _drawn(sizes: Floats, basis: Basis) -> tuple[Floats, Floats]:
    """Sizes in order; their weights as they are, then as often drawn again, shape (1 + DRAWS, n).

    The same slide gives the same draws.
    """
    ordered, n = np.sort(sizes), len(sizes)
    weights = np.ones_like(ordered) if basis == "number" else ordered**3
    times = np.random.default_rng(1).multinomial(n, np.full(n, 1.0 / n), DRAWS)
    return ordered, np.vstack([weights, times * weights])


def _passed(ordered: Floats, weights: Floats, shares: Sequence[float]) -> Floats:
    """The sizes at which so much of the weight is smaller, shape (draws, shares)."""
    below = (weights.cumsum(axis=1) - weights / 2.0) / weights.sum(axis=1, keepdims=True)
    return np.array([np.interp(shares, one, ordered) for one in below])


def _figure(drawn: Floats) -> SlideFigure:
    """The first as the figure, the others as its interval."""
    low, high = np.percentile(drawn[1:], [2.5, 97.5])
    return SlideFigure(float(drawn[0]), float(low), float(high))


def shape_of(outline: Floats) -> Shape:
    """The shape of an outline, by how far it reaches in every direction."""
    reach = outline @ TURNS
    first, last = reach.argmax(axis=0), reach.argmin(axis=0)
    turns = np.arange(reach.shape[1])
    wide = reach[first, turns] - reach[last, turns]
    narrow, half = int(wide.argmin()), len(wide) // 2
    hull = outline[[*first, *last, first[0]]]  # its corners, in turn
    return Shape(float(wide[(narrow + half) % len(wide)]), float(wide[narrow]),
                 area(outline) / area(hull))  # fmt: skip


def _bias(found: Found) -> SlideBias:
    touching = float(np.mean(found.parted))
    # an edge that is blurred more says less of where it is, that of a dark rim least
    edge = 0.6 + (0.4 * found.blur if found.moved > 0.1 else 0.0)
    ma = -1.5 * touching, min(edge + 5.0 * touching, WIDEST)
    cv = 0.0, 0.4 + 6.0 * touching
    count = 0.0, 0.5 + 12.0 * touching
    ma_, cv_, count_ = (SlideFigure(x, x - half, x + half) for x, half in (ma, cv, count))
    return SlideBias(ma_, cv_, count_)
