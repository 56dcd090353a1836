"""Drawings of slides: outlines over the picture, sizes passed, slides against time and the model.

Crystals found alone are outlined in green, those that touched in gold, what a person joined or
split is dashed; slides by number are hollow: each reads in greyscale too.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from ratoon.jobs.strikes.slides import SlideLook
from ratoon.jobs.strikes.slides_in_row import StrikeSlides
from ratoon.laboratory.slide_sizes import SlideFigure
from ratoon.reports.numbers import grouped, half_interval
from ratoon.reports.svg import drawing, element, line, rectangle, words
from ratoon.reports.tokens import COLOURS
from ratoon.web.plant.trend_drawing import ticks

SIZE = 12.0
WIDE, TALL, LEFT, FOOT = 560.0, 190.0, 44.0, 30.0
BARS = (20, 50, 100, 200, 500, 1000, 2000, 5000)
"""Lengths of a scale bar [um]."""


def picture_drawing(look: SlideLook, zoom: int) -> str:
    """The picture with its outlines, in pixels of the full picture."""
    unit = max(look.wide, look.high) / 1000.0  # a thousandth of the picture
    parts = [element("image", href=f"/slides/{look.strike}/{look.picture}/picture.jpg",
                     width=look.wide, height=look.high)]  # fmt: skip
    size = 15.0 * unit / zoom**0.5
    for number, outline, one, touching in zip(
        look.numbers, look.slide.outlines, look.slide.sizes, look.touching
    ):
        d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in outline[:: max(len(outline) // 60, 1)])
        x = sum(p[0] for p in outline) / len(outline)
        y = sum(p[1] for p in outline) / len(outline)
        ink = COLOURS["gold" if touching else "leaf"]
        by_hand = number > look.seen
        dashed = f"{5 * unit:.1f} {3 * unit:.1f}" if by_hand else None
        path = element("path", element("title", f"{number}: {one:.0f}"), d=f"{d}Z",
                       fill=COLOURS["card"], fill_opacity=0.01, stroke=ink, stroke_dasharray=dashed,
                       stroke_width=1.8 * unit / zoom**0.5)  # fmt: skip
        label = words(
            x,
            y + 0.35 * size,
            str(number),
            size,
            COLOURS["ink"],
            paint_order="stroke",
            stroke=COLOURS["card"],
            stroke_width=0.25 * size,
            text_anchor="middle",
        )
        parts.append(element("g", path + label, class_="crystal", data_number=number))
    if look.asked.scale:
        parts.append(_scale_bar(look, look.asked.scale, unit))
    caption = f"{len(look.numbers)} crystals outlined on the picture {look.name}"
    return drawing(look.wide, look.high, caption, "".join(parts), "slide")


def _scale_bar(look: SlideLook, scale: float, unit: float) -> str:
    """A length on the picture by which the scale is confirmed with the eye."""
    um = min(BARS, key=lambda b: abs(b / scale - 0.15 * look.wide))
    long, x, y = um / scale, 20.0 * unit, look.high - 16.0 * unit
    back = rectangle(x - 8 * unit, y - 24 * unit, max(long, 60 * unit) + 16 * unit, 34 * unit,
                     COLOURS["card"], fill_opacity=0.85)  # fmt: skip
    bar = line(x, y, x + long, y, COLOURS["ink"], 4.0 * unit)
    return back + bar + words(x, y - 7 * unit, f"{um} µm", 16.0 * unit, COLOURS["ink"])


def spread_drawing(spread: Sequence[tuple[float, SlideFigure]], unit: str) -> str:
    """Share that is smaller against size, with the 95 % interval of the size as a band."""
    if len(spread) < 2:
        return ""
    low = min(f.low for _, f in spread)
    high = max(f.high for _, f in spread)
    span = (high - low) or 1.0

    def x(size: float) -> float:
        return LEFT + (WIDE - LEFT - 12) * (size - low) / span

    def y(share: float) -> float:
        return 8 + TALL * (1.0 - share / 100.0)

    marks, places = ticks(low, high)
    left = [f"{x(f.low):.1f},{y(s):.1f}" for s, f in spread]
    right = [f"{x(f.high):.1f},{y(s):.1f}" for s, f in spread]
    parts = [
        element("polygon", points=" ".join([*left, *reversed(right)]), fill=COLOURS["band"]),
        *(line(LEFT, y(s), WIDE - 12, y(s), COLOURS["line"], 1.0) for s in (0, 25, 50, 75, 100)),
        *(words(LEFT - 6, y(s) + 4, f"{s}", SIZE, COLOURS["soft"], text_anchor="end")
          for s in (0, 25, 50, 75, 100)),
        *(line(x(m), 8, x(m), 8 + TALL, COLOURS["line"], 1.0) for m in marks),
        *(words(x(m), TALL + FOOT - 6, grouped(m, places), SIZE, COLOURS["soft"],
                text_anchor="middle") for m in marks),
        element("polyline", points=" ".join(f"{x(f.value):.1f},{y(s):.1f}" for s, f in spread),
                fill="none", stroke=COLOURS["leaf"], stroke_width=2),
        words(WIDE - 12, TALL + FOOT + 10, f"size, {unit}", SIZE, COLOURS["soft"],
              text_anchor="end"),
    ]  # fmt: skip
    caption = f"Half of the weight is smaller than {dict(spread)[50.0].value:.0f} {unit}"
    return drawing(WIDE, TALL + FOOT + 16, caption, "".join(parts), "trace")


def in_row_drawing(s: StrikeSlides, name: str, label: str) -> str:
    """Slides as dots on their 95 % intervals over the model's line and band; "" without any."""
    model = [(datetime.fromisoformat(m.time), getattr(m, name)) for m in s.model]
    dots = []
    for one in s.slides:
        if one.by_mass is not None:
            figure = one.by_mass[0 if name == "ma" else 1]
            half = half_interval(figure.sigma) or 0.0
            dots.append((datetime.fromisoformat(one.time), figure.value, half, one.basis))
    if not dots and not model:
        return ""
    first = datetime.fromisoformat(s.start)
    last = datetime.fromisoformat(s.drop or s.seen)
    length = (last - first).total_seconds() or 1.0
    ends: list[float] = [v for _, f in model for v in (f.low, f.high)]
    ends += [v for _, value, half, _ in dots for v in (value - half, value + half)]
    low, high = max(min(ends), 0.0), max(ends)
    span = (high - low) or 1.0

    def x(at: datetime) -> float:
        share: float = (at - first).total_seconds() / length
        return LEFT + (WIDE - LEFT - 14) * min(max(share, 0.0), 1.0)

    def y(value: float) -> float:
        return 8 + TALL * (high - min(max(value, low), high)) / span

    marks, places = ticks(low, low + span)
    parts = [line(LEFT, y(v), WIDE - 14, y(v), COLOURS["line"], 1.0) for v in marks]
    parts += [words(LEFT - 6, y(v) + 4, grouped(v, places), SIZE, COLOURS["soft"],
                    text_anchor="end") for v in marks]  # fmt: skip
    if len(model) > 1:
        over = [f"{x(t):.1f},{y(f.high):.1f}" for t, f in model]
        under = [f"{x(t):.1f},{y(f.low):.1f}" for t, f in reversed(model)]
        middle = " ".join(f"{x(t):.1f},{y(f.value):.1f}" for t, f in model)
        parts += [element("polygon", points=" ".join([*over, *under]), fill=COLOURS["band"]),
                  element("polyline", points=middle, fill="none", stroke=COLOURS["leaf"],
                          stroke_width=2)]  # fmt: skip
    for at, value, half, basis in dots:
        if half:
            parts.append(line(x(at), y(value - half), x(at), y(value + half), COLOURS["ink"], 1.4))
        full = COLOURS["ink"] if basis == "mass" else COLOURS["card"]
        parts.append(element("circle", cx=x(at), cy=y(value), r=4.2, fill=full,
                             stroke=COLOURS["ink"], stroke_width=1.4))  # fmt: skip
    for at, where in ((first, "start"), (last, "end")):
        parts.append(words(x(at), TALL + FOOT - 4, f"{at:%H:%M}", SIZE, COLOURS["soft"],
                           text_anchor=where))  # fmt: skip
    caption = f"{label}: {len(dots)} slides" + (" beside the model" if model else "")
    return drawing(WIDE, TALL + FOOT + 4, caption, "".join(parts), "trace")
