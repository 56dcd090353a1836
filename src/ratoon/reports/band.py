"""The narrowing band: where the sugar went.

Above, pol in cane as a band of true width that narrows where it is lost. Below, on one scale that
is larger and said, each loss as a dot on its 95 % interval: what is surely lost stands clear of the
zero line, what may be nothing lies across it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratoon.reports.morning import LossRow, MorningSheet
from ratoon.reports.numbers import NOTHING, grouped
from ratoon.reports.svg import drawing, element, line, rectangle, text_width, words
from ratoon.reports.tokens import COLOURS

STEPS = ("bagasse", "mud", "molasses", "known", "undetermined", "stock_change")
FILLS = {
    "bagasse": COLOURS["straw"],
    "mud": COLOURS["mud"],
    "molasses": COLOURS["molasses"],
    "known": COLOURS["steam"],
    "undetermined": COLOURS["soft"],
    "stock_change": COLOURS["gold"],
}
SMALL = 0.88  # of the words' size; a page's stay over 11 px where a tablet shows them
# Red only for what needs a person: an undetermined loss that the instruments show.
REAL = COLOURS["warn"]
TITLES = {
    "bagasse": ("bagasse",),
    "mud": ("mud",),
    "molasses": ("molasses",),
    "known": ("inversion,", "entrainment"),
    "undetermined": ("undetermined",),
    "stock_change": ("into", "stock"),
}


@dataclass(frozen=True, slots=True)
class Frame:
    """Where things stand in the drawing."""

    width: float
    size: float
    cane: float  # width of the block of pol in cane, and of sugar
    step: float
    top: float
    tall: float

    @property
    def per_cent(self) -> float:
        """Height of one per cent of pol in cane."""
        return self.tall / 100.0


def band_label(sheet: MorningSheet) -> str:
    """What the drawing says, for those who do not see it."""
    parts = [f"{row.name.lower()} {row.day.pct.whole}" for row in sheet.losses if row.key != "cane"]
    return "Where the sugar went, per cent of pol in cane: " + ", ".join(parts)


def can_be_drawn(sheet: MorningSheet) -> bool:
    """Whether there is a band to draw: pol in cane and at least one loss are known."""
    known = [k for k in STEPS if sheet.loss(k).day.pct.value is not None]
    return sheet.loss("cane").day.t.value is not None and bool(known)


def _fill(sheet: MorningSheet, key: str) -> str:
    real = key == "undetermined" and sheet.undetermined_is_real
    return REAL if real else FILLS[key]


def _frame(width: float, size: float, tall: float) -> Frame:
    cane = width * 0.065
    return Frame(width, size, cane, (width - 2 * cane) / len(STEPS), size * 1.7, size * tall)


def _leaving(f: Frame, x: float, base: float, pct: float, fill: str, end: float) -> str:
    """A loss that bends down and leaves, as wide as it is; a gain comes up, with an arrow."""
    wide = max(abs(pct) * f.per_cent, 1.6)
    middle = x + f.step * 0.5
    bend = f.size * 0.9
    outer = bend + wide
    if pct < 0:
        return element(
            "path",
            d=f"M{middle:.1f},{end:.1f} V{base + 7:.1f}",
            fill="none",
            stroke=fill,
            stroke_width=wide,
        ) + element("path", d=f"M{middle:.1f},{base:.1f} l-5,8 h10 z", fill=fill)
    right = middle + wide / 2
    left = right - wide
    return element(
        "path",
        d=(
            f"M{x:.1f},{base - wide:.1f} H{right - outer:.1f} "
            f"Q{right:.1f},{base - wide:.1f} {right:.1f},{base - wide + outer:.1f} V{end:.1f} "
            f"H{left:.1f} V{base + bend:.1f} Q{left:.1f},{base:.1f} {left - bend:.1f},{base:.1f} "
            f"H{x:.1f} z"
        ),
        fill=fill,
    )


def _band(f: Frame, sheet: MorningSheet, foot: float) -> tuple[str, float]:
    """The band itself, step by step; returns also what is left of it."""
    parts: list[str] = []
    left = 100.0
    x = f.cane
    for key in STEPS:
        pct = sheet.loss(key).day.pct.value
        after = left - (pct or 0.0)
        # A gain widens the band where it comes in.
        tall = min(left, after) * f.per_cent if pct is not None and pct > 0 else left * f.per_cent
        parts.append(rectangle(x, f.top, f.step + 0.3, tall, COLOURS["band"]))
        if pct is None:
            middle = x + f.step / 2
            parts.append(
                line(
                    middle,
                    f.top + left * f.per_cent,
                    middle,
                    foot,
                    COLOURS["soft"],
                    1.2,
                    stroke_dasharray="3 3",
                )
            )
        else:
            base = f.top + left * f.per_cent
            parts.append(_leaving(f, x, base, pct, _fill(sheet, key), foot))
        left = after
        x += f.step
    return "".join(parts), left


def _scale(rows: list[LossRow]) -> tuple[float, float, float]:
    """Low end, high end and step of the losses' own scale, in per cent of pol in cane."""
    ends = [0.0]
    for row in rows:
        if row.day.pct.value is not None:
            half = row.day.pct.half or 0.0
            ends += [row.day.pct.value - half, row.day.pct.value + half]
    low, high = min(ends), max(ends)
    step = next((s for s in (1.0, 2.0, 5.0, 10.0, 20.0) if (high - low) / s <= 8), 50.0)
    return math.floor(low / step) * step, max(math.ceil(high / step) * step, step), step


