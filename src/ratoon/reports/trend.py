"""A figure over the last days, small: a dot on its 95 % interval a day, a gold line for target."""

from __future__ import annotations

from ratoon.reports.morning import Trend
from ratoon.reports.numbers import COVERAGE, grouped, short_day
from ratoon.reports.svg import drawing, element, line, words
from ratoon.reports.tokens import COLOURS

LEFT, RIGHT, TOP, FOOT = 38.0, 6.0, 24.0, 20.0
SMALL = 0.92  # of the name's size


def trend_label(trend: Trend) -> str:
    """What the drawing says, for those who do not see it."""
    known = [(d, v) for d, v, _ in trend.points if v is not None]
    if not known:
        return f"{trend.name}: no figures"
    decimals = _decimals(*_range(trend))
    text = f"{trend.name}, {len(known)} days to {known[-1][0]}: "
    text += f"from {grouped(known[0][1], decimals)} to {grouped(known[-1][1], decimals)}"
    return text + (f", target {grouped(trend.target, decimals)}" if trend.target else "")


def _range(trend: Trend) -> tuple[float, float]:
    low, high = [], []
    for _, value, sigma in trend.points:
        if value is not None:
            half = COVERAGE * (sigma or 0.0)
            low.append(value - half)
            high.append(value + half)
    if trend.target is not None:
        low.append(trend.target)
        high.append(trend.target)
    bottom, top = min(low), max(high)
    room = 0.04 * (top - bottom) or 0.5
    return bottom - room, top + room


def _decimals(low: float, high: float) -> int:
    span = high - low
    return 0 if span > 20 else 1 if span > 2 else 2


def trend_drawing(
    trend: Trend, width: float = 228.0, height: float = 112.0, size: float = 12.2
) -> str:
    """One figure's drawing; "" with fewer than two days."""
    if sum(1 for _, value, _ in trend.points if value is not None) < 2:
        return ""
    low, high = _range(trend)
    decimals = _decimals(low, high)
    count = len(trend.points)

    def x(k: int) -> float:
        return LEFT + 5.0 + (width - LEFT - RIGHT - 10.0) * k / max(count - 1, 1)

    def y(value: float) -> float:
        return height - FOOT - (height - TOP - FOOT) * (value - low) / (high - low)

    unit = f", {trend.unit}" if trend.unit else ""
    parts = [words(0.0, size, f"{trend.name}{unit}", size, COLOURS["ink"], font_weight=600)]
    for edge in (low, high):
        at = y(edge)
        parts.append(line(LEFT, at, width - RIGHT, at, COLOURS["line"], 0.8))
        parts.append(words(LEFT - 4.0, at + 0.35 * size, grouped(edge, decimals), SMALL * size,
                           COLOURS["soft"], text_anchor="end"))  # fmt: skip
    if trend.target is not None:
        at = y(trend.target)
        parts.append(line(LEFT, at, width - RIGHT, at, COLOURS["gold"], 1.6))
    for k, (_, value, sigma) in enumerate(trend.points):
        if value is None:
            continue
        if sigma:
            half = COVERAGE * sigma
            parts.append(line(x(k), y(value - half), x(k), y(value + half), COLOURS["leaf"], 1.4))
        last = k == count - 1
        parts.append(element("circle", cx=x(k), cy=y(value), r=3.2 if last else 2.2,
                             fill=COLOURS["leaf"]))  # fmt: skip
    for k in (0, count - 1):
        anchor = "start" if k == 0 else "end"
        parts.append(words(x(k) - 5.0 if k == 0 else x(k) + 5.0, height - 4.0,
                           short_day(trend.points[k][0]), SMALL * size, COLOURS["soft"],
                           text_anchor=anchor))  # fmt: skip
    return drawing(width, height, trend_label(trend), "".join(parts), "trend")
