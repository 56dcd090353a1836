"""Drawings of the best settings: a setting on its range, prices, the ladder, money over a setting.

Today is an open ring and the best a full dot; what binds is dark and what does not is light, so
that each reads in greyscale too.
"""

from __future__ import annotations

from collections.abc import Sequence

from ratoon.plans.best.result import BestCurve, BestMoney, BestSetting, Rung
from ratoon.reports.numbers import decimals_for, grouped
from ratoon.reports.svg import drawing, element, line, rectangle, words
from ratoon.reports.tokens import COLOURS

EDGE = 8.0
SIZE = 12.0
NEAR = 60.0  # px: rungs so near one another share their words


def setting_drawing(name: str, one: BestSetting, width: float = 240.0) -> str:
    """A bar from the lowest to the highest value, with today's and the best; "" without a range."""
    if not one.high > one.low:
        return ""

    def x(value: float) -> float:
        share = (value - one.low) / (one.high - one.low)
        return EDGE + (width - 2 * EDGE) * min(max(share, 0.0), 1.0)

    height, today, best = 18.0, x(one.today), x(one.best)
    middle = height / 2
    parts = [
        rectangle(EDGE, middle - 3, width - 2 * EDGE, 6, COLOURS["band"], rx=3),
        line(today, middle, best, middle, COLOURS["leaf"], 2.0),
        element("circle", cx=best, cy=middle, r=4.6, fill=COLOURS["leaf"]),
        element("circle", cx=today, cy=middle, r=4.6, fill=COLOURS["card"], stroke=COLOURS["ink"],
                stroke_width=1.8),
    ]  # fmt: skip
    caption = (f"{name}: today {one.today:.4g}, best {one.best:.4g}, range {one.low:.4g} to "
            f"{one.high:.4g} {one.unit}")  # fmt: skip
    return drawing(width, height, caption, "".join(parts), "setting")


def bar_drawing(label: str, share: float, width: float = 200.0) -> str:
    """A price as a share of the dearest one."""
    long = max(share * width, 1.0)
    return drawing(width, 14.0, label, rectangle(0, 2, long, 10, COLOURS["gold"]), "price")


def gain_drawing(money: BestMoney, sign: str, width: float = 320.0) -> str:
    """The gain as a dot on its 95 % interval, from zero; "" where no interval was found."""
    if money.low is None or money.high is None:
        return ""
    low, high = min(0.0, money.low), max(0.0, money.high, money.gain)

    def x(value: float) -> float:
        return EDGE + (width - 2 * EDGE) * (value - low) / ((high - low) or 1.0)

    middle = 12.0
    parts = [
        line(EDGE, middle, width - EDGE, middle, COLOURS["line"], 1.0),
        line(x(0.0), 3, x(0.0), 21, COLOURS["soft"], 1.6),
        line(x(money.low), middle, x(money.high), middle, COLOURS["leaf"], 3.0),
        element("circle", cx=x(money.gain), cy=middle, r=4.6, fill=COLOURS["leaf"]),
    ]
    caption = (f"gain {sign}{money.gain:,.0f} an hour, 95 % from {sign}{money.low:,.0f} to "
            f"{sign}{money.high:,.0f}")  # fmt: skip
    return drawing(width, 24.0, caption, "".join(parts), "gain")


class _Axes:
    """A plot's frame: where a value stands, and the marks of both axes."""

    def __init__(
        self, width: float, height: float, xs: Sequence[float], ys: Sequence[float]
    ) -> None:
        self.left, self.right, self.top = 66.0, width - 14.0, 16.0
        self.foot = height - 24.0
        self.low_x, self.high_x = min(xs), max(xs)
        span = (max(ys) - min(ys)) or max(abs(max(ys)), 1.0) * 0.01
        self.low_y, self.high_y = min(ys) - 0.08 * span, max(ys) + 0.08 * span

    def x(self, value: float) -> float:
        return self.left + (self.right - self.left) * (value - self.low_x) / (
            (self.high_x - self.low_x) or 1.0
        )

    def y(self, value: float) -> float:
        return self.foot - (self.foot - self.top) * (value - self.low_y) / (
            self.high_y - self.low_y
        )

    def marks(self, currency: str) -> list[str]:
        """Grid lines of money, and the two ends and the middle of the other axis."""
        parts = []
        span = self.high_y - self.low_y
        decimals = min(decimals_for(span / 3), 0)
        for k in (0.08, 0.5, 0.92):
            value = round(self.low_y + k * span, decimals)
            y = self.y(value)
            parts.append(line(self.left, y, self.right, y, COLOURS["line"], 0.8))
            parts.append(words(self.left - 5, y + 4, f"{currency}{grouped(value, decimals)}", SIZE,
                               COLOURS["soft"], text_anchor="end"))  # fmt: skip
        wide = self.high_x - self.low_x
        decimals = max(decimals_for(wide), 0) if wide else 0
        for k, anchor in ((0.0, "start"), (0.5, "middle"), (1.0, "end")):
            value = self.low_x + k * wide
            parts.append(words(self.x(value), self.foot + 16, grouped(value, decimals), SIZE,
                               COLOURS["soft"], text_anchor=anchor))  # fmt: skip
        return parts


