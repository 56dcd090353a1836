"""The scale of a photograph, from one of a stage micrometer: a millimetre in hundredths."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput

PITCH = 10.0
"""Micrometres from line to line."""
FEWEST = 8
"""Fewest lines that say a scale."""


def um_per_pixel(picture: NDArray[Any], where: str) -> float:
    """Micrometres a pixel, by the lines of a stage micrometer at any turn.

    The direction in which the lines repeat and how often is the strongest wave of the picture; then
    the lines are found one by one along it, and a straight line through their numbers is the pitch.

    Raises
    ------
    BadInput : no row of even lines, or lines that two scales fit.
    """
    image = np.asarray(picture, float)
    image = image - image.mean()
    frequency, direction = _wave(image)
    if frequency == 0.0:
        raise BadInput("shows no row of even lines", where=where, todo="Take the micrometer anew")
    profile = _profile(image, direction)
    lines = _lines(profile, 1.0 / frequency)
    if len(lines) < FEWEST:
        raise BadInput("shows too few lines", where=where, value=len(lines),
                       allowed=f"{FEWEST} or more")  # fmt: skip
    gaps = np.diff(lines)
    pitch = float(np.median(gaps))
    number = np.concatenate([[0], np.cumsum(np.maximum(np.round(gaps / pitch), 1))])
    slope, start = np.polyfit(number, lines, 1)
    off = np.abs(lines - start - slope * number)
    if np.median(off) > 0.08 * slope or (np.round(gaps / slope) != 1).mean() > 0.2:
        raise BadInput("lines are not even: two scales fit", where=where,
                       value=[round(float(g), 1) for g in sorted(set(np.round(gaps, 1)))[:4]],
                       todo="Give --scale")  # fmt: skip
    return PITCH / float(slope)


def _wave(image: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Waves a pixel and direction (x, y) of the strongest repeat; its lowest tone."""
    h, w = image.shape
    window = np.outer(np.hanning(h), np.hanning(w))
    power = np.abs(np.fft.rfft2(image * window))
    fy, fx = np.fft.fftfreq(h)[:, None], np.fft.rfftfreq(w)[None, :]
    far = np.hypot(fx, fy)
    power[(far < 4.0 / min(h, w)) | (far > 0.3)] = 0.0
    peak = np.unravel_index(int(power.argmax()), power.shape)
    if power[peak] < 12.0 * np.median(power[power > 0.0]):
        return 0.0, np.zeros(2)
    at = np.array([fx[0, peak[1]], fy[peak[0], 0]])
    return float(np.hypot(*at)), at / np.hypot(*at)


def _profile(image: NDArray[np.float64], direction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean along the lines, against distance across them in pixels; the turn found to a hundredth
    of a degree, where the profile has most contrast."""
    h, w = image.shape
    y, x = np.mgrid[:h, :w]
    x, y = x - w / 2.0, y - h / 2.0
    middle = np.abs(-x * direction[1] + y * direction[0]) < 0.12 * min(h, w)
    x, y, part = x[middle], y[middle], image[middle]
    turn = float(np.arctan2(direction[1], direction[0]))
    best, found = -1.0, np.zeros(0)
    for wide, steps in ((0.02, 21), (0.002, 11)):
        for one in turn + np.linspace(-wide, wide, steps):
            across = x * np.cos(one) + y * np.sin(one)
            place = np.round((across - across.min()) * 2.0).astype(int)
            count = np.bincount(place)
            profile = np.bincount(place, part) / np.maximum(count, 1)
            profile[count < 0.3 * np.median(count)] = 0.0
            if profile.std() > best:
                best, found, turned = float(profile.std()), profile, one
        turn = turned
    return found


def _lines(profile: NDArray[np.float64], pitch: float) -> NDArray[np.float64]:
    """Where the dark lines are [px], each by the middle of what is dark."""
    from scipy.ndimage import gaussian_filter1d
    from scipy.signal import find_peaks

    dark = gaussian_filter1d(-profile, 1.0)
    if abs(dark.min()) > dark.max():
        dark = -dark
    dark -= np.median(dark)
    peaks, _ = find_peaks(dark, distance=max(pitch * 2.0 * 0.4, 2), prominence=0.35 * dark.max())
    reach = max(int(pitch * 2.0 * 0.25), 1)
    found = []
    for peak in peaks:
        span = slice(max(peak - reach, 0), peak + reach + 1)
        weight = np.maximum(dark[span] - 0.3 * dark[peak], 0.0)
        found.append(float(np.average(np.arange(len(dark))[span], weights=weight)) / 2.0)
    return np.array(found)
