"""Drawings of sheds: the stock over the weeks to come, and its cells by age.

The middle half is dark and the rest of the 90 % light, so that each reads in greyscale too.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ratoon.plans.shed.answer import ShedCell, ShedWeek
from ratoon.reports.numbers import grouped
from ratoon.reports.svg import Attribute, drawing, element, line, rectangle, text_width, words
from ratoon.reports.tokens import COLOURS

EDGE, SIZE, TALL = 14.0, 12.0, 150.0
MARK_SPACE = 64.0  # px between marks on the calendar
ROOM = 1.08
AGES = ((14, "under two weeks", "faint"), (42, "two to six weeks", "band"),
        (90, "six weeks to three months", "straw"),
        (10**6, "over three months", "gold"))  # fmt: skip
"""Days below which a cell's oldest sugar is of an age, its words and its fill: darker is older."""


def path_drawing(
    name: str, weeks: Sequence[ShedWeek], begins: float, room: float, heel: float,
    width: float = 640.0,
) -> str:  # fmt: skip
    """Stock when each week ends [t], from what there is now; room, full, and what stays."""
    shown = room < 1e8  # a shed of unknown room is never full
    most = ROOM * max(*(w.q95 for w in weeks), room if shown else 0.0, 1.0)
    wide = (width - 2 * EDGE) / max(len(weeks) - 1, 1)

    def y(value: float) -> float:
        return 8.0 + TALL * (1.0 - value / most)

    def area(low: Sequence[float], high: Sequence[float], fill: str) -> str:
        there = [f"{EDGE + n * wide:.1f},{y(v):.1f}" for n, v in enumerate(high)]
        back = [f"{EDGE + n * wide:.1f},{y(v):.1f}" for n, v in reversed(list(enumerate(low)))]
        return element("polygon", points=" ".join(there + back), fill=fill)

    middle = " ".join(f"{EDGE + n * wide:.1f},{y(w.q50):.1f}" for n, w in enumerate(weeks))
    parts = [
        area([w.q05 for w in weeks], [w.q95 for w in weeks], COLOURS["band"]),
        area([w.q25 for w in weeks], [w.q75 for w in weeks], COLOURS["gold"]),
        element("polyline", points=middle, fill="none", stroke=COLOURS["ink"], stroke_width=2.0),
    ]
    limits = [("full", room)] if shown else []
    for label, value in [*limits, ("what stays", heel)]:
        parts.append(line(EDGE, y(value), width - EDGE, y(value), COLOURS["warn"], 1.2,
                          stroke_dasharray="5 4"))  # fmt: skip
        text = f"{label}, {grouped(value, 0)} t"
        # the stock is low at the end of the plan, and high in its middle
        at = EDGE if label != "full" else width - EDGE - text_width(text, SIZE)
        parts.append(words(at, y(value) - 4, text, SIZE, COLOURS["ink"]))
    parts += _calendar(weeks, wide)
    last = weeks[-1]
    told = (f"Stock of {name} over {len(weeks)} weeks: from {grouped(begins, 0)} t to"
            f" {grouped(last.q50, 0)} t in the middle of the futures, nine in ten between"
            f" {grouped(last.q05, 0)} and {grouped(last.q95, 0)} t")  # fmt: skip
    return drawing(width, TALL + 34.0, told, "".join(parts), "stock")


def _calendar(weeks: Sequence[ShedWeek], wide: float) -> list[str]:
    step = max(1, round(MARK_SPACE / wide)) if wide else 1
    marked = [n for n in range(0, len(weeks), step) if n + step // 2 < len(weeks)]
    return [words(EDGE + n * wide, TALL + 26, _short(weeks[n].week), SIZE, COLOURS["soft"])
            for n in marked]  # fmt: skip


def _short(iso: str) -> str:
    day = date.fromisoformat(iso)
    return f"{day.day} {day:%b}"


def cells_drawing(shed: str, cells: Sequence[ShedCell], room: float, width: float = 640.0) -> str:
    """The cells along the shed: how full each is, and how old its oldest sugar."""
    wide = (width - 2 * EDGE) / max(len(cells), 1)
    full = max(room / max(len(cells), 1), *(c.t for c in cells), 1.0)
    foot, parts = 18.0 + TALL, []
    for n, cell in enumerate(cells):
        left, tall = EDGE + n * wide, TALL * cell.t / full
        edge: dict[str, Attribute] = {"stroke": COLOURS["warn"] if cell.caution
                                      else COLOURS["line"]}  # fmt: skip
        edge["stroke_width"] = 2.4 if cell.caution else 1.0
        parts.append(rectangle(left + 2, 18, wide - 4, TALL, COLOURS["card"],
                               stroke=COLOURS["line"]))  # fmt: skip
        if cell.t > 0.0:
            parts.append(rectangle(left + 2, foot - tall, wide - 4, tall, _fill(cell), **edge))
        parts.append(words(left + 5, 13, cell.cell, SIZE, COLOURS["ink"]))
        if cell.t > 0.0:
            parts.append(words(left + 5, foot - 20, grouped(cell.t, 0), SIZE, COLOURS["ink"]))
            parts.append(words(left + 5, foot - 6, f"{cell.oldest_days or 0.0:.0f} d", SIZE,
                               COLOURS["ink"]))  # fmt: skip
    at = EDGE
    for n, (_, text, name) in enumerate(AGES):
        parts.append(rectangle(at, foot + 10, 12, 12, COLOURS[name], stroke=COLOURS["line"]))
        parts.append(words(at + 17, foot + 20, text, SIZE, COLOURS["soft"]))
        at += 34 + text_width(text, SIZE) + 4 * n
    told = f"Cells of {shed}: " + "; ".join(
        f"{c.cell} {grouped(c.t, 0)} t, oldest {c.oldest_days or 0.0:.0f} days" if c.t > 0.0
        else f"{c.cell} empty" for c in cells)  # fmt: skip
    return drawing(width, foot + 28.0, told, "".join(parts), "cells")


def _fill(cell: ShedCell) -> str:
    days = cell.oldest_days or 0.0
    return COLOURS[next(name for most, _, name in AGES if days < most)]
