"""Drawings of strikes: the day's pans over the hours, one strike against time.

A strike that contradicts itself is open and dashed, one that still boils has no right edge, so that
each reads in greyscale too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from ratoon.base.records import Period
from ratoon.jobs.strikes.records import StrikeLine
from ratoon.plant.pan.followed import TracePoint
from ratoon.reports.numbers import decimals_for, grouped, half_interval
from ratoon.reports.svg import drawing, element, line, rectangle, words
from ratoon.reports.tokens import COLOURS

SIZE, ROW, LEFT = 12.0, 26.0, 44.0
GRADES = ("leaf", "gold", "water", "soft")
TALL, FOOT = 92.0, 20.0


def floor_drawing(
    strikes: Sequence[StrikeLine], pans: Sequence[str], grades: Sequence[str], period: Period,
    begins: datetime, width: float = 900.0,
) -> str:  # fmt: skip
    """Pans in rows, strikes as bars over the hours of a mill day.

    Parameters
    ----------
    begins : the start of the day by the mill's clock.
    """
    hours = period.seconds / 3600.0

    def x(at: datetime) -> float:
        share = (at - begins).total_seconds() / 3600.0 / hours
        return LEFT + (width - LEFT - 8) * min(max(share, 0.0), 1.0)

    parts = []
    for h in range(0, int(hours) + 1, 3):
        at = begins + timedelta(hours=h)
        parts.append(line(x(at), 4, x(at), ROW * len(pans) + 6, COLOURS["line"], 1.0))
        where = "middle" if 0 < h < hours else "start" if h == 0 else "end"
        parts.append(words(x(at), ROW * len(pans) + 20, f"{at:%H:%M}", SIZE, COLOURS["soft"],
                           text_anchor=where))  # fmt: skip
    for n, pan in enumerate(pans):
        top = 6 + ROW * n
        parts.append(words(0, top + 15, pan, SIZE, COLOURS["ink"]))
        for s in strikes:
            if s.pan == pan:
                parts.append(_bar(s, x, top, grades, begins + timedelta(hours=hours)))
    caption = f"{len(strikes)} strikes in {len(pans)} pans from {begins:%H:%M} on"
    return drawing(width, ROW * len(pans) + 28, caption, "".join(parts), "floor")


def _bar(
    s: StrikeLine, x: Callable[[datetime], float], top: float, grades: Sequence[str], end: datetime
) -> str:
    first = datetime.fromisoformat(s.start)
    last = datetime.fromisoformat(s.drop) if s.drop else end
    left, right = x(first), max(x(last), x(first) + 2.0)
    colour = COLOURS[GRADES[grades.index(s.grade) % len(GRADES) if s.grade in grades else -1]]
    odd = s.status == "contradictory"
    bar = rectangle(
        left + 1, top + 2, max(right - left - 2, 1.0), ROW - 6, COLOURS["card"] if odd else colour,
        rx=3, stroke=COLOURS["warn"] if odd else None, stroke_dasharray="4 3" if odd else None,
        fill_opacity=None if odd or s.drop else 0.45,
    )  # fmt: skip
    name = ""
    if right - left > 40:
        dark = colour in (COLOURS["leaf"], COLOURS["water"]) and not odd and s.drop
        ink = COLOURS["card" if dark else "ink"]
        name = words(left + 6, top + 16, s.id, SIZE, ink)
    return element("g", element("title", f"{s.id}, {s.status}") + bar + name)


def trace_drawing(
    label: str, unit: str, points: Sequence[tuple[str, float, float]], width: float = 500.0
) -> str:
    """A figure against time with its 95 % interval as a band; "" for fewer than two.

    Parameters
    ----------
    points : time, value and half of the interval.
    """
    if len(points) < 2:
        return ""
    times = [datetime.fromisoformat(t) for t, _, _ in points]
    low = min(v - sd for _, v, sd in points)
    high = max(v + sd for _, v, sd in points)
    span = (high - low) or 1.0
    length = (times[-1] - times[0]).total_seconds() or 1.0

    def x(at: datetime) -> float:
        return LEFT + (width - LEFT - 8) * (at - times[0]).total_seconds() / length

    def y(value: float) -> float:
        return 8 + TALL * (high - value) / span

    over = [f"{x(t):.1f},{y(v + sd):.1f}" for t, (_, v, sd) in zip(times, points)]
    under = [f"{x(t):.1f},{y(v - sd):.1f}" for t, (_, v, sd) in zip(times, points)]
    middle = " ".join(f"{x(t):.1f},{y(v):.1f}" for t, (_, v, _) in zip(times, points))
    decimals = decimals_for(span / 20.0)
    parts = [
        element("polygon", points=" ".join([*over, *reversed(under)]), fill=COLOURS["band"]),
        element("polyline", points=middle, fill="none", stroke=COLOURS["leaf"], stroke_width=2),
        *(words(LEFT - 6, at + 4, grouped(value, decimals), SIZE, COLOURS["soft"],
                text_anchor="end") for at, value in ((8.0, high), (8 + TALL, low))),
        *(words(x(t), TALL + FOOT + 6, f"{t:%H:%M}", SIZE, COLOURS["soft"], text_anchor=where)
          for t, where in ((times[0], "start"), (times[-1], "end"))),
    ]  # fmt: skip
    caption = f"{label} from {points[0][1]:.3g} to {points[-1][1]:.3g} {unit}".rstrip()
    return drawing(width, TALL + FOOT + 12, caption, "".join(parts), "trace")


def traced(points: Sequence[TracePoint], name: str) -> list[tuple[str, float, float]]:
    """A figure of a trace as a drawing takes it."""
    found = []
    for p in points:
        figure = getattr(p, name)
        if figure is not None:
            found.append((p.time, figure.value, half_interval(figure.sigma) or 0.0))
    return found
