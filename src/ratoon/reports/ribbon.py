"""The day ribbon: the mill day from start to start, crushing as a band, stops as cuts.

What a cut means is drawn and written: waiting for cane hatched on straw, planned open, any other
stop solid; cause and minutes stand below.
"""

from __future__ import annotations

from ratoon.reports.morning import Cut, Ribbon
from ratoon.reports.svg import drawing, element, line, rectangle, text_width, words
from ratoon.reports.tokens import COLOURS

MOST_ROWS = 3
GAP = 10.0


def ribbon_label(ribbon: Ribbon) -> str:
    """What the drawing says, for those who do not see it."""
    if not ribbon.cuts:
        return "Mill day: crushed through, no stop" if ribbon.crushing else "Mill day: no crushing"
    stops = "; ".join(f"{c.clock} {c.label}" for c in ribbon.cuts)
    return f"Mill day from start to start, stops: {stops}"


def _cut_drawing(cut: Cut, x: float, width: float, top: float, height: float) -> str:
    if cut.kind == "planned":
        return rectangle(
            x, top, width, height, COLOURS["card"], stroke=COLOURS["soft"], stroke_width=1.2
        )
    if cut.kind == "no cane":
        parts = [rectangle(x, top, width, height, COLOURS["straw"])]
        step, at = 6.0, x + 3.0
        while at < x + width and len(parts) < 200:
            parts.append(line(at, top, at, top + height, COLOURS["card"], 1.4))
            at += step
        return "".join(parts)
    return rectangle(x, top, width, height, COLOURS["warn"])


def place_labels(
    cuts: tuple[Cut, ...], width: float, hours: float, size: float
) -> tuple[list[tuple[Cut, float, int]], int]:
    """Where each label starts and in which row, longest stops first; and how many found no room."""
    taken: list[list[tuple[float, float]]] = [[] for _ in range(MOST_ROWS)]
    placed: list[tuple[Cut, float, int]] = []
    left_out = 0
    for cut in sorted(cuts, key=lambda c: -c.hours):
        length = text_width(cut.label, size)
        start = min(cut.start / hours * width, max(width - length, 0.0))
        for row, spans in enumerate(taken):
            if all(start > end + GAP or start + length + GAP < begin for begin, end in spans):
                spans.append((start, start + length))
                placed.append((cut, start, row))
                break
        else:
            left_out += 1
    return sorted(placed, key=lambda p: p[0].start), left_out


def ribbon_drawing(ribbon: Ribbon, width: float = 1150.0, size: float = 13.5) -> str:
    """The drawing, `width` wide, its words `size` high."""
    top, height = size + 5.0, size * 1.35
    parts = []
    band = COLOURS["leaf"] if ribbon.crushing else COLOURS["faint"]
    parts.append(rectangle(0.0, top, width, height, band, rx=2))
    if ribbon.reached is not None:
        x = ribbon.reached / ribbon.hours * width
        parts.append(rectangle(x, top, width - x, height, COLOURS["faint"]))
    for hour, clock in ribbon.ticks:
        x = hour / ribbon.hours * width
        anchor = "start" if hour == 0 else "end" if hour >= ribbon.hours else "middle"
        parts.append(words(x, size * 0.85, clock, size, COLOURS["soft"], text_anchor=anchor))
        parts.append(line(x, top - 3.0, x, top, COLOURS["soft"], 1.0))
    placed, left_out = place_labels(ribbon.cuts, width - 2.0, ribbon.hours, size)
    rows = 1 + max((row for _, _, row in placed), default=-1)
    below = top + height
    for cut in ribbon.cuts:
        x = cut.start / ribbon.hours * width
        long = max(cut.hours / ribbon.hours * width, 2.5)
        # White on both sides makes a cut of any colour a cut in greyscale too.
        parts.append(rectangle(x - 1.5, top - 3.0, long + 3.0, height + 6.0, COLOURS["card"]))
        parts.append(_cut_drawing(cut, x, long, top - 3.0, height + 6.0))
    for cut, _, row in placed:
        x = cut.start / ribbon.hours * width + 0.5
        y = below + 7.0 + (row + 0.4) * size * 1.15
        parts.append(line(x, below + 3.0, x, y, COLOURS["soft"], 0.8))
    for cut, start, row in placed:
        y = below + 7.0 + (row + 1) * size * 1.15
        # Paper behind the words, so that no leader runs through them.
        long = text_width(cut.label, size)
        parts.append(rectangle(start - 1, y - size * 0.85, long, size * 1.1, COLOURS["card"]))
        parts.append(words(start, y, cut.label, size, COLOURS["ink"]))
    total = below + 12.0 + rows * size * 1.15
    if left_out:
        text = f"and {left_out} more stop{'s' if left_out > 1 else ''}"
        parts.append(
            words(width, total + size * 0.6, text, size, COLOURS["soft"], text_anchor="end")
        )
        total += size
    return drawing(width, total, ribbon_label(ribbon), element("g", "".join(parts)), "ribbon")
