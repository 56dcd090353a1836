"""The dot and whisker: a figure on its 95 % interval, against its target, on a fixed scale."""

from __future__ import annotations

from ratoon.reports.morning import Row
from ratoon.reports.svg import drawing, element, line
from ratoon.reports.tokens import COLOURS

EDGE = 7.0  # room at both ends for the dot and for the arrow of a figure outside the scale


def whisker_label(row: Row) -> str:
    """What the drawing says, for those who do not see it."""
    text = f"{row.name} {row.day.whole}"
    if row.target:
        text += f", target {row.target}"
    if row.verdict:
        text += f", {row.verdict}" if row.verdict != "above" else ", above target"
    return text.replace(", below", ", below target") + (", doubted" if row.doubted else "")


def whisker(row: Row, width: float = 140.0, height: float = 16.0) -> str:
    """One row's drawing; "" when there is no figure or no scale to draw it on.

    The dot is hollow when its reading is suspect. Off the scale, an arrow at the edge says so.
    """
    if row.day.value is None or row.high <= row.low:
        return ""

    def x(value: float) -> float:
        share = (value - row.low) / (row.high - row.low)
        return EDGE + (width - 2 * EDGE) * min(max(share, 0.0), 1.0)

    middle = height / 2
    colour = COLOURS["warn"] if row.bad else COLOURS["leaf"]
    parts = [line(EDGE, middle, width - EDGE, middle, COLOURS["line"], 1.0)]
    if row.target_value is not None:
        at = x(row.target_value)
        parts.append(line(at, 1.5, at, height - 1.5, COLOURS["gold"], 2.0))
    value = row.day.value
    if row.day.half:
        left, right = x(value - row.day.half), x(value + row.day.half)
        parts.append(line(left, middle, right, middle, colour, 3.0, stroke_linecap="round"))
    if value < row.low or value > row.high:
        parts.append(_arrow(x(value), middle, -1 if value < row.low else 1, colour))
    else:
        fill = COLOURS["card"] if row.doubted else colour
        parts.append(
            element(
                "circle", cx=x(value), cy=middle, r=3.6, fill=fill, stroke=colour, stroke_width=1.6
            )
        )
    return drawing(width, height, whisker_label(row), "".join(parts), "whisker")


def _arrow(x: float, y: float, way: int, colour: str) -> str:
    tip = x + way * 6
    return element("path", d=f"M{tip:.1f},{y:.1f} l{-way * 7},-5 v10 z", fill=colour)