def _intervals(f: Frame, sheet: MorningSheet, top: float, tall: float) -> str:
    """Each loss as a dot on its interval, all on one scale."""
    rows = [sheet.loss(key) for key in STEPS]
    low, high, step = _scale(rows)

    def y(value: float) -> float:
        return top + tall * (high - value) / (high - low)

    small = f.size * SMALL
    parts = []
    tick = low
    while tick <= high + 1e-9:
        strong = abs(tick) < 1e-9
        colour = COLOURS["soft"] if strong else COLOURS["line"]
        parts.append(line(f.cane, y(tick), f.width - f.cane, y(tick), colour, 1.0))
        text = grouped(tick, 0)
        parts.append(
            words(
                f.cane - 6, y(tick) + small * 0.35, text, small, COLOURS["soft"], text_anchor="end"
            )
        )
        tick += step
    for i, row in enumerate(rows):
        x = f.cane + f.step * (i + 0.5)
        pct = row.day.pct
        if pct.value is None:
            continue
        colour = _fill(sheet, row.key)
        if pct.half:
            parts.append(line(x, y(pct.value - pct.half), x, y(pct.value + pct.half), colour, 4.0))
        sure = pct.half is None or abs(pct.value) > pct.half
        fill = colour if sure else COLOURS["card"]
        parts.append(
            element(
                "circle", cx=x, cy=y(pct.value), r=4.6, fill=fill, stroke=colour, stroke_width=2.0
            )
        )
    return "".join(parts)


def _have_room(f: Frame, sheet: MorningSheet) -> bool:
    """Whether every figure with its interval stands clear of its neighbours on one line."""
    shown = [sheet.loss(key).day.pct for key in STEPS]
    texts = [f"{p.text} ± {p.interval}" for p in shown if p.value is not None and p.interval]
    return all(text_width(t, f.size) < f.step - f.size * 0.7 for t in texts)


def _labels(f: Frame, sheet: MorningSheet, y: float) -> str:
    """Under each loss its name, its figure with interval, tonnes and worth."""
    parts = []
    small = f.size * SMALL
    apart = _have_room(f, sheet)
    for i, key in enumerate(STEPS):
        row = sheet.loss(key)
        x = f.cane + f.step * (i + 0.5)
        at = y
        names = TITLES[key]
        if key == "stock_change" and (row.day.pct.value or 0.0) < 0:
            names = ("out of", "stock")
        if row.doubted:  # as in the table: a suspect reading weighs in it
            marked = f"{names[-1]} (?)"
            room = text_width(marked, f.size * 0.94) < f.step - f.size * 0.5
            names = (*names[:-1], marked) if room or len(names) > 1 else (*names, "(?)")
        for name in names:
            parts.append(words(x, at, name, f.size * 0.94, COLOURS["ink"], text_anchor="middle"))
            at += f.size * 1.15
        at = y + f.size * 2.4
        amount = row.day
        if amount.pct.value is None:
            for text in ("not", "determined"):
                parts.append(words(x, at, text, small, COLOURS["soft"], text_anchor="middle"))
                at += small * 1.15
            continue
        text, below = amount.pct.text, [f"{amount.t.text} t"]
        if amount.pct.interval and apart:
            text += f" ± {amount.pct.interval}"
        elif amount.pct.interval:
            below.insert(0, f"± {amount.pct.interval}")
        parts.append(
            words(x, at, text, f.size, COLOURS["ink"], text_anchor="middle", font_weight=600)
        )
        at += f.size * 1.2
        if amount.money.text != NOTHING:
            below.append(amount.money.text)
        for text in below:
            parts.append(words(x, at, text, small, COLOURS["soft"], text_anchor="middle"))
            at += small * 1.2
    return "".join(parts)


def band_drawing(
    sheet: MorningSheet, width: float = 520.0, size: float = 13.0, tall: float = 13.5
) -> str:
    """The drawing, or "" when there is no pol to follow.

    `width` wide, its words `size` high, the band `tall` and its scale two thirds of that, in words.
    """
    if not can_be_drawn(sheet):
        return ""
    f = _frame(width, size, tall)
    intervals_top = f.top + f.tall + size * 2.4
    scale = f.tall * 0.68
    foot = intervals_top - size * 0.5
    band, left = _band(f, sheet, foot)
    cane, sugar = sheet.loss("cane").day, sheet.loss("sugar").day
    parts = [
        rectangle(0.0, f.top, f.cane, f.tall, COLOURS["leaf"]),
        words(0.0, f.top - size * 0.5, f"pol in cane {cane.t.text} t = 100", size, COLOURS["ink"]),
        band,
    ]
    if sugar.pct.value is not None:
        x = f.width - f.cane
        parts.append(rectangle(x, f.top, f.cane, left * f.per_cent, COLOURS["gold"]))
        text = f"sugar {sugar.pct.text} ± {sugar.pct.interval}"
        if not sugar.pct.interval:
            text = f"sugar {sugar.pct.text}"
        parts.append(
            words(f.width, f.top - size * 0.5, text, size, COLOURS["ink"], text_anchor="end")
        )
    parts.append(_intervals(f, sheet, intervals_top, scale))
    labels = intervals_top + scale + size * 1.5
    parts.append(_labels(f, sheet, labels))
    bottom = labels + size * (5.2 if _have_room(f, sheet) else 6.3)
    return drawing(width, bottom, band_label(sheet), "".join(parts), "band")
