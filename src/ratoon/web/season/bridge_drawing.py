"""The waterfall of a bridge: planned, each cause from where the one before it ended, actual."""

from __future__ import annotations

from collections.abc import Sequence

from ratoon.reports.numbers import COVERAGE, grouped, signed
from ratoon.reports.svg import drawing, line, rectangle, words
from ratoon.reports.tokens import COLOURS

SIZE, ROW, NAME, NUMBER = 12.4, 23.0, 178.0, 92.0
MARGIN = 0.04  # of the range of the sums, at each end
Bar = tuple[str, float, float]
"""A cause, what it moves, its standard uncertainty."""


def waterfall(plan: float, bars: Sequence[Bar], actual: float, unit: str, decimals: int) -> str:
    """The waterfall; its axis begins where the sums do, which need not be zero."""
    sums = [plan]
    for _, by, _ in bars:
        sums.append(sums[-1] + by)
    ends = [x + s * COVERAGE * sigma for x, (_, _, sigma) in zip(sums[1:], bars) for s in (-1, 1)]
    low, high = min([*sums, *ends]), max([*sums, *ends])
    room = MARGIN * (high - low or 1.0)
    low, high, wide = low - room, high + room, 640.0 - NAME - NUMBER

    def x(value: float) -> float:
        return NAME + wide * (value - low) / (high - low)

    rows = [_whole("planned", plan, x(low), x(plan), 0, decimals)]
    for n, (name, by, sigma) in enumerate(bars, start=1):
        y, a, b = n * ROW, x(sums[n - 1]), x(sums[n])
        fill = COLOURS["leaf"] if by >= 0.0 else COLOURS["warn"]
        rows += [
            line(a, y - 7, a, y + 17, COLOURS["line"], 1.0),
            words(NAME - 8, y + 14, name, SIZE, COLOURS["ink"], text_anchor="end"),
            rectangle(min(a, b), y + 3, max(abs(b - a), 1.0), 14, fill),
            words(640, y + 14, signed(by, decimals), SIZE, COLOURS["ink"], text_anchor="end"),
        ]
        half = COVERAGE * sigma
        if half > 0.0:
            left, right = x(sums[n] - half), x(sums[n] + half)
            rows.append(line(left, y + 10, right, y + 10, COLOURS["ink"], 1.4))
            rows += [line(at, y + 6, at, y + 14, COLOURS["ink"], 1.4) for at in (left, right)]
    rows.append(_whole("actual", actual, x(low), x(actual), len(bars) + 1, decimals))
    told = (f"From {grouped(plan, decimals)} {unit} planned to {grouped(actual, decimals)} {unit}: "
            + "; ".join(f"{name} {signed(by, decimals)}" for name, by, _ in bars))  # fmt: skip
    return drawing(640.0, (len(bars) + 2) * ROW, told, "".join(rows), "waterfall")


def _whole(name: str, value: float, start: float, end: float, n: int, decimals: int) -> str:
    y = n * ROW
    return "".join((
        words(NAME - 8, y + 14, name, SIZE, COLOURS["ink"], text_anchor="end", font_weight=600),
        rectangle(start, y + 3, max(end - start, 1.0), 14, COLOURS["band"]),
        line(end, y + 1, end, y + 19, COLOURS["gold"], 2.4),
        words(640, y + 14, grouped(value, decimals), SIZE, COLOURS["ink"], text_anchor="end",
              font_weight=600),
    ))  # fmt: skip
