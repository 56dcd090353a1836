"""Lost time by cause: a bar for the last days with the day's own part in front of it."""

from __future__ import annotations

from ratoon.reports.numbers import duration
from ratoon.reports.svg import drawing, rectangle, text_width, words
from ratoon.reports.tokens import COLOURS
from ratoon.web.journal.lost_time import CauseRow

WIDTH, SIZE, LINE = 560.0, 13.0, 22.0
MOST = 12


def cause_drawing(rows: tuple[CauseRow, ...], days: int) -> str:
    """The drawing; "" when no time was lost."""
    shown = rows[:MOST]
    if not shown:
        return ""
    names = max(text_width(r.cause, SIZE) for r in shown)
    left = min(names + 12.0, 240.0)
    # every bar leaves room for its own words
    scale = min((WIDTH - left - 10.0 - text_width(_told(r), SIZE)) / r.last for r in shown)
    parts = []
    for n, row in enumerate(shown):
        y = n * LINE + 4.0
        parts.append(words(left - 8, y + 13, row.cause, SIZE, COLOURS["ink"], text_anchor="end"))
        parts.append(rectangle(left, y + 2, max(row.last * scale, 1.0), 14.0, COLOURS["straw"]))
        if row.day:
            parts.append(rectangle(left, y + 5, max(row.day * scale, 1.0), 8.0, COLOURS["warn"]))
        parts.append(words(left + row.last * scale + 6, y + 13, _told(row), SIZE, COLOURS["soft"]))
    total = duration(sum(r.last for r in rows))
    label = f"Lost time by cause over {days} days, {total} in all: " + "; ".join(
        f"{r.cause} {r.last_text}" for r in shown
    )
    return drawing(WIDTH, len(shown) * LINE + 8.0, label, "".join(parts), "causes")


def _told(row: CauseRow) -> str:
    return row.last_text + (f", day {row.day_text}" if row.day else "")
