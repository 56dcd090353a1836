"""Proof slides and stage micrometers drawn with a known truth; they know nothing of the finding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter

Floats = NDArray[np.float64]
FINER = 3
"""Points across a pixel where crystals are drawn."""


@dataclass(frozen=True)
class Slide:
    """A picture of 0 to 255 and what is on it: sizes of equal circles [px], centres."""

    picture: NDArray[np.uint8]
    sizes: Floats
    centres: Floats


def crystal(rng: np.random.Generator, size: float, elongation: float) -> Floats:
    """A convex outline of corners cut at random, of the area of a circle of that size."""
    turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, 9) + 0.0)
    turns = np.linspace(0.0, 2.0 * np.pi, 10)[:-1] + 0.25 * (turns - turns.mean()) * 0.2
    points = np.column_stack([np.cos(turns) * np.sqrt(elongation),
                              np.sin(turns) / np.sqrt(elongation)])  # fmt: skip
    turn = rng.uniform(0.0, np.pi)
    points = points @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return points * size * np.sqrt(np.pi / 4.0 / area(points))


def area(points: Floats) -> float:
    x, y = points.T
    return float(0.5 * abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))))


def inside(points: Floats, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Pixels within a convex outline (x, y)."""
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    found = np.ones(shape, bool)
    centre = points.mean(axis=0)
    for one, two in zip(points, np.roll(points, -1, axis=0)):
        side = (two - one)[[1, 0]] * [1.0, -1.0]
        out = side if np.dot(one - centre, side) > 0.0 else -side
        found &= (x - one[0]) * out[0] + (y - one[1]) * out[1] <= 0.0
    return found


def slide(
    seed: int, *, rim: bool = False, blur: float = 1.0, touching: float = 0.0, count: int = 90,
    size: float = 44.0, cv: float = 0.30, shape: tuple[int, int] = (1000, 1300),
    elongation: float = 1.35, dirt: int = 8, noise: float = 3.0,
) -> Slide:  # fmt: skip
    """A slide of crystals on a bright ground, solid or with a dark rim."""
    rng = np.random.default_rng(seed)
    sigma = np.sqrt(np.log1p(cv**2))
    sizes = size * np.exp(rng.normal(0.0, sigma, count)).clip(0.45, 2.6)
    sizes = np.sort(sizes)[::-1]
    dark = np.zeros(shape)
    taken: list[tuple[float, float, float]] = []
    pairs = (
        set(rng.choice(count, round(count * touching / 2.0), replace=False)) if touching else set()
    )
    kept, centres = [], []
    for n, one in enumerate(sizes):
        outline = crystal(rng, one, elongation * rng.uniform(0.85, 1.15))
        at = _place(rng, outline, taken, shape, bool(taken) and n in pairs)
        if at is None:
            continue
        _draw(dark, outline + at, rim, rng.uniform(0.8, 1.0))
        taken.append((at[0], at[1], np.abs(outline).max(axis=0).max()))
        kept.append(one)
        centres.append(at)
    for _ in range(dirt):
        y, x = rng.integers(20, shape[0] - 20), rng.integers(20, shape[1] - 20)
        dark[y : y + rng.integers(2, 5), x : x + rng.integers(2, 5)] = 0.9
    y, x = np.mgrid[: shape[0], : shape[1]] / max(shape)
    light = (
        200.0
        + 40.0 * rng.uniform(-1.0, 1.0) * (x - 0.5)
        + 40.0 * rng.uniform(-1.0, 1.0) * (y - 0.4)
    )
    light -= 50.0 * rng.uniform(0.0, 1.0) * ((x - 0.5) ** 2 + (y - 0.4) ** 2)
    picture = gaussian_filter(light * (1.0 - 0.55 * dark), blur)
    picture += rng.normal(0.0, noise, shape)
    return Slide(picture.clip(0, 255).astype(np.uint8), np.array(kept), np.array(centres))


def _place(rng, outline, taken, shape, beside):  # type: ignore[no-untyped-def]
    reach = np.abs(outline).max()
    for _ in range(400):
        if beside:
            x, y, other = taken[rng.integers(len(taken))]
            turn = rng.uniform(0.0, 2.0 * np.pi)
            far = (other + reach) * rng.uniform(0.72, 0.85)
            at = np.array([x + far * np.cos(turn), y + far * np.sin(turn)])
        else:
            at = rng.uniform(reach + 6.0, np.array(shape[::-1]) - reach - 6.0)
        if (at < reach + 6.0).any() or (at > np.array(shape[::-1]) - reach - 6.0).any():
            continue
        gaps = [np.hypot(at[0] - x, at[1] - y) - r - reach for x, y, r in taken]
        near = sum(gap < 8.0 for gap in gaps)
        if near == (1 if beside else 0):
            return at
    return None


def _draw(dark: Floats, outline: Floats, rim: bool, depth: float) -> None:
    low = np.floor(outline.min(axis=0)).astype(int) - 2
    high = np.ceil(outline.max(axis=0)).astype(int) + 3
    fine = inside((outline - low) * FINER, tuple((high - low)[::-1] * FINER))
    if rim:
        deep = distance_transform_edt(fine) / FINER
        shade = np.where(fine, np.where(deep < 4.0, 1.0, 0.12), 0.0)
    else:
        shade = fine.astype(float)
    h, w = (high - low)[::-1]
    coarse = depth * shade.reshape(h, FINER, w, FINER).mean(axis=(1, 3))
    part = dark[low[1] : high[1], low[0] : high[0]]
    np.maximum(part, coarse, out=part)


def micrometer(seed: int, pitch: float, turn: float, blur: float = 2.0) -> NDArray[np.uint8]:
    """A stage micrometer of hundredths of a millimetre, longer at each fifth and tenth."""
    rng = np.random.default_rng(seed)
    shape = (800, 1000)
    y, x = np.mgrid[: shape[0], : shape[1]]
    along = (x - 500.0) * np.cos(turn) + (y - 400.0) * np.sin(turn)
    across = -(x - 500.0) * np.sin(turn) + (y - 400.0) * np.cos(turn)
    phase = along / pitch + rng.uniform(-0.5, 0.5)
    near = np.round(phase)
    width = min(0.12 * pitch, 3.0)
    line = np.clip(0.5 + width / 2.0 - np.abs(phase - near) * pitch, 0.0, 1.0)
    length = np.where(near % 10 == 0, 260.0, np.where(near % 5 == 0, 200.0, 150.0))
    line *= (np.abs(across) < length) & (np.abs(near) <= 50)
    picture = gaussian_filter(205.0 * (1.0 - 0.6 * line), blur) + rng.normal(0.0, 3.0, shape)
    return picture.clip(0, 255).astype(np.uint8)
