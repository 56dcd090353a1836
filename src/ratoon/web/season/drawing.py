"""Drawings of the season's forecast: the finish on its calendar, weeks to come, shares of causes.

The middle half is dark and the rest of the 90 % light, so that each reads in greyscale too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from ratoon.plans.season.answer import DateSpread, SeasonWeek
from ratoon.plans.season.stops_answer import StopDay
from ratoon.reports.numbers import grouped
from ratoon.reports.svg import drawing, element, line, rectangle, words
from ratoon.reports.tokens import COLOURS

EDGE, SIZE = 14.0, 12.0
MARK_SPACE = 64.0  # px between marks on the calendar
TALL = 120.0
ROW, LABEL = 26.0, 50.0  # px of one forecast's row, and of its date beside it


def finish_drawing(
    finish: DateSpread, start: date, latest: date, width: float = 640.0,
    earlier: Sequence[tuple[date, DateSpread]] = (),
) -> str:  # fmt: skip
    """The finish between the day of the forecast and the latest finish.

    `earlier` forecasts stand above it as they were made, each in a row of its own: a fan that
    narrows towards the finish.
    """
    rows = [*earlier, (start, finish)]
    left = EDGE + (LABEL if earlier else 0.0)
    whole, foot = max((latest - start).days, 1), 10.0 + ROW * len(rows)

    def x(text: str | None) -> float:
        day = latest if text is None else date.fromisoformat(text)
        share = min(max((day - start).days / whole, 0.0), 1.0)
        return left + (width - EDGE - left) * share

    parts = []
    for n, (made, spread) in enumerate(rows):
        y = 10.0 + ROW * n
        parts += _band([x(q) for q in (spread.q05, spread.q25, spread.q50, spread.q75, spread.q95)],
                       left, width - EDGE - left, y)  # fmt: skip
        if earlier:
            parts.append(words(EDGE, y + 17, _short(made), SIZE, COLOURS["soft"]))
    step = 7 * max(1, round(MARK_SPACE / (7 * (width - EDGE - left) / whole)))
    for n in range(0, whole - step // 2, step):
        at = x((start + timedelta(days=n)).isoformat())
        parts.append(line(at, foot, at, foot + 5, COLOURS["soft"], 1.0))
        parts.append(words(at, foot + 17, _short(start + timedelta(days=n)), SIZE, COLOURS["soft"]))
    told = (f"Finish: middle {finish.q50 or 'after the latest finish'}, half of the futures"
            f" {finish.q25 or '-'} to {finish.q75 or 'later'}, nine in ten {finish.q05 or '-'} to"
            f" {finish.q95 or 'later'}")  # fmt: skip
    if earlier:
        told += f"; above it {len(earlier)} earlier forecasts as they were made"
    return drawing(width, foot + 23.0, told, "".join(parts), "finish")


def _band(places: list[float], left: float, wide: float, y: float) -> list[str]:
    """The spread of one forecast on the calendar."""
    low, q25, middle, q75, high = places
    return [
        rectangle(left, y + 7, wide, 8, COLOURS["faint"], rx=3),
        rectangle(low, y + 4, max(high - low, 2.0), 14, COLOURS["band"], rx=3),
        rectangle(q25, y + 4, max(q75 - q25, 2.0), 14, COLOURS["gold"], rx=3),
        line(middle, y, middle, y + 22, COLOURS["ink"], 2.4),
    ]


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"


def weeks_drawing(
    weeks: Sequence[SeasonWeek], planned: Mapping[str, float] | None = None, width: float = 640.0
) -> str:
    """Cane of each week to come: bars to the middle, lines over the 90 %, the plan in gold."""
    aims = planned or {}
    most = max(*(w.cane.q95 or 0.0 for w in weeks), *aims.values(), 1.0) if weeks else 1.0
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
        if week.start in aims:
            y = 8 + TALL - TALL * aims[week.start] / most
            parts.append(line(left, y, left + wide, y, COLOURS["gold"], 2.4))
        if n % max(1, round(MARK_SPACE / wide)) == 0:
            day = _short(date.fromisoformat(week.start))
            parts.append(words(left, TALL + 24, day, SIZE, COLOURS["soft"]))
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
