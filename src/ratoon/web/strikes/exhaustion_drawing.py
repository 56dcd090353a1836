"""Drawings of exhaustion: the way down in purity, curves, and massecuites by what goes in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ratoon.account.results.exhaustion import Mixture, StepFall
from ratoon.reports.numbers import COVERAGE, grouped
from ratoon.reports.svg import drawing, element, line, rectangle, text_width, words
from ratoon.reports.tokens import COLOURS
from ratoon.web.plant.trend_drawing import ticks

SIZE = 11.6
FILLS = ("leaf", "gold", "water", "mud", "steam", "straw")
DASHES = (None, "6 4", "2 3")


def way_down(steps: Sequence[StepFall], width: float = 930.0) -> str:
    """A row for each step from massecuite to run-off: the purity after it, its 95 % interval."""
    grades: dict[str, list[StepFall]] = {}
    for s in steps:
        if " to " not in s.step:  # the same way told in one
            grades.setdefault(s.grade, []).append(s)
    ends = [f.value for mine in grades.values() for s in mine for f in (s.before, s.after)]
    if not ends:
        return ""
    low, high = min(ends) - 3.0, max(ends) + 3.0
    left, row, gap, top = 26.0, 16.0, 12.0, 8.0
    bottom = top + row * sum(map(len, grades.values())) + gap * len(grades)

    def x(value: float) -> float:
        share = (high - value) / (high - low)
        return left + (width - left - 12) * min(max(share, 0.0), 1.0)

    parts = []
    for mark in ticks(low, high, 6)[0]:
        parts.append(line(x(mark), top, x(mark), bottom, COLOURS["line"], 1.0))
        parts.append(words(x(mark), bottom + 15, grouped(mark, 0), SIZE, COLOURS["soft"],
                           text_anchor="middle"))  # fmt: skip
    caption, y = [], top
    for grade, mine in grades.items():
        parts.append(words(2, y + 14, grade, SIZE + 2, COLOURS["ink"]))
        for k, s in enumerate(mine):
            y += row
            colour = COLOURS["warn" if s.lost else FILLS[k % len(FILLS)]]
            half = COVERAGE * (s.after.sigma or 0.0)
            first, last, *ends_at = map(x, (s.before.value, s.after.value, s.after.value + half,
                                            s.after.value - half))  # fmt: skip
            parts.append(line(first, y - 5, last, y - 5, colour, 6.0))
            parts.append(line(ends_at[0], y - 5, ends_at[1], y - 5, COLOURS["ink"], 1.2))
            parts.append(element("circle", cx=last, cy=y - 5, r=3.4, fill=COLOURS["ink"]))
            text = f"{s.step} {_signed(s.fall.value)}"
            after = max(first, *ends_at) + 8.0
            fits = after + text_width(text, SIZE) < width
            at = after if fits else min(first, *ends_at) - 8.0
            parts.append(words(at, y - 1, text, SIZE, COLOURS["ink"],
                               text_anchor="start" if fits else "end"))  # fmt: skip
        y += gap
        caption.append(f"{grade} from {mine[0].before.value:.1f} to {mine[-1].after.value:.1f}")
    label = f"Purity by step: {'; '.join(caption)}"
    return drawing(width, bottom + 22, label, "".join(parts), "way")


def _signed(fall: float) -> str:
    return f"−{fall:.1f}" if fall >= 0.0 else f"+{-fall:.1f}"


def curves(
    label: str, across: str, up: str, lines: Mapping[str, Sequence[tuple[float, float]]],
    mark: tuple[float, float] | None = None, width: float = 420.0, height: float = 210.0,
) -> str:  # fmt: skip
    """Lines over an axis, each named at its place in a key; `mark` is where the day stands."""
    points = [p for one in lines.values() for p in one]
    if len(points) < 2:
        return ""
    x0, x1 = min(p[0] for p in points), max(p[0] for p in points)
    y0, y1 = min(p[1] for p in points), max(p[1] for p in points)
    y0, y1 = y0 - 0.06 * (y1 - y0 or 1.0), y1 + 0.06 * (y1 - y0 or 1.0)
    left, right, top, bottom = 46.0, 12.0, 24.0, 34.0

    def at(p: tuple[float, float]) -> tuple[float, float]:
        return (left + (width - left - right) * (p[0] - x0) / (x1 - x0 or 1.0),
                height - bottom - (height - top - bottom) * (p[1] - y0) / (y1 - y0))  # fmt: skip

    parts = [
        words(2, 12, up, SIZE, COLOURS["soft"]),
        words(width - right, height - 4, across, SIZE, COLOURS["soft"], text_anchor="end"),
    ]
    marks, places = ticks(y0, y1)
    for value in marks:
        y = at((x0, value))[1]
        parts.append(line(left, y, width - right, y, COLOURS["line"], 1.0))
        parts.append(words(left - 5, y + 4, grouped(value, places), SIZE, COLOURS["soft"],
                           text_anchor="end"))  # fmt: skip
    marks, places = ticks(x0, x1, 4)
    for value in marks:
        parts.append(words(at((value, y0))[0], height - bottom + 14, grouped(value, places), SIZE,
                           COLOURS["soft"], text_anchor="middle"))  # fmt: skip
    for k, (name, one) in enumerate(lines.items()):
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(at, one))
        parts.append(element("polyline", points=path, fill="none", stroke_width=2.2,
                             stroke=COLOURS[FILLS[k % len(FILLS)]],
                             stroke_dasharray=DASHES[k % len(DASHES)]))  # fmt: skip
        if len(lines) > 1:
            y = top + 12 + 16 * k
            parts.append(line(width - 128, y - 4, width - 104, y - 4,
                              COLOURS[FILLS[k % len(FILLS)]], 2.2,
                              stroke_dasharray=DASHES[k % len(DASHES)]))  # fmt: skip
            parts.append(words(width - 98, y, name, SIZE, COLOURS["ink"]))
    if mark is not None:
        x, y = at(mark)
        parts.append(element("circle", cx=x, cy=y, r=4.5, fill=COLOURS["ink"]))
    return drawing(width, height, label, "".join(parts), "curves")


def mixture_drawing(mixture: Mixture, width: float = 420.0, height: float = 190.0) -> str:
    """Footing and feeds to scale: across the dry substance, up the purity; a line at the blend.

    What stands above the line is as large as what lacks below it.
    """
    left, right, top, bottom = 36.0, 8.0, 10.0, 36.0
    low = min(p.purity for p in mixture.parts) - 6.0
    high = max(p.purity for p in mixture.parts) + 4.0

    def y(value: float) -> float:
        return height - bottom - (height - top - bottom) * (value - low) / (high - low)

    parts = []
    for mark in ticks(low, high)[0]:
        parts.append(line(left, y(mark), width - right, y(mark), COLOURS["line"], 1.0))
        parts.append(words(left - 5, y(mark) + 4, grouped(mark, 0), SIZE, COLOURS["soft"],
                           text_anchor="end"))  # fmt: skip
    x, taken = left, left
    for k, one in enumerate(mixture.parts):
        wide = (width - left - right) * one.share
        parts.append(rectangle(x, y(one.purity), wide, height - bottom - y(one.purity),
                               COLOURS[FILLS[k % len(FILLS)]], fill_opacity=0.55,
                               stroke=COLOURS["ink"], stroke_width=0.8))  # fmt: skip
        text = f"{one.feed} {100 * one.share:.0f} %"
        half = text_width(text, SIZE) / 2.0
        place = min(max(x + wide / 2.0, taken + half), width - right - half)
        parts.append(words(place, height - bottom + 13 + 14 * (k % 2), text, SIZE, COLOURS["ink"],
                           text_anchor="middle"))  # fmt: skip
        x += wide
        taken = left
    at = y(mixture.purity)
    parts.append(line(left, at, width - right, at, COLOURS["ink"], 2.0, stroke_dasharray="6 4"))
    text = f"{mixture.grade} massecuite {mixture.purity:.1f}"
    parts.append(words(width - right - 2, at - 5, text, SIZE, COLOURS["ink"], text_anchor="end"))
    caption = ", ".join(f"{p.feed} {100 * p.share:.0f} % at {p.purity:.1f}" for p in mixture.parts)
    return drawing(width, height, f"{text}: {caption}", "".join(parts), "mixture")
