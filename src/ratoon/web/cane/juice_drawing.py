"""A consignment's way as pictures: from the paddock to the sampler, and its share of the juice."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from ratoon.reports import svg
from ratoon.reports.tokens import COLOURS

WIDE, LEFT, RIGHT = 940.0, 92.0, 60.0
SIZE = 12.5
"""Lettering, over 11 px on a tablet."""
Local = Callable[[str], datetime]
STEPS = tuple(timedelta(minutes=m) for m in (1, 2, 5, 10, 15, 30, 60, 120, 240, 360, 720, 1440))


def path_drawing(found: Mapping[str, Any], local: Local) -> str:
    """Burnt, cut, weighed, tipped and at the sampler, on one line of time."""
    one = found.get("found")
    if not one:
        return ""
    weighed = [d["weighed"] for d in found["deliveries"] if d["weighed"]]
    window = one["window"] or {"start": None, "end": None}
    spans = [
        ("burnt", one["burnt"], one["burnt"], "molasses"), ("cut", one["cut"], one["cut"], "leaf"),
        ("weighed", min(weighed, default=None), max(weighed, default=None), "straw"),
        ("tipped", one["first_tip"], one["last_tip"], "leaf"),
        ("at the sampler", window["start"], window["end"], "gold"),
    ]  # fmt: skip
    known = [(n, local(a), local(b), colour) for n, a, b, colour in spans if a and b]
    if not known:
        return ""
    row, top = 22.0, 22.0
    high = top + row * len(known) + 4.0
    x, parts = _scale(min(a for _, a, _, _ in known), max(b for _, _, b, _ in known), top, high)
    for i, (name, begin, end, colour) in enumerate(known):
        y = top + row * i
        parts.append(svg.words(2, y + 13, name, SIZE, COLOURS["ink"]))
        wide = max(x(end) - x(begin), 3.0)
        parts.append(svg.rectangle(x(begin), y + 3, wide, 12.0, COLOURS[colour]))
        clock = f"{begin:%H:%M}" if begin == end else f"{begin:%H:%M} to {end:%H:%M}"
        before = x(begin) + wide + 5 + svg.text_width(clock, SIZE) > WIDE
        at = x(begin) - 5 if before else x(begin) + wide + 5
        parts.append(svg.words(at, y + 13, clock, SIZE, COLOURS["soft"],
                               text_anchor="end" if before else None))  # fmt: skip
    label = "; ".join(f"{n} {a:%d %b %H:%M} to {b:%d %b %H:%M}" for n, a, b, _ in known)
    return svg.drawing(WIDE, high, f"Way of the cane: {label}", "".join(parts), "path")


def juice_drawing(found: Mapping[str, Any], local: Local) -> str:
    """Its share of the juice over time above; near-infrared brix and pol of that juice below."""
    juice = found.get("juice")
    if not juice:
        return ""
    shares = [(local(p["at"]), p["own"]) for p in juice["shares"]]
    near = juice["near_infrared"]
    one, samples = found["found"], found.get("samples", ())
    top, middle, low_band, high = 22.0, 110.0, 132.0, 262.0 if near or samples else 118.0
    x, parts = _scale(shares[0][0], shares[-1][0], top, high - 2)
    base = middle

    def y_share(own: float) -> float:
        return base - (base - top) * own / 100.0

    points = [(x(at), y_share(own)) for at, own in shares]
    outline = " ".join(f"{a:.1f},{b:.1f}" for a, b in
                       [(points[0][0], base), *points, (points[-1][0], base)])  # fmt: skip
    parts.append(svg.element("polygon", points=outline, fill=COLOURS["band"]))
    window = one["window"] if one else None
    if window:
        begin, end = x(local(window["start"])), x(local(window["end"]))
        wide = max(end - begin, 1.5)
        parts.append(svg.rectangle(begin, base + 2, wide, 5.0, COLOURS["gold"]))
        parts.append(svg.words(max(begin, LEFT), base + 18, "window", SIZE, COLOURS["gold_ink"]))
    for share in (0, 100):
        parts.append(svg.words(LEFT - 8, y_share(share) + 4, f"{share}", SIZE, COLOURS["soft"],
                               text_anchor="end"))  # fmt: skip
    parts.append(svg.words(2, top + 12, "own juice, %", SIZE, COLOURS["ink"]))
    if high > 200:
        parts += _analysis_band(near, samples, one, x, local, low_band, high - 14.0)
    label = (
        f"Own share of the juice from {shares[0][0]:%H:%M} to {shares[-1][0]:%H:%M}, at most "
        f"{max(own for _, own in shares):.0f} %; below it {len(near)} near-infrared readings of "
        f"brix and pol and {len(samples)} bottles"
    )
    return svg.drawing(WIDE, high, label, "".join(parts), "juice")


def _analysis_band(
    near: Sequence[Mapping[str, Any]],
    samples: Sequence[Mapping[str, Any]], one: Mapping[str, Any] | None,
    x: Callable[[datetime], float], local: Local, top: float, low: float,
) -> list[str]:  # fmt: skip
    names = (("brix", "water"), ("pol", "leaf"))
    values: list[float] = [p[n] for p in (*near, *samples) for n, _ in names if p[n] is not None]
    own = {n: one[n] for n, _ in names} if one and one["analysis"] else {}
    values += [f["value"] + side * 1.96 * f["sigma"] for f in own.values() for side in (-1, 1)]
    if not values:
        return []
    least, most = min(values), max(values)
    span = max(most - least, 0.5)

    def y(value: float) -> float:
        return low - (low - top) * (value - least) / span

    parts = []
    for name, colour in names:
        dots = [(x(local(p["at"])), y(p[name])) for p in near if p[name] is not None]
        step = max(1, len(dots) // 240)
        way = "".join(f"M{a:.1f},{b:.1f}h0" for a, b in dots[::step])
        parts.append(svg.element("path", d=way, stroke=COLOURS[colour], stroke_width=3.4,
                                 stroke_linecap="round", opacity=0.8))  # fmt: skip
        if name in own:
            f = own[name]
            half = 1.96 * f["sigma"]
            parts.append(svg.rectangle(LEFT, y(f["value"] + half), WIDE - RIGHT - LEFT,
                                       y(f["value"] - half) - y(f["value"] + half),
                                       COLOURS[colour], opacity=0.14))  # fmt: skip
            parts.append(svg.line(LEFT, y(f["value"]), WIDE - RIGHT, y(f["value"]),
                                  COLOURS[colour], 1.2))  # fmt: skip
            parts.append(svg.words(WIDE - RIGHT + 6, y(f["value"]) + 4, f"{f['value']:.2f}", SIZE,
                                   COLOURS[colour]))  # fmt: skip
            parts.append(svg.words(2, y(f["value"]) + 4, f"{name}, %", SIZE, COLOURS[colour]))
        for s in samples:
            if s[name] is not None:
                begin, end = x(local(s["start"])), x(local(s["end"]))
                parts.append(svg.rectangle(begin, y(s[name]) - 2, max(end - begin, 8.0), 4.0,
                                           COLOURS["ink"]))  # fmt: skip
    return parts


def _scale(
    begin: datetime, end: datetime, top: float, low: float
) -> tuple[Callable[[datetime], float], list[str]]:
    """From a moment to its place, and the lines of a round step of time with their names."""
    whole = max((end - begin).total_seconds(), 60.0)

    def x(at: datetime) -> float:
        share = (at - begin).total_seconds() / whole
        return LEFT + (WIDE - LEFT - RIGHT) * min(max(share, 0.0), 1.0)

    step = next((s for s in STEPS if whole / s.total_seconds() <= 9), STEPS[-1])
    midnight = begin.replace(hour=0, minute=0, second=0, microsecond=0)
    at = midnight + step * -(-(begin - midnight) // step)
    parts = []
    while at <= end:
        parts.append(svg.line(x(at), top - 4, x(at), low, COLOURS["line"], 1.0))
        clock = f"{at:%d %b}".lstrip("0") if (at.hour, at.minute) == (0, 0) else f"{at:%H:%M}"
        parts.append(svg.words(x(at), top - 9, clock, SIZE, COLOURS["soft"], text_anchor="middle"))
        at += step
    return x, parts
