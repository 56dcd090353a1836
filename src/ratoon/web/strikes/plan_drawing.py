"""The pan floor's plan as a drawing: strikes as bars in time, over the levels of the tanks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

from ratoon.plans.floor.result import FloorDay, FloorStrike
from ratoon.reports.numbers import grouped
from ratoon.reports.svg import drawing, element, line, rectangle, words
from ratoon.reports.tokens import COLOURS
from ratoon.web.strikes.drawing import GRADES, ROW, SIZE

TANK, GAP, WIDE = 46.0, 12.0, 120.0
TICKS = 6


def plan_drawing(
    floor: FloorDay, pans: Sequence[str], grades: Sequence[str], names: Mapping[str, str],
    width: float = 900.0,
) -> str:  # fmt: skip
    """Pans in rows, under them a line for each tank, from empty to full.

    Parameters
    ----------
    names : of tanks, as people say them.
    """
    begins = datetime.fromisoformat(floor.at)
    hours = max((line[-1][0] for line in floor.plan.stores.values() if line), default=24.0)

    def x(hour: float) -> float:
        return WIDE + (width - WIDE - 8) * min(max(hour / hours, 0.0), 1.0)

    top = 6 + ROW * len(pans) + 26
    tall = top + (TANK + GAP) * len(floor.plan.stores)
    parts = [_ticks(begins, hours, x, top, tall)]
    for n, pan in enumerate(pans):
        parts.append(words(0, 21 + ROW * n, pan, SIZE, COLOURS["ink"]))
        parts += [_bar(s, x, 6 + ROW * n, grades, hours, begins)
                  for s in floor.plan.strikes if s.pan == pan and s.end > 0.0]  # fmt: skip
    for n, (name, points) in enumerate(floor.plan.stores.items()):
        parts.append(_tank(names[name], points, floor.holds[name], x, top + (TANK + GAP) * n))
    label = (f"{len(floor.plan.strikes)} strikes in {len(pans)} pans and the levels of"
             f" {len(floor.plan.stores)} tanks over {hours:g} hours")  # fmt: skip
    return drawing(width, tall, label, "".join(parts), "plan")


def _ticks(
    begins: datetime, hours: float, x: Callable[[float], float], top: float, tall: float
) -> str:
    """Lines and clock times at every sixth hour of the clock."""
    first = begins.replace(minute=0) + timedelta(hours=TICKS - begins.hour % TICKS)
    at, parts = first, []
    while (hour := (at - begins).total_seconds() / 3600.0) <= hours:
        parts.append(line(x(hour), 4, x(hour), tall - GAP, COLOURS["line"], 1.0))
        text = f"{at:%H:%M}" if at.hour else f"{at.day} {at:%B}"
        parts.append(words(x(hour), top - 12, text, SIZE, COLOURS["soft"],
                           text_anchor="middle" if hour < hours - 1 else "end"))  # fmt: skip
        at += timedelta(hours=TICKS)
    return "".join(parts)


def _bar(
    s: FloorStrike, x: Callable[[float], float], top: float, grades: Sequence[str], hours: float,
    begins: datetime,
) -> str:  # fmt: skip
    """A strike; one that boils already is paler, one past the plan's end has no right edge."""
    left, right = x(s.start), x(s.end)
    grade = next((g for g in grades if s.task.startswith(g)), "")
    colour = COLOURS[GRADES[grades.index(grade) % len(GRADES) if grade else -1]]
    begun = s.start < 0.0
    bar = rectangle(left + 1, top + 2, max(right - left - 2, 1.0), ROW - 6, colour, rx=3,
                    fill_opacity=0.45 if begun else None)  # fmt: skip
    start, end = (begins + timedelta(hours=h) for h in (s.start, s.end))
    title = f"{s.task} in {s.pan}, {start:%d. %H:%M} to {end:%d. %H:%M}"
    name = ""
    if right - left > 34:
        dark = colour in (COLOURS["leaf"], COLOURS["water"]) and not begun
        name = words(left + 5, top + 15, f"{start:%H:%M}", 11.0, COLOURS["card" if dark else "ink"])
    return element("g", element("title", title) + bar + name)


def _tank(
    name: str, points: Sequence[tuple[float, float]], most: float, x: Callable[[float], float],
    top: float,
) -> str:  # fmt: skip
    """A tank's level between empty and full."""

    def y(level: float) -> float:
        return top + TANK * (1.0 - min(max(level / most, 0.0), 1.0)) if most else top + TANK

    left, right = x(0.0), x(points[-1][0])
    run = [f"{x(h):.1f},{y(v):.1f}" for h, v in points]
    area = " ".join([f"{left:.1f},{top + TANK}", *run, f"{right:.1f},{top + TANK}"])
    return "".join([
        line(left, top, right, top, COLOURS["warn"], 1.0),
        line(left, top + TANK, right, top + TANK, COLOURS["soft"], 1.0),
        element("polygon", points=area, fill=COLOURS["band"]),
        element("polyline", points=" ".join(run), fill="none", stroke=COLOURS["leaf"],
                stroke_width=1.5),
        words(0, top + 14, name, SIZE, COLOURS["ink"]),
        words(0, top + 30, f"full at {grouped(most, 0)} m³", 11.0, COLOURS["soft"]),
    ])  # fmt: skip
