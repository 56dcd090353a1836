"""The day's yard and tip as a picture: each consignment from first weighing wait to its window."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from ratoon.reports import svg
from ratoon.reports.tokens import COLOURS

WIDE, ROW, LEFT, TOP = 1120.0, 9.0, 74.0, 24.0


def timeline(consignments: Sequence[Mapping[str, Any]], start: datetime, local: Any) -> str:
    """Bars by local hour: tip thick, window of juice thin below it; held ones marked in words."""
    shown = [c for c in consignments if c["first_tip"]]
    if not shown:
        return ""
    scale = (WIDE - LEFT - 10.0) / 26.0
    high = TOP + ROW * len(shown) + 8.0

    def x(text: str) -> float:
        hours = (datetime.fromisoformat(text) - start).total_seconds() / 3600.0
        return LEFT + scale * min(max(hours, 0.0), 26.0)

    parts = []
    for hour in range(0, 27, 2):
        at = LEFT + scale * hour
        name = f"{(local(start.isoformat()).hour + hour) % 24:02d}:00"
        parts.append(svg.line(at, TOP - 4, at, high, COLOURS["line"], 1.0))
        parts.append(svg.words(at - 13, TOP - 9, name, 10.5, COLOURS["soft"]))
    for i, c in enumerate(shown):
        y = TOP + ROW * i
        held = c["kilograms"] > c["payable_kg"]
        colour = COLOURS["warn"] if held else COLOURS["leaf"]
        wide = max(x(c["last_tip"]) - x(c["first_tip"]), 1.5)
        parts.append(svg.rectangle(x(c["first_tip"]), y, wide, 4.0, colour))
        window = c["window"]
        if window is not None and window["end"] > window["start"]:
            long = max(x(window["end"]) - x(window["start"]), 1.0)
            parts.append(svg.rectangle(x(window["start"]), y + 4.6, long, 2.0, COLOURS["soft"]))
        if i % 2 == 0:
            parts.append(svg.words(4, y + 6, c["consignment"], 9.0, COLOURS["soft"]))
    label = (f"{len(shown)} consignments in order of tip: thick bar from first to last bin tipped,"
             " thin bar below it the window of its juice")  # fmt: skip
    return svg.drawing(WIDE, high, label, "".join(parts), "timeline")