def curve_drawing(
    name: str, curve: BestCurve, today: float, currency: str, width: float = 360.0,
    height: float = 160.0,
) -> str:  # fmt: skip
    """Money an hour over a setting, all others at their best: its flat part, today and the best."""
    xs, ys = [p.at for p in curve.points], [p.money for p in curve.points]
    axes = _Axes(width, height, [*xs, *curve.flat], ys)
    low, high = (axes.x(v) for v in curve.flat)
    parts = [rectangle(low, axes.top, max(high - low, 1.5), axes.foot - axes.top, COLOURS["band"])]
    parts += axes.marks(currency)
    path = " ".join(f"{axes.x(a):.1f},{axes.y(m):.1f}" for a, m in zip(xs, ys))
    parts.append(element("polyline", points=path, fill="none", stroke=COLOURS["leaf"],
                         stroke_width=2.0, stroke_linejoin="round"))  # fmt: skip
    best = axes.x(curve.best)
    parts.append(element("circle", cx=best, cy=axes.y(max(ys)), r=4.6, fill=COLOURS["leaf"]))
    if axes.low_x <= today <= axes.high_x:
        at = axes.x(today)
        parts.append(line(at, axes.top, at, axes.foot, COLOURS["ink"], 1.4, stroke_dasharray="4 3"))
        anchor = "start" if at < width / 2 else "end"
        parts.append(words(at + (5 if anchor == "start" else -5), axes.foot - 5, "today", SIZE,
                           COLOURS["ink"], text_anchor=anchor))  # fmt: skip
    caption = (f"{name}: the most an hour from {currency}{min(ys):,.0f} to "
               f"{currency}{max(ys):,.0f}; "
            f"best at {curve.best:.4g}, flat from {curve.flat[0]:.4g} to {curve.flat[1]:.4g} "
            f"{curve.unit}")  # fmt: skip
    return drawing(width, height, caption, "".join(parts), "curve")


def _holder(rung: Rung) -> str:
    """What holds a rung, shortly."""
    if not rung.binds:
        return "nothing"
    name = rung.binds[0].name.partition(",")[0]
    return name.removeprefix("load of the ").removeprefix("load of ")


def ladder_drawing(
    rungs: Sequence[Rung], currency: str, width: float = 760.0, height: float = 240.0
) -> str:
    """Money an hour over the rate as steps; each carries the number of its line in the table."""
    xs, ys = [r.rate for r in rungs], [r.money for r in rungs]
    axes = _Axes(width, height, xs, ys)
    axes.right = width - 150.0  # room for the words of the last
    parts = axes.marks(currency)
    path = f"M{axes.x(xs[0]):.1f},{axes.y(ys[0]):.1f}"
    path += "".join(f" H{axes.x(r.rate):.1f} V{axes.y(r.money):.1f}" for r in rungs[1:])
    parts.append(element("path", d=path, fill="none", stroke=COLOURS["leaf"], stroke_width=2.0))
    named: list[str] = []
    for n, rung in enumerate(rungs, 1):
        x, y = axes.x(rung.rate), axes.y(rung.money)
        parts.append(element("circle", cx=x, cy=y, r=4.6, fill=COLOURS["leaf"]))
        named.append(f"{n}. {_holder(rung)}")
        follows = rungs[n : n + 1]
        if follows and axes.x(follows[0].rate) - x < NEAR:
            continue  # told with the next one, beside which it stands
        for k, text in enumerate(named):
            parts.append(words(x + 8, y - 9 + 15 * k, text, SIZE, COLOURS["ink"]))
        named = []
    label = "; ".join(f"{r.rate:.0f} t/h, {currency}{r.money:,.0f} an hour" for r in rungs)
    return drawing(width, height, f"Ladder of limits: {label}", "".join(parts), "ladder")
