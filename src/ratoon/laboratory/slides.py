"""Crystals on a proof slide: found on the picture, those that touch parted, outlined to a fraction
of a pixel.

The ground is evened out first and tested for contrast, so that a blank slide has no crystals. Then
what differs from the ground is filled in; regions that bend inwards are parted where they are
narrow. Each outline is drawn again at half the depth of its own edge, and moved by what blur did to
edges on this picture, measured on all of them together. scikit-image loads with the first picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.laboratory.slide_parts import parts_of

Floats = NDArray[np.float32]
Ints = NDArray[np.int32]
FIND_AT = 3_000_000
"""Pixels at which crystals are found; larger pictures are binned for it."""
REFINE_AT = 24_000_000
"""Pixels above which a picture is binned altogether: finer ones tell no more of a crystal."""
CLEAR = 5.0
"""How many times the noise the threshold must be, or there is nothing to see."""
CONVEX = 0.93
"""Area over that of the convex hull below which an outline is a conglomerate's."""
SMALLEST, SPUR = 9.0, 2.0
"""Smallest crystal that is counted [px across]; what is smaller may be dirt. How many times its
area a part of a region must have: less is a spur as well as a crystal."""


@dataclass(frozen=True)
class Found:
    """Crystals of a picture: outlines (n, 2) x and y [px], how many were parted, left out; blur.

    Attributes
    ----------
    parted : of each outline, whether it touched another. rejected : seen and not counted.
    moved : how far outlines were moved inwards for blur [px]. blur : of edges [px].
    """

    outlines: list[NDArray[np.float64]]
    parted: list[bool]
    rejected: int
    moved: float
    blur: float


NONE = Found([], [], 0, 0.0, 0.0)


def find_crystals(picture: NDArray[Any]) -> Found:
    """The crystals of a grey picture (rows, columns)."""
    if (over := int(np.ceil(np.sqrt(picture.size / REFINE_AT)))) > 1:
        found = find_crystals(_binned(picture, over))
        outlines = [over * o + (over - 1) / 2.0 for o in found.outlines]
        return replace(found, outlines=outlines, moved=over * found.moved, blur=over * found.blur)
    image = np.asarray(picture, np.float32)
    by = max(int(np.ceil(np.sqrt(image.size / FIND_AT))), 1)
    small = _binned(image, by)
    depth = _depth(small)
    if depth is None:
        return NONE
    labels, rejected, parted = _regions(depth, by)
    if not labels.max():
        return Found([], [], rejected, 0.0, 0.0)
    full = depth if by == 1 else _depth(image)
    return _outlined(full if full is not None else depth, labels, by, parted, rejected)


