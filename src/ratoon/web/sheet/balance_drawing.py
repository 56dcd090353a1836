"""An account as a drawing: what came in on the left, where it went on the right, one scale.

Each term is a ribbon as high as its tonnes; its words and interval stand beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.reports.numbers import Shown
from ratoon.reports.svg import drawing, element, rectangle, words
from ratoon.reports.tokens import COLOURS

WIDTH, SIZE = 640.0, 13.0
TALL = 170.0  # height of all that came in
LABEL = 17.0  # least height of a line of words
SIDE, BLOCK = 250.0, 34.0


@dataclass(frozen=True, slots=True)
class BalanceRow:
    """A term: its words, tonnes with interval, and its share of what came in."""

    address: str
    text: str
    way: str
    t: Shown
    share: str


def _column(rows: list[BalanceRow], scale: float, top: float, left: bool, fill: str) -> str:
    """The terms of one side: slots wide enough for words, ribbons that lead to the block."""
    parts = []
    inside, outside = top, top
    x = SIDE if left else WIDTH - SIDE
    edge = (WIDTH - BLOCK) / 2 if left else (WIDTH + BLOCK) / 2
    for row in rows:
        thick = max(abs(row.t.value or 0.0) * scale, 0.8)
        slot = max(thick, LABEL)
        y = outside + (slot - thick) / 2
        bend = (x + edge) / 2
        path = (f"M{x:.1f},{y:.1f} C{bend:.1f},{y:.1f} {bend:.1f},{inside:.1f} {edge:.1f},"
                f"{inside:.1f} v{thick:.1f} C{bend:.1f},{inside + thick:.1f} {bend:.1f},"
                f"{y + thick:.1f} {x:.1f},{y + thick:.1f} z")  # fmt: skip
        parts.append(element("path", d=path, fill=fill, opacity=0.8))
        at = outside + slot / 2 + SIZE * 0.35
        text = f"{row.text} {row.t.whole}"
        parts.append(words(x - 6 if left else x + 6, at, text, SIZE, COLOURS["ink"],
                           text_anchor="end" if left else "start"))  # fmt: skip
        inside += thick
        outside += slot + 2
    return "".join(parts)


def _tall(rows: list[BalanceRow], scale: float) -> float:
    return sum(max(abs(r.t.value or 0.0) * scale, LABEL) + 2 for r in rows)


def balance_drawing(name: str, rows: tuple[BalanceRow, ...], fill: str) -> str:
    """The drawing; "" when nothing is known to have come in."""
    comes = [r for r in rows if r.way == "in" and r.t.value is not None]
    goes = [r for r in rows if r.way == "out" and r.t.value is not None]
    total = sum(abs(r.t.value or 0.0) for r in comes)
    if not total:
        return ""
    scale = TALL / total
    height = max(_tall(comes, scale), _tall(goes, scale), TALL) + 8.0
    parts = [
        rectangle((WIDTH - BLOCK) / 2, 4.0, BLOCK, TALL, fill),
        _column(comes, scale, 4.0, True, fill),
        _column(goes, scale, 4.0, False, fill),
    ]
    said = "; ".join(f"{r.text} {r.t.whole}" for r in (*comes, *goes))
    return drawing(WIDTH, height, f"{name}: {said}", "".join(parts), "band")
