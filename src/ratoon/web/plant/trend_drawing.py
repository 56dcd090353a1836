"""A quantity over the days: a dot on its 95 % interval for each, the target as a gold line."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ratoon.reports.numbers import COVERAGE, grouped, short_day
from ratoon.reports.svg import drawing, element, line, words
from ratoon.reports.tokens import COLOURS

SIZE = 11.6


@dataclass(frozen=True, slots=True)
class Point:
    """A day's figure; `value` None where it was not determined, hollow when suspect."""

    date: str
    value: float | None
    sigma: float | None = None
    doubted: bool = False


def range_of(points: Sequence[Point], target: float | None) -> tuple[float, float]:
    """Lowest and highest of what is to be drawn: all dots, and all but the widest intervals."""
    halves = sorted(COVERAGE * p.sigma for p in points if p.value is not None and p.sigma)
    most = 2.0 * halves[len(halves) // 2] if halves else 0.0
    ends = [] if target is None else [target]
    for p in points:
        if p.value is not None:
            half = min(COVERAGE * (p.sigma or 0.0), most)
            ends += [p.value - half, p.value + half]
    low, high = min(ends), max(ends)
    if high - low < 1e-9 * max(abs(high), 1.0):
        low, high = low - 0.5 - abs(low) * 0.01, high + 0.5 + abs(high) * 0.01
    return low, high


def _decimals(low: float, high: float) -> int:
    span = high - low
    return 0 if span > 20 else 1 if span > 2 else 2 if span > 0.2 else 3


def ticks(low: float, high: float, about: int = 3) -> tuple[tuple[float, ...], int]:
    """Round numbers inside a range to mark its axis, two at least, and the decimals they need.

    Examples
    --------
    >>> ticks(-53337.0, 21040.0), ticks(92.8, 98.7), ticks(0.481, 0.609)
    (((-40000.0, -20000.0, 0.0, 20000.0), 0), ((94.0, 96.0, 98.0), 0), ((0.5, 0.55, 0.6), 2))
    """
    step = 10.0 ** math.floor(math.log10((high - low) / about))
    # the roundest step that leaves two to about four marks
    sizes = [s * step for s in (10.0, 5.0, 2.0, 1.0)]
    wide = [s for s in sizes if math.floor(high / s) - math.ceil(low / s) >= 1]
    close = [s for s in wide if math.floor(high / s) - math.ceil(low / s) >= about - 1]
    step = (close or wide or sizes[-1:])[0]
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(round(n * step, digits) + 0.0 for n in range(first, last + 1)), digits


def trend_drawing(
    name: str, unit: str, points: Sequence[Point], target: float | None = None,
    width: float = 420.0, height: float = 120.0,
    smooth: Sequence[Sequence[Point]] = (), ahead: Sequence[Point] = (),
) -> str:  # fmt: skip
    """The drawing; "" when no day has a figure. Each run of `smooth` is a line on its band.

    `ahead` is what is foreseen, dashed; its days are among those of `points`.
    """
    known = [p for p in points if p.value is not None]
    if not known:
        return ""
    low, high = range_of([*points, *ahead], target)
    left, right, top, bottom = 52.0, 8.0, 8.0, 20.0
    step = (width - left - right) / max(len(points), 1)

    def y(value: float) -> float:
        share = (value - low) / (high - low)
        return top + (height - top - bottom) * (1.0 - min(max(share, 0.0), 1.0))

    digits = _decimals(low, high)
    parts = []
    marks, round_to = ticks(low, high)
    for value in marks:
        parts.append(line(left, y(value), width - right, y(value), COLOURS["line"], 1.0))
        parts.append(words(left - 5, y(value) + 4, grouped(value, round_to), SIZE, COLOURS["soft"],
                           text_anchor="end"))  # fmt: skip
    if target is not None:
        parts.append(line(left, y(target), width - right, y(target), COLOURS["gold"], 2.0))
    place = {p.date: left + (i + 0.5) * step for i, p in enumerate(points)}
    parts += [_run(run, place, y) for run in smooth]
    parts += [_run(ahead, place, y, "5 4")] if ahead else []
    for i, p in enumerate(points):
        if p.value is not None:
            parts.append(_dot(left + (i + 0.5) * step, p, y))
    for i, anchor in ((0, "start"), (len(points) - 1, "end")):
        x = left if anchor == "start" else width - right
        parts.append(words(x, height - 5, short_day(points[i].date), SIZE, COLOURS["soft"],
                           text_anchor=anchor))  # fmt: skip
    last = known[-1]
    label = (f"{name}, {len(known)} days to {last.date}, from {grouped(min_of(known), digits)} to "
             f"{grouped(max_of(known), digits)} {unit}")  # fmt: skip
    if target is not None:
        label += f", target {grouped(target, digits)}"
    if ahead:
        label += f"; foreseen {grouped(ahead[-1].value or 0.0, digits)} on {ahead[-1].date}"
    if smooth and smooth[-1]:
        end = smooth[-1][-1]
        label += f"; smoothed since its clean {grouped(end.value or 0.0, digits)} on {end.date}"
    return drawing(width, height, label, "".join(parts), "trend")


def _run(
    run: Sequence[Point], place: Mapping[str, float], y: Callable[[float], float],
    dashes: str | None = None,
) -> str:  # fmt: skip
    """A smoothed run: its line, and a band as wide as its 95 % interval."""
    known = [(place[p.date], p.value, COVERAGE * (p.sigma or 0.0))
             for p in run if p.value is not None and p.date in place]  # fmt: skip
    upper = " ".join(f"{x:.1f},{y(v + h):.1f}" for x, v, h in known)
    lower = " ".join(f"{x:.1f},{y(v - h):.1f}" for x, v, h in reversed(known))
    middle = " ".join(f"{x:.1f},{y(v):.1f}" for x, v, _ in known)
    band = element("polygon", points=f"{upper} {lower}", fill=COLOURS["faint"])
    return band + element("polyline", points=middle, fill="none", stroke=COLOURS["ink"],
                          stroke_width=1.8, stroke_dasharray=dashes)  # fmt: skip


def min_of(points: Sequence[Point]) -> float:
    return min(p.value for p in points if p.value is not None)


def max_of(points: Sequence[Point]) -> float:
    return max(p.value for p in points if p.value is not None)


def _dot(x: float, point: Point, y) -> str:  # type: ignore[no-untyped-def]
    assert point.value is not None
    parts = []
    colour = COLOURS["leaf"]
    if point.sigma:
        half = COVERAGE * point.sigma
        parts.append(line(x, y(point.value - half), x, y(point.value + half), colour, 1.6))
    fill = COLOURS["card"] if point.doubted else colour
    parts.append(element("circle", cx=x, cy=y(point.value), r=2.8, fill=fill, stroke=colour,
                         stroke_width=1.4))  # fmt: skip
    return "".join(parts)
