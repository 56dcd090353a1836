"""The day's yard and tip as a picture: each consignment from first weighing wait to its window."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any

from ratoon.cane.supply import InstrumentDay
from ratoon.cane.unmix import QUANTITIES
from ratoon.reports import svg
from ratoon.reports.numbers import signed
from ratoon.reports.tokens import COLOURS

WIDE, ROW, LEFT, TOP = 950.0, 9.0, 90.0, 24.0
SIZE = 11.0
"""Lettering: a drawing scrolls where there is less room, it does not shrink."""

BEHIND = 0.8
"""A grower whose share is less than this part of the district's is marked."""


def timeline(consignments: Sequence[Mapping[str, Any]], start: datetime, local: Any) -> str:
    """Bars by local hour: tip thick, window of juice thin below it; held ones marked in words."""
    shown = [c for c in consignments if c["first_tip"]]
    if not shown:
        return ""
    scale = (WIDE - LEFT - 18.0) / 26.0
    high = TOP + ROW * len(shown) + 8.0

    def x(text: str) -> float:
        hours = (datetime.fromisoformat(text) - start).total_seconds() / 3600.0
        return LEFT + scale * min(max(hours, 0.0), 26.0)

    parts = []
    for hour in range(0, 27, 2):
        at = LEFT + scale * hour
        name = f"{(local(start.isoformat()).hour + hour) % 24:02d}:00"
        parts.append(svg.line(at, TOP - 4, at, high, COLOURS["line"], 1.0))
        parts.append(svg.words(at - 13, TOP - 9, name, SIZE, COLOURS["soft"]))
    named, left = -2, WIDE
    for i, c in enumerate(shown):
        y = TOP + ROW * i
        held = c["kilograms"] > c["payable_kg"]
        colour = COLOURS["warn"] if held else COLOURS["leaf"]
        wide = max(x(c["last_tip"]) - x(c["first_tip"]), 1.5)
        parts.append(svg.rectangle(x(c["first_tip"]), y, wide, 4.0, colour))
        if held:
            at = x(c["first_tip"]) - 4.0
            if i - named == 1:  # clear of the word in the row above
                at = min(at, left - 4.0)
            named, left = i, at - svg.text_width("held", SIZE) - 2.0
            parts.append(svg.words(at, y + 6, "held", SIZE, colour, text_anchor="end"))
        window = c["window"]
        if window is not None and window["end"] > window["start"]:
            long = max(x(window["end"]) - x(window["start"]), 1.0)
            parts.append(svg.rectangle(x(window["start"]), y + 4.6, long, 2.0, COLOURS["soft"]))
        if i % 2 == 0:
            parts.append(svg.words(4, y + 6, c["consignment"], SIZE, COLOURS["soft"]))
    label = (f"{len(shown)} consignments in order of tip: thick bar from first to last bin tipped,"
             " thin bar below it the window of its juice")  # fmt: skip
    return svg.drawing(WIDE, high, label, "".join(parts), "timeline")


def share_bars(shares: Sequence[Any]) -> str:
    """Each grower's share of its estimate over the district's, most behind first."""
    shown = [s for s in shares if s.ratio is not None]
    if not shown:
        return ""
    wide, high, top, low = 950.0, 220.0, 20.0, 36.0
    most = max(1.2, *(s.ratio for s in shown))
    step = (wide - 60.0) / len(shown)
    longest = max(svg.text_width(s.grower, SIZE) for s in shown)
    every = math.ceil(1.3 * longest / step)

    def y(ratio: float) -> float:
        return float(high - low - (high - low - top) * ratio / most)

    parts = []
    for i, s in enumerate(shown):
        at = 60.0 + step * i
        colour = COLOURS["warn"] if s.ratio < BEHIND else COLOURS["leaf"]
        parts.append(svg.rectangle(at + 1, y(s.ratio), step - 2, y(0.0) - y(s.ratio), colour))
        if i % every == 0:
            parts.append(svg.words(min(at, wide - longest - 6.0), high - low + 14, s.grower, SIZE,
                                   COLOURS["soft"]))  # fmt: skip
    for ratio, name in ((0.5, "half"), (BEHIND, ""), (1.0, "district"), (1.5, "half more")):
        if ratio <= most:
            colour = COLOURS["ink"] if ratio in (1.0, BEHIND) else COLOURS["line"]
            dashes = {"stroke_dasharray": "5 4"} if ratio == BEHIND else {}
            parts.append(svg.line(60.0, y(ratio), wide, y(ratio), colour, 1.0, **dashes))
            if name:
                parts.append(svg.words(2, y(ratio) + 4, name, SIZE, COLOURS["soft"]))
    label = (f"{len(shown)} growers, most behind first: share of the estimate delivered, over the "
             "district's; below four fifths of it in red")  # fmt: skip
    return svg.drawing(wide, high, label, "".join(parts), "shares")


def instrument_lines(days: Sequence[InstrumentDay], decide: float) -> str:
    """Running sums of laboratory less near-infrared by day, and where they decide."""
    if len(days) < 2:
        return ""
    wide, high, left, middle = 950.0, 200.0, 60.0, 92.0
    runs = [d.runs[name] for d in days for name in QUANTITIES]
    most = max(2.0 * decide, *(max(run.high, -run.low) for run in runs))
    step, scale = (wide - left - 70.0) / (len(days) - 1), 78.0 / most

    def y(value: float) -> float:
        return float(middle - scale * value)

    parts = []
    for value in (decide, 0.0, -decide):
        parts.append(svg.line(left, y(value), wide - 70, y(value), COLOURS["line"], 1.0))
        parts.append(svg.words(2, y(value) + 4, signed(value, 0), SIZE,
                               COLOURS["soft"]))  # fmt: skip
    ends = {name: y(days[-1].runs[name].high + days[-1].runs[name].low) for name in QUANTITIES}
    at = -100.0
    for name, colour in sorted(zip(QUANTITIES, ("leaf", "ink", "soft"), strict=True),
                               key=lambda n: ends[n[0]]):  # fmt: skip
        run = [d.runs[name] for d in days]
        for side in ([r.high for r in run], [r.low for r in run]):
            for i, (a, b) in enumerate(pairwise(side)):
                x = left + step * i
                parts.append(svg.line(x, y(a), x + step, y(b), COLOURS[colour], 1.6))
        at = max(ends[name] + 4.0, at + 12.0)  # names do not overlap
        parts.append(svg.words(wide - 64, at, name, SIZE, COLOURS[colour]))
    for i in range(0, len(days), max(1, len(days) // 8)):
        parts.append(svg.words(left + step * i - 14, high - 8, days[i].date[5:], SIZE,
                               COLOURS["soft"]))  # fmt: skip
    label = f"Running sums of laboratory less near-infrared over {len(days)} days, brix, pol and "
    label += (
        f"fibre, in standard deviations of the days; beyond {decide:g} the difference has shifted"
    )
    return svg.drawing(wide, high, label, "".join(parts), "instruments")
