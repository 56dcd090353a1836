"""Drawings of the page of cleaning: a strip of the days ahead, and each effect's coefficient."""

from __future__ import annotations

from datetime import date, timedelta

from ratoon.plans.clean.result import CleanResult, CoefficientOn, EffectScale
from ratoon.reports import svg
from ratoon.reports.numbers import grouped, short_day, unit_as_read
from ratoon.reports.tokens import COLOURS
from ratoon.web.plant.trend_drawing import Point, ticks, trend_drawing

SIZE = 11.6
WIDE, LEFT, RIGHT = 1020.0, 74.0, 12.0
TOP, COST, ROW, FOOT = 26.0, 130.0, 26.0, 20.0
RAIN_FULL = 0.2  # chance of a rain stop at which its row is full


def days_drawing(result: CleanResult) -> str:
    """Cost of waiting as bars; under it planned stops, chance of rain, and the cleans advised."""
    if not result.waiting:
        return ""
    step = (WIDE - LEFT - RIGHT) / len(result.waiting)
    most = max(max(w.money_a_day for w in result.waiting), 1.0)
    rows = [TOP + COST + 8.0 + k * ROW for k in range(3)]
    parts = _costs(result, step, most)
    for y, name in zip(rows, ("planned stop", "rain", "clean")):
        parts.append(svg.words(LEFT - 6, y + 15, name, SIZE, COLOURS["soft"], text_anchor="end"))
        parts.append(svg.line(LEFT, y + ROW - 3, WIDE - RIGHT, y + ROW - 3, COLOURS["line"], 1.0))
    cleans = {c.date for c in result.plan}
    for k, day in enumerate(result.days):
        x = LEFT + k * step
        if day.stands:
            high = max(16.0 * day.stands / 24.0, 6.0)
            parts.append(svg.rectangle(x + 1, rows[0] + 20 - high, step - 2, high, COLOURS["mud"]))
        if day.rain:
            high = 18.0 * min(day.rain / RAIN_FULL, 1.0)
            y = rows[1] + 22 - high
            parts.append(svg.rectangle(x + 1, y, step - 2, high, COLOURS["water"]))
        if day.date in cleans:
            at, leaf = x + step / 2, COLOURS["leaf"]
            parts.append(svg.element("circle", cx=at, cy=rows[2] + 11, r=7, fill=leaf))
            parts.append(svg.line(at, TOP, at, rows[2] + 4, leaf, 1.4, stroke_dasharray="3 3"))
    parts += _dates(result, step, rows[2] + ROW + 12)
    named = "; ".join(f"{c.name} on {c.date}" for c in result.plan) or "none"
    label = (f"Cost of waiting from {result.days[0].date} to {result.days[-1].date}, up to "
             f"{result.currency}{grouped(most, 0)} a day; cleans advised: {named}")  # fmt: skip
    return svg.drawing(WIDE, rows[2] + ROW + FOOT, label, "".join(parts), "cleaning")


def _costs(result: CleanResult, step: float, most: float) -> list[str]:
    what = f"{result.currency} a day that scale costs, nothing cleaned"
    parts = [svg.words(4, TOP - 12, what, SIZE, COLOURS["soft"])]
    marks, digits = ticks(0.0, most)
    for mark in marks:
        y = TOP + COST * (1.0 - mark / most)
        parts.append(svg.line(LEFT, y, WIDE - RIGHT, y, COLOURS["line"], 1.0))
        parts.append(svg.words(LEFT - 6, y + 4, grouped(mark, digits), SIZE, COLOURS["soft"],
                               text_anchor="end"))  # fmt: skip
    for k, w in enumerate(result.waiting):
        high = COST * max(w.money_a_day, 0.0) / most
        parts.append(svg.rectangle(LEFT + k * step + 1, TOP + COST - high, step - 2, high,
                                   COLOURS["straw"]))  # fmt: skip
    return parts


def _dates(result: CleanResult, step: float, y: float) -> list[str]:
    """Dates of cleans and every seventh day, where there is room."""
    cleans = {c.date for c in result.plan}
    wanted = [k for k, d in enumerate(result.days) if d.date in cleans]
    wanted += range(0, len(result.days), 7)
    parts: list[str] = []
    taken: list[float] = []
    for k in wanted:
        x = LEFT + (k + 0.5) * step
        if all(abs(x - other) > 44.0 for other in taken):
            taken.append(x)
            day = result.days[k].date
            ink = COLOURS["ink"] if day in cleans else COLOURS["soft"]
            parts.append(svg.words(x, y, short_day(day), SIZE, ink, text_anchor="middle"))
    return parts


def effect_drawing(e: EffectScale) -> str:
    """An effect's coefficient: the days found, what was fitted, and the forecast, dashed."""
    first, last = date.fromisoformat(e.found[0].date), date.fromisoformat(e.forecast[-1].date)
    known = {f.date: Point(f.date, f.value, f.sigma) for f in e.found}
    every = [(first + timedelta(k)).isoformat() for k in range((last - first).days + 1)]
    points = [known.get(d, Point(d, None)) for d in every]
    return trend_drawing(
        f"Effect {e.effect}", unit_as_read("kW/m2.K"), points,
        smooth=[[_point(f) for f in run] for run in e.smoothed],
        ahead=[_point(f) for f in e.forecast],
    )  # fmt: skip


def _point(figure: CoefficientOn) -> Point:
    return Point(figure.date, figure.value, figure.sigma)
