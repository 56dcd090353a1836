"""Photographs of proof slides, drawn: crystals of a strike's true sizes, some over others, dirt.

They lie in the folder `photographs` with one of a stage micrometer; what is truly on them is told
in `truth/photographs.json`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ratoon.demo.boiling import Strikes
from ratoon.demo.hours import Floats

Pixels = NDArray[np.uint8]
FOLDER = "photographs"
SHAPE, SCALE = (1200, 1600), 2.0
"""Rows and columns; micrometres a pixel, as the micrometer beside them shows it."""
COUNT, OVER, ELONGATION = 60, 0.2, 1.3
"""Crystals, the share of them that lies over another, and their length over width."""
BLUR, SHARE = 1.4, 0.5
"""Of the camera [px]; when in a strike's time the slide was taken."""
OUTLINE = np.array([[-0.5, -0.28], [-0.2, -0.5], [0.24, -0.5], [0.5, -0.2], [0.5, 0.26],
                    [0.2, 0.5], [-0.24, 0.5], [-0.5, 0.22]])  # fmt: skip
"""A crystal of one by one, as it lies on its broad face."""


def write_photographs(
    folder: Path, seed: int, strikes: Iterable[tuple[str, Strikes, int]],
    clock: Callable[[float], str],
) -> None:  # fmt: skip
    """Draw a slide of each strike.

    Parameters
    ----------
    strikes : the name of each, and where it stands among those of its grade.
    """
    from PIL import Image

    place = folder / FOLDER
    place.mkdir(exist_ok=True)
    told = []
    for number, (name, s, k) in enumerate(strikes):
        j = int(np.argmin(np.abs(s.path["share"][:, k] - SHARE)))
        ma, cv = float(s.path["ma"][j][k]), float(s.path["cv"][j][k])
        picture, widths = _slide(np.random.default_rng([seed, 31, number]), 1e6 * ma, cv)
        taken = clock(s.start[k] + float(s.path["share"][j, k]) * (s.drop[k] - s.start[k]))
        file = f"{name}@{taken.replace(':', '')}.jpg"  # as a laboratory names them
        Image.fromarray(picture).save(place / file, quality=80)
        order = np.sort(widths)
        passed = (np.cumsum(order**3) - order**3 / 2.0) / (order**3).sum()
        told.append({"strike": name, "time": taken, "file": file, "crystals": len(widths),
                     "ma": round(1e-3 * float(np.interp(0.5, passed, order)), 4),
                     "scale": SCALE})  # fmt: skip
    lines = _micrometer(np.random.default_rng([seed, 32]))
    Image.fromarray(lines).save(place / "micrometer.jpg", quality=85)
    text = json.dumps(told, indent=1) + "\n"
    (folder / "truth" / "photographs.json").write_text(text, encoding="utf-8")


def _slide(rng: np.random.Generator, ma: float, cv: float) -> tuple[Pixels, Floats]:
    """A picture, and the widths of its crystals [um]: log-normal with MA and CV by mass."""
    from scipy.ndimage import gaussian_filter

    square = np.log((1.0 + np.sqrt(1.0 + 4.0 * cv * cv)) / 2.0)
    sizes = ma * np.exp(-3.0 * square + np.sqrt(square) * rng.standard_normal(COUNT))
    sizes = np.sort(sizes.clip(0.3 * ma, 1.6 * ma))[::-1]
    dark = np.zeros(SHAPE)
    taken: list[tuple[float, float, float]] = []
    widths: list[float] = []
    over = set(rng.choice(np.arange(1, COUNT), round(OVER * COUNT / 2), replace=False).tolist())
    for n, size in enumerate(sizes):
        reach = 0.5 * ELONGATION * size / SCALE
        at = _place(rng, reach, taken, n in over)
        if at is None:
            continue
        turn = rng.uniform(0.0, np.pi)
        corners = OUTLINE * [ELONGATION, 1.0] * size / SCALE
        corners = corners @ [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
        _stamp(dark, corners + at, rng.uniform(0.8, 1.0))
        taken.append((float(at[0]), float(at[1]), float(reach)))
        widths.append(float(size))
    for _ in range(14):  # dirt
        y, x = rng.integers(10, SHAPE[0] - 10), rng.integers(10, SHAPE[1] - 10)
        dark[y : y + rng.integers(2, 6), x : x + rng.integers(2, 6)] = 0.9
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]] / SHAPE[1]
    light = 195.0 + 30.0 * (x - 0.4) - 45.0 * ((x - 0.5) ** 2 + (y - 0.4) ** 2)
    seen = gaussian_filter(light * (1.0 - 0.5 * dark), BLUR) + 2.5 * rng.standard_normal(SHAPE)
    picture: Pixels = seen.clip(0, 255).astype(np.uint8)
    return picture, np.array(widths)


def _place(
    rng: np.random.Generator, reach: float, taken: list[tuple[float, float, float]], over: bool
) -> Floats | None:
    """Where a crystal lies free of all others, or over one of them alone."""
    most = np.array(SHAPE[::-1], float)
    for _ in range(300):
        at = rng.uniform(reach + 8.0, most - reach - 8.0)
        if over and taken:
            x, y, other = taken[rng.integers(len(taken))]
            turn, far = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.66, 0.74) * (reach + other)
            at = np.array([x, y]) + far * np.array([np.cos(turn), np.sin(turn)])
        near = sum(np.hypot(at[0] - x, at[1] - y) < r + reach + 7.0 for x, y, r in taken)
        if (
            near == (1 if over else 0)
            and (at > reach + 8.0).all()
            and (at < most - reach - 8).all()
        ):
            return at
    return None


def _stamp(dark: Floats, corners: Floats, depth: float) -> None:
    """Darken what lies within a convex outline, corners turning one way."""
    low = np.floor(corners.min(axis=0)).astype(int) - 2
    high = np.ceil(corners.max(axis=0)).astype(int) + 3
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]] + 0.5
    inside = np.full(x.shape, 1.0)
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0)):
        # how far within a side [px], so that the edge of a pixel is half dark
        off = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / np.hypot(bx - ax, by - ay)
        inside = np.minimum(inside, np.clip(0.5 + off, 0.0, 1.0))
    part = dark[low[1] : high[1], low[0] : high[0]]
    np.maximum(part, depth * inside, out=part)


def _micrometer(rng: np.random.Generator) -> Pixels:
    """Hundredths of a millimetre through the same objective, a little askew."""
    from scipy.ndimage import gaussian_filter

    turn, pitch = 0.21, 10.0 / SCALE
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]] - np.array(SHAPE)[:, None, None] / 2.0
    along = (x * np.cos(turn) + y * np.sin(turn)) / pitch
    across = y * np.cos(turn) - x * np.sin(turn)
    line = np.clip(0.8 - pitch * np.abs(along - np.round(along)), 0.0, 1.0)
    long = np.where(
        np.round(along) % 10 == 0, 330.0, np.where(np.round(along) % 5 == 0, 270.0, 220.0)
    )
    line *= (np.abs(across) < long) & (np.abs(along) <= 50.2)
    seen = gaussian_filter(200.0 * (1.0 - 0.7 * line), 0.8) + 2.0 * rng.standard_normal(SHAPE)
    found: Pixels = seen.clip(0, 255).astype(np.uint8)
    return found