def _binned(image: NDArray[Any], by: int) -> Floats:
    if by == 1:
        return image
    h, w = (n // by * by for n in image.shape)
    parts = image[:h, :w].reshape(h // by, by, w // by, by)
    binned: Floats = parts.mean(axis=(1, 3), dtype=np.float32)
    return binned


def _depth(image: Floats) -> Floats | None:
    """How far each pixel is from the ground, positive in crystals; None where nothing is seen."""
    from scipy.ndimage import gaussian_filter, percentile_filter, zoom
    from skimage.filters import threshold_otsu

    if np.ptp(image) < 2.0:
        return None
    split = threshold_otsu(image)
    border = np.concatenate([image[0], image[-1], image[:, 0], image[:, -1]])
    darker = bool((border > split).mean() > 0.5)
    raised = (image.max() - image) if darker else image - image.min()
    by = max(max(image.shape) // 120, 1)
    coarse = _binned(raised, by)
    ground = percentile_filter(coarse, 25, size=max(min(coarse.shape) // 3, 9), mode="nearest")
    ground = gaussian_filter(ground, 4.0)
    wide = zoom(ground, [n / m for n, m in zip(image.shape, ground.shape)], order=1)
    even = gaussian_filter(raised - wide[: image.shape[0], : image.shape[1]], 0.7)
    part = even[:: max(even.shape[0] // 800, 1), :: max(even.shape[1] // 800, 1)]
    low = part[part < threshold_otsu(part)]
    even -= np.median(low)
    noise = 1.4826 * float(np.median(np.abs(low - np.median(low))))
    return even if threshold_otsu(part) - np.median(low) > CLEAR * noise > 0.0 else None


def _regions(depth: Floats, by: int) -> tuple[Ints, int, set[int]]:
    """Labels of crystals, how many regions were left out, which labels were parted from another."""
    from scipy.ndimage import binary_fill_holes
    from skimage.filters import threshold_otsu
    from skimage.measure import label, regionprops
    from skimage.morphology import disk, opening

    above = opening(binary_fill_holes(depth > threshold_otsu(depth)), disk(1))
    marked = label(above)
    labels = np.zeros(depth.shape, np.int32)
    rejected, count, parted = 0, 0, set()
    least = np.pi / 4.0 * (SMALLEST / by) ** 2
    for region in regionprops(marked):
        top, left, bottom, right = region.bbox
        edge = top == 0 or left == 0 or bottom == depth.shape[0] or right == depth.shape[1]
        if region.area < least or edge:
            rejected += 1
            continue
        window = labels[top:bottom, left:right]
        pieces = parts_of(region.image, least)
        for piece in pieces:
            if len(pieces) > 1 and piece.sum() < SPUR * least:
                rejected += 1
                continue
            count += 1
            window[piece] = count
            if len(pieces) > 1:
                parted.add(count)
    return labels, rejected, parted


# ----------------------------------------------------------------------------------- outlines


def _outlined(depth: Floats, labels: Ints, by: int, parted: set[int], rejected: int) -> Found:
    from skimage.measure import regionprops

    outlines, alone = [], []
    for region in regionprops(labels):
        outline = _own_outline(depth, labels, region, by)
        if outline is None:
            rejected += 1
            continue
        outlines.append(outline)
        alone.append(region.label not in parted)
    # large crystals have the straightest edges, and an inside that is none of their rim
    sharp = sorted((o for o, one in zip(outlines, alone) if one), key=area, reverse=True)
    moved, blur = _blurred([_across(depth, o) for o in sharp[: min(len(sharp) // 3 + 1, 100)]])
    # a blurred bend lies inside the true one by blur squared over its width
    shrunk = [_moved(o, moved - blur**2 / np.sqrt(4.0 * area(o) / np.pi)) for o in outlines]
    return Found(shrunk, [not one for one in alone], rejected, moved, blur)


def _own_outline(depth: Floats, labels: Ints, region: Any, by: int) -> NDArray[np.float64] | None:
    """The outline of a region at half the depth of its own edge, x and y in the full picture."""
    from scipy.ndimage import binary_dilation, binary_erosion
    from skimage.measure import find_contours
    from skimage.morphology import disk

    pad = 4
    top, left = (max(n - pad, 0) for n in region.bbox[:2])
    bottom, right = (n + pad for n in region.bbox[2:])
    near = labels[top:bottom, left:right]
    here, others = near == region.label, (near > 0) & (near != region.label)
    if by > 1:
        here, others = (x.repeat(by, 0).repeat(by, 1) for x in (here, others))
    part = depth[top * by : top * by + here.shape[0], left * by : left * by + here.shape[1]]
    here, others = (x[: part.shape[0], : part.shape[1]] for x in (here, others))
    core = binary_erosion(here, disk(2), iterations=2)
    rim = here & ~core
    full = float(np.percentile(part[rim], 80.0)) if rim.any() else 0.0
    if core.any():
        full = max(full, float(np.median(part[core])))
    if full <= 0.0:
        return None
    field = part / full - 0.5
    field[core] = np.maximum(field[core], 0.5)
    mine = binary_dilation(here, disk(3 * by)) & ~others
    field[~mine] = np.minimum(field[~mine], -0.5)
    contours = find_contours(np.pad(field, 1, constant_values=-0.5), 0.0)
    if not contours:
        return None
    longest = max(contours, key=len) - 1.0
    return np.column_stack([longest[:, 1] + left * by, longest[:, 0] + top * by])


EDGE = ([-4, 0.3, 0.3, 1.0, 0.0, -0.2], [4, 4.0, 5.0, 9.0, 1.0, 0.2])
"""Least and most of an edge: place, depth, blur, width of a rim, depth within it, of the ground."""
OUT = np.arange(-18.0, 9.01, 0.5)
"""Where edges are read, outwards from the outline [px]."""


def _normals(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.ndimage import gaussian_filter1d

    smooth = gaussian_filter1d(outline[:-1], 3.0, axis=0, mode="wrap")
    along = np.roll(smooth, -1, axis=0) - np.roll(smooth, 1, axis=0)
    out = np.column_stack([along[:, 1], -along[:, 0]])
    out /= np.maximum(np.hypot(*out.T), 1e-9)[:, None]
    x, y = outline[:-1].T
    if np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) < 0.0:
        out = -out
    return out


def _across(depth: Floats, outline: NDArray[np.float64]) -> NDArray[np.float64]:
    """Depth across the edge of a crystal, the median all round, at `OUT`."""
    from scipy.ndimage import map_coordinates

    step = max(len(outline) // 60, 1)
    at, out = outline[:-1][::step], _normals(outline)[::step]
    points = at[:, None, :] + OUT[None, :, None] * out[:, None, :]
    read = map_coordinates(depth, [points[..., 1], points[..., 0]], order=1, mode="nearest")
    return np.asarray(np.median(read, axis=0), float)


def _blurred(edges: list[NDArray[np.float64]]) -> tuple[float, float]:
    """How far outlines lie outside the true edges, and how wide the blur is [px].

    An edge is a step, or a dark band before a lighter inside, seen through a bell of blur.
    """
    if not edges:
        return 0.0, 0.0
    from scipy.optimize import least_squares
    from scipy.special import ndtr

    alike = np.array([e / max(e.max(), 1e-9) for e in edges])
    odd = ((alike - np.median(alike, axis=0)) ** 2).sum(axis=1)
    # their mean: a median of few has a shape of its own, which reads as a wider band
    seen = alike[odd <= np.quantile(odd, 0.8)].mean(axis=0)

    def off(p: NDArray[np.float64]) -> NDArray[np.float64]:
        edge, wide, blur, band, within, ground = p
        step = ndtr((edge - OUT) / blur) - (1.0 - within) * ndtr((edge - band - OUT) / blur)
        return np.asarray(wide * step + ground - seen)

    best = min(
        (least_squares(off, [0.0, 1.0, 1.5, 4.0, within, 0.0], bounds=EDGE)
         for within in (0.2, 0.95)), key=lambda fit: fit.cost,
    )  # fmt: skip
    return float(-best.x[0]), float(best.x[2])


def _moved(outline: NDArray[np.float64], inwards: float) -> NDArray[np.float64]:
    moved = outline[:-1] - inwards * _normals(outline)
    return np.vstack([moved, moved[:1]])


def area(outline: NDArray[np.float64]) -> float:
    """Area within an outline [px2]."""
    x, y = outline.T
    return float(0.5 * abs(np.dot(x[:-1], y[1:]) - np.dot(y[:-1], x[1:])))
