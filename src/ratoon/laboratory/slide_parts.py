"""Crystals that touch, parted: a region that bends inwards is cut from its notches, one by one.

A crystal is convex, so an outline that bends inwards is of several. The cut goes from a notch to
where the region is narrow for all that lies behind it, another notch sooner than a straight side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
DEEP, SHARE = 2.0, 0.035
"""How deep a notch must be: in pixels, and on the region's own size."""
NARROW = 0.62
"""Length of a cut on the shorter way round from which on a region is not narrow there."""
NOTCHES, PARTS = 5, 12
"""Deepest notches from which cuts are tried; most parts of one region."""
OTHER, ALONE = 0.25, 2.5
"""How much a cut gains, on its narrowness, that ends in another notch; how many times as deep a
notch must be from which a cut goes to a straight side."""


@dataclass(frozen=True)
class _Ring:
    """A closed outline: points (n, 2), way along it to each, how deep each lies in its hull."""

    points: Floats
    way: Floats
    depth: Floats

    @property
    def size(self) -> float:
        x, y = self.points.T
        return float(np.sqrt(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0))


def parts_of(region: Mask, least: float) -> list[Mask]:
    """The crystals of a region, as masks of its own window.

    Parameters
    ----------
    least : area of the smallest crystal [px2]; a cut that leaves less is not made.
    """
    from scipy.ndimage import gaussian_filter
    from skimage.draw import polygon2mask
    from skimage.measure import find_contours

    padded = np.pad(region, 3).astype(np.float32)
    lines = find_contours(gaussian_filter(padded, 1.0), 0.5)
    if not lines:
        return [region]
    rings = _convex(max(lines, key=len)[:-1] - 3.0, least)
    if len(rings) < 2:
        return [region]
    return [polygon2mask(region.shape, r) & region for r in rings]


def _convex(outline: Floats, least: float) -> list[Floats]:
    """An outline, or those of its parts."""
    done: list[Floats] = []
    waiting = [outline]
    while waiting:
        one = waiting.pop()
        cut = _cut(_ring(one), least) if len(done) + len(waiting) < PARTS else None
        if cut is None:
            done.append(one)
            continue
        first, last = cut
        waiting += [one[first : last + 1], np.vstack([one[last:], one[: first + 1]])]
    return done


def _ring(points: Floats) -> _Ring:
    from scipy.spatial import ConvexHull

    steps = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    way = np.concatenate([[0.0], steps.cumsum()])
    corners = np.sort(ConvexHull(points).vertices)
    before = np.searchsorted(corners, np.arange(len(points)), side="right") - 1
    first = points[corners[before]]
    side = points[np.roll(corners, -1)[before]] - first
    off = points - first
    depth = abs(off[:, 0] * side[:, 1] - off[:, 1] * side[:, 0]) / np.hypot(*side.T)
    return _Ring(points, way, depth)


def _cut(ring: _Ring, least: float) -> tuple[int, int] | None:
    """The best cut, as places on the ring; None where it is one crystal."""
    n = len(ring.points)
    deep = max(DEEP, SHARE * ring.size)
    if n < 12 or ring.depth.max() < deep:
        return None
    around = np.maximum(np.roll(ring.depth, 1), np.roll(ring.depth, -1))
    notches = np.flatnonzero((ring.depth >= around) & (ring.depth >= deep))
    best: tuple[float, int, int] | None = None
    for p in notches[np.argsort(-ring.depth[notches])][:NOTCHES]:
        long = np.hypot(*(ring.points - ring.points[p]).T)
        way = abs(ring.way[:-1] - ring.way[p])
        round_ = np.minimum(way, ring.way[-1] - way)
        narrow = long / np.maximum(round_, 1e-9)
        other = np.minimum(ring.depth / deep, 1.0)
        cost = narrow - OTHER * other
        bare = (other < 0.5) & (ring.depth[p] < ALONE * deep)
        cost[bare | (narrow > NARROW) | (round_ < 4.0)] = np.inf
        for q in np.argsort(cost)[:3]:
            if not np.isfinite(cost[q]) or (best and cost[q] >= best[0]):
                break
            first, last = sorted((int(p), int(q)))
            pieces = _area(ring.points[first : last + 1]), _area(
                np.vstack([ring.points[last:], ring.points[: first + 1]]))  # fmt: skip
            if min(pieces) >= least:
                best = float(cost[q]), first, last
                break
    return None if best is None else best[1:]


def _area(points: Floats) -> float:
    x, y = points.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0)
