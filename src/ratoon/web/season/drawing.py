"""Drawings of the season's forecast: the finish on its calendar, weeks to come, shares of causes.

The middle half is dark and the rest of the 90 % light, so that each reads in greyscale too.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from ratoon.plans.season.answer import DateSpread, SeasonWeek
from ratoon.plans.season.stops_answer import StopDay
from ratoon.reports.numbers import grouped
from ratoon.reports.svg import drawing, element, line, rectangle, words
from ratoon.reports.tokens import COLOURS

EDGE, SIZE = 14.0, 12.0
MARK_SPACE = 64.0  # px between marks on the calendar
TALL = 120.0


def finish_drawing(finish: DateSpread, start: date, latest: date, width: float = 640.0) -> str:
    """The finish between the day of the forecast and the latest finish."""
    whole = max((latest - start).days, 1)

    def x(text: str | None) -> float:
        day = latest if text is None else date.fromisoformat(text)
        share = min(max((day - start).days / whole, 0.0), 1.0)
        return EDGE + (width - 2 * EDGE) * share

    low, q25, mid, q75, high = (
        x(q) for q in (finish.q05, finish.q25, finish.q50, finish.q75, finish.q95)
    )
    parts = [
        rectangle(EDGE, 18, width - 2 * EDGE, 10, COLOURS["faint"], rx=3),
        rectangle(low, 14, max(high - low, 2.0), 18, COLOURS["band"], rx=3),
        rectangle(q25, 14, max(q75 - q25, 2.0), 18, COLOURS["gold"], rx=3),
        line(mid, 9, mid, 37, COLOURS["ink"], 2.4),
    ]
    step = 7 * max(1, round(MARK_SPACE / (7 * (width - 2 * EDGE) / whole)))
    for n in range(0, whole - step // 2, step):
        day = start + timedelta(days=n)
        at = x(day.isoformat())
        parts.append(line(at, 37, at, 42, COLOURS["soft"], 1.0))
        parts.append(words(at, 54, f"{day:%d %b}".lstrip("0"), SIZE, COLOURS["soft"]))
    told = (f"Finish: middle {finish.q50 or 'after the latest finish'}, half of the futures"
            f" {finish.q25 or '-'} to {finish.q75 or 'later'}, nine in ten {finish.q05 or '-'} to"
            f" {finish.q95 or 'later'}")  # fmt: skip
    return drawing(width, 60.0, told, "".join(parts), "finish")


def weeks_drawing(weeks: Sequence[SeasonWeek], width: float = 640.0) -> str:
    """Cane of each week to come: bars to the middle, lines over the 90 %."""
    most = max((w.cane.q95 or 0.0 for w in weeks), default=0.0) or 1.0
    wide = (width - 2 * EDGE) / max(len(weeks), 1)
    parts = []
    for n, week in enumerate(weeks):
        left, middle = EDGE + n * wide, EDGE + (n + 0.5) * wide
        top = TALL * (week.cane.q50 or 0.0) / most
        low, high = (TALL * (q or 0.0) / most for q in (week.cane.q05, week.cane.q95))
        parts += [
            rectangle(left + 2, 8 + TALL - top, max(wide - 4, 1.0), max(top, 0.5), COLOURS["leaf"]),
            line(middle, 8 + TALL - high, middle, 8 + TALL - low, COLOURS["ink"], 1.4),
        ]
        if n % max(1, round(MARK_SPACE / wide)) == 0:
            day = date.fromisoformat(week.start)
            parts.append(words(left, TALL + 24, f"{day:%d %b}".lstrip("0"), SIZE, COLOURS["soft"]))
    told = f"Cane of {len(weeks)} weeks to come, at most {grouped(most, 0)} t a week"
    return drawing(width, TALL + 30, told, "".join(parts), "weeks")


def share_drawing(name: str, share: float, width: float = 180.0) -> str:
    """A cause's share as a bar."""
    long = max(width * min(max(share, 0.0), 1.0), 1.0)
    bar = rectangle(0, 2, long, 10, COLOURS["water"]) + element("title", name)
    return drawing(width, 14.0, f"{name}: {100 * share:.0f} %", bar, "share")


def stop_drawing(days: Sequence[StopDay], currency: str, width: float = 640.0) -> str:
    """Money of the stop by its day beside the planned one: bars from zero, lines over the 95 %."""
    up = max(0.0, *(d.money + 1.96 * d.sigma for d in days))
    down = max(0.0, *(1.96 * d.sigma - d.money for d in days))
    scale, wide = TALL / ((up + down) or 1.0), (width - 2 * EDGE) / len(days)
    zero = 10 + up * scale
    parts = [line(EDGE, zero, width - EDGE, zero, COLOURS["soft"], 1.0)]
    for n, d in enumerate(days):
        at, tall = EDGE + n * wide, scale * abs(d.money)
        colour = COLOURS["leaf"] if d.money >= 0.0 else COLOURS["gold"]
        top = zero - tall if d.money >= 0.0 else zero
        low, high = (zero - scale * (d.money + k * d.sigma) for k in (-1.96, 1.96))
        parts += [rectangle(at + 4, top, max(wide - 8, 1.0), max(tall, 0.5), colour),
                  line(at + wide / 2, low, at + wide / 2, high, COLOURS["ink"], 1.4)]  # fmt: skip
        if n % max(1, round(MARK_SPACE / wide)) == 0:
            day = date.fromisoformat(d.date)
            parts.append(words(at + 4, TALL + 28, f"{day:%d %b}".lstrip("0"), SIZE,
                               COLOURS["soft"]))  # fmt: skip
    best = max(days, key=lambda d: d.money)
    told = (f"Money by the day of the stop beside {days[0].date}: most on {best.date},"
            f" {currency}{grouped(best.money, 0)}")  # fmt: skip
    return drawing(width, TALL + 34.0, told, "".join(parts), "stops")
