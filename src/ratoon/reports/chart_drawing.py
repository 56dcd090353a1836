"""Small drawings of the weekly report: a CUSUM chart, and a loss week by week.

A chart has both sums on one scale, upwards and downwards from zero, and thinly the rise over a
fortnight in the same limit, which is a dashed line; a day that sounded is marked. All charts of a
report share one scale, so that they compare.
"""

from __future__ import annotations

from ratoon.reports.numbers import COVERAGE, grouped, short_day
from ratoon.reports.svg import drawing, element, line, text_width, words
from ratoon.reports.tokens import COLOURS
from ratoon.reports.week import ChartPart, TrendPart

WIDTH, HEIGHT = 220.0, 74.0


def chart_label(chart: ChartPart) -> str:
    """What a chart's drawing says."""
    state = (
        f"alarm on {', '.join(short_day(d) for d in chart.sounded)}" if chart.sounded else "quiet"
    )
    return (f"{chart.name}: {len(chart.days)} days, {state}; now {chart.up[-1]:.1f} upwards, "
            f"{chart.down[-1]:.1f} downwards")  # fmt: skip


def chart_drawing(chart: ChartPart, limit: float, width: float = WIDTH,
                  height: float = HEIGHT) -> str:  # fmt: skip
    """One chart; sums beyond one and a half limits are drawn at the edge."""
    top = 1.5 * limit
    middle = height / 2
    edge = 5.0  # room for the ring of a chart that sounded today
    step = (width - 2 * edge) / max(len(chart.days), 1)

    def y(value: float) -> float:
        return middle - max(min(value / top, 1.0), -1.0) * (middle - 6.0)

    parts = [line(0, middle, width, middle, COLOURS["line"], 1.0)]
    for level in (limit, -limit):
        parts.append(line(0, y(level), width, y(level), COLOURS["gold"], 1.2,
                          stroke_dasharray="4 3"))  # fmt: skip
    for sums, sign, colour, thick in ((chart.rise, 1, COLOURS["soft"], 0.8),
                                      (chart.up, 1, COLOURS["leaf"], 1.6),
                                      (chart.down, -1, COLOURS["water"], 1.6)):  # fmt: skip
        if not sums:
            continue
        at = [f"{edge + (i + 0.5) * step:.1f},{y(sign * v):.1f}" for i, v in enumerate(sums)]
        parts.append(element("polyline", points=" ".join(at), fill="none", stroke=colour,
                             stroke_width=thick, stroke_linejoin="round"))  # fmt: skip
    where = {d: i for i, d in enumerate(chart.days)}
    for day in chart.sounded:
        i = where[day]
        ways = (chart.up[i], -chart.down[i], chart.rise[i] if chart.rise else 0.0)
        value = max(ways, key=abs)
        parts.append(element("circle", cx=edge + (i + 0.5) * step, cy=y(value), r=4.0,
                             fill=COLOURS["card"], stroke=COLOURS["warn"],
                             stroke_width=2.0))  # fmt: skip
    return drawing(width, height, chart_label(chart), "".join(parts), "cusum")


def trend_label(trend: TrendPart) -> str:
    known = [v for v in trend.values if v is not None]
    return (f"{trend.name} by week, % of pol in cane: from {min(known):.2f} to {max(known):.2f} "
            f"over {len(known)} weeks") if known else f"{trend.name}: not determined"  # fmt: skip


def week_trend_drawing(
    trend: TrendPart, width: float = 228.0, height: float = 104.0, size: float = 11.4
) -> str:
    """A loss week by week, each a dot on its 95 % interval; zero is drawn where it is near."""
    rows = [(d, v, COVERAGE * (s or 0.0)) for d, v, s in
            zip(trend.weeks, trend.values, trend.sigmas) if v is not None]  # fmt: skip
    if not rows:
        return ""
    low, high = min(v - h for _, v, h in rows), max(v + h for _, v, h in rows)
    if low < 0.6 * (high - low):
        low = min(low, 0.0)
    spread = high - low or 1.0
    left, bottom = 34.0, 6.0 + size

    def y(value: float) -> float:
        return 0.8 * size + (height - bottom - size - 3.0) * (high - value) / spread

    parts = []
    for value in dict.fromkeys((low, (low + high) / 2, high)):
        parts.append(line(left, y(value), width, y(value), COLOURS["line"], 0.8))
        parts.append(words(left - 4, y(value) + 3.5, grouped(value, 1 if spread > 1 else 2), size,
                           COLOURS["soft"], text_anchor="end"))  # fmt: skip
    if low <= 0.0 <= high:
        parts.append(line(left, y(0.0), width, y(0.0), COLOURS["soft"], 1.0))
    step = (width - left) / len(trend.weeks)
    for i, (day, v, sigma) in enumerate(zip(trend.weeks, trend.values, trend.sigmas)):
        x = left + (i + 0.5) * step
        if v is not None:
            half = COVERAGE * (sigma or 0.0)
            parts.append(line(x, y(v - half), x, y(v + half), COLOURS["leaf"], 2.0))
            parts.append(element("circle", cx=x, cy=y(v), r=3.0, fill=COLOURS["leaf"]))
        if i % -(-len(trend.weeks) // 5) == 0:
            name = short_day(day)
            at = min(x, width - text_width(name, size) / 2)
            parts.append(words(at, height - 4, name, size, COLOURS["soft"],
                               text_anchor="middle"))  # fmt: skip
    return drawing(width, height, trend_label(trend), "".join(parts), "trend")
