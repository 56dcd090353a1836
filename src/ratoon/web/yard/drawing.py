"""The yard as a picture: cane in it over two days, and beneath it where the bins are."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ratoon.plans.yard.records import Outlook, PlanHour
from ratoon.reports import svg
from ratoon.reports.numbers import grouped
from ratoon.reports.tokens import COLOURS
from ratoon.web.plant.trend_drawing import ticks
from ratoon.web.yard.page import Local

WIDE, LEFT, RIGHT, SIZE = 950.0, 62.0, 14.0, 11.0
TOP, STOCK, GAP, BINS, FOOT = 26.0, 190.0, 34.0, 96.0, 26.0
Rows = Sequence[PlanHour]


def yard_drawing(outlook: Outlook, local: Local) -> str:
    """Tonnes in the yard, as they were and with their 95 % band to come; bins below as bars."""
    rows: Rows = outlook.hours
    begin, end = rows[0].at, rows[-1].at
    if end <= begin:
        return ""
    bins = [r for r in rows if r.empty is not None]
    high = TOP + STOCK + (GAP + BINS if bins else 0.0) + FOOT

    def x(at: float) -> float:
        return float(LEFT + (WIDE - LEFT - RIGHT) * (at - begin) / (end - begin))

    parts = _axis(rows, x, local, high)
    parts += _stock(outlook, rows, x, local)
    if bins:
        parts += _bins(bins, x, TOP + STOCK + GAP)
    label = f"Cane in the yard from {local(begin):%d %b %H:%M} to {local(end):%d %b %H:%M}"
    if outlook.runs_out is not None:
        label += f"; it runs out at {local(outlook.runs_out):%H:%M}"
    if bins:
        label += "; below it full, empty and out bins"
    return svg.drawing(WIDE, high, label, "".join(parts), "yard")


def _axis(rows: Rows, x: Callable[[float], float], local: Local, high: float) -> list[str]:
    parts, last = [], -100.0
    for r in rows:
        at = local(r.at)
        if at.hour % 4 == 0 and at.minute == 0:
            parts.append(svg.line(x(r.at), TOP, x(r.at), high - FOOT, COLOURS["line"], 1.0))
            if x(r.at) - last > 40.0:
                last = x(r.at)
                parts.append(svg.words(last, high - 9, f"{at:%H:%M}", SIZE, COLOURS["soft"],
                                       text_anchor="middle"))  # fmt: skip
    return parts


def _stock(outlook: Outlook, rows: Rows, x: Callable[[float], float], local: Local) -> list[str]:
    most = max(1.0, *(max(r.high, r.tonnes) for r in rows))

    def y(tonnes: float) -> float:
        return float(TOP + STOCK * (1.0 - tonnes / most))

    parts = []
    marks, digits = ticks(0.0, most)
    for mark in marks:
        parts.append(svg.line(LEFT, y(mark), WIDE - RIGHT, y(mark), COLOURS["line"], 1.0))
        parts.append(svg.words(LEFT - 6, y(mark) + 4, grouped(mark, digits), SIZE, COLOURS["soft"],
                               text_anchor="end"))  # fmt: skip
    parts.append(svg.words(4, TOP - 12, "t in the yard", SIZE, COLOURS["soft"]))
    past = [r for r in rows if not r.to_come]
    coming = [past[-1], *(r for r in rows if r.to_come)] if past else list(rows)
    upper = [f"{x(r.at):.1f},{y(r.high):.1f}" for r in coming]
    lower = [f"{x(r.at):.1f},{y(r.low):.1f}" for r in reversed(coming)]
    parts.append(svg.element("polygon", points=" ".join(upper + lower), fill=COLOURS["band"]))
    for part, dashes in ((past, None), (coming, "6 4")):
        points = " ".join(f"{x(r.at):.1f},{y(r.tonnes):.1f}" for r in part)
        parts.append(svg.element("polyline", points=points, fill="none", stroke=COLOURS["leaf"],
                                 stroke_width=2.2, stroke_dasharray=dashes))  # fmt: skip
    now = x(outlook.now)
    parts.append(svg.line(now, TOP - 6, now, TOP + STOCK, COLOURS["ink"], 1.4))
    parts.append(svg.words(now - 5, TOP - 12, f"on record to {local(outlook.now):%H:%M}", SIZE,
                           COLOURS["ink"], text_anchor="end"))  # fmt: skip
    parts += _runs_out(outlook, x, y(0.0), local)
    return parts


def _runs_out(outlook: Outlook, x: Callable[[float], float], y: float, local: Local) -> list[str]:
    """The dot on its 95 % interval, on the line of an empty yard; nothing where it lasts."""
    if outlook.runs_out is None or outlook.early is None:
        return []
    last = outlook.hours[-1].at
    at, early = x(outlook.runs_out), x(outlook.early)
    late = x(min(outlook.late if outlook.late is not None else last, last))
    text = f"runs out {local(outlook.runs_out):%H:%M}"
    right = early + svg.text_width(text, SIZE + 1.0) < WIDE - RIGHT
    return [
        svg.line(early, y, late, y, COLOURS["warn"], 3.0),
        svg.element("circle", cx=at, cy=y, r=4.5, fill=COLOURS["warn"], stroke=COLOURS["card"],
                    stroke_width=1.4),
        svg.words(early if right else WIDE - RIGHT, y + 17.0, text, SIZE + 1.0, COLOURS["warn"],
                  text_anchor="start" if right else "end"),
    ]  # fmt: skip


def _bins(rows: Rows, x: Callable[[float], float], top: float) -> list[str]:
    """Bars by the hour: full at the foot, empty above them, out above those."""
    fleet = max(r.full + (r.empty or 0) + (r.out or 0) for r in rows) or 1
    step = x(rows[1].at) - x(rows[0].at) if len(rows) > 1 else 20.0
    names = (("full", "leaf"), ("empty", "soft"), ("out", "straw"))
    parts = [svg.words(4, top - 10, "bins", SIZE, COLOURS["soft"])]
    at = LEFT
    for name, colour in names:
        parts.append(svg.rectangle(at, top - 19, 10, 10, COLOURS[colour]))
        parts.append(svg.words(at + 15, top - 10, name, SIZE, COLOURS["ink"]))
        at += 30.0 + svg.text_width(name, SIZE)
    for count in (0, fleet // 2, fleet):
        y = top + BINS * (1.0 - count / fleet)
        parts.append(svg.words(LEFT - 6, y + 4, grouped(count, 0), SIZE, COLOURS["soft"],
                               text_anchor="end"))  # fmt: skip
    for r in rows:
        left = min(max(x(r.at) - step * 0.4, LEFT), WIDE - RIGHT - step * 0.4)
        foot = top + BINS
        for name, colour in names:
            tall = BINS * (getattr(r, name) or 0) / fleet
            foot -= tall
            parts.append(svg.rectangle(left, foot, step * 0.8, tall, COLOURS[colour]))
    return parts
