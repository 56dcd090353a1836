"""What a strike that still boils is to be dropped at, by how the grade's strikes before it went.

A boiler feeds and steams a pan as he sees fit, so what is to come is not in any equation. The
strikes before tell it: each at the moment at which its pan held as much as this one does now, what
it had come to by then, and what became of it. The feed that is set counts for nothing: level and
brix say what was fed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from ratoon.base.strikes import StrikeFigure, strike_figure
from ratoon.plant.pan.records import StrikeFigures, StrikeRecord, figures_of

Floats = NDArray[np.float64]
FEWEST, MOST = 25, 160
"""Strikes before from which on, and at most, one is told."""
AT = (0.75, 0.9, 1.0)
"""Parts of the level now at which a strike is looked at."""
POINTS = 4
"""Moments of its trace without which nothing is foreseen of a strike."""
STIFFNESS = (1.0, 3.0, 10.0, 30.0, 100.0)
"""How strongly a target keeps to the grade's average; that is taken which errs least on strikes
left out one by one."""
OF_READING = 0.5
"""Part of a drop's reading error, in squares, that is new each time; the rest is common to all."""
TARGETS = ("brix", "ma", "cv", "purity")


@dataclass(frozen=True, slots=True)
class Expected:
    """What a strike is to be dropped at: the moment and its standard uncertainty, and figures."""

    at: datetime
    sigma: timedelta
    brix: StrikeFigure | None
    ma: StrikeFigure | None
    cv: StrikeFigure | None
    purity: StrikeFigure | None


def expected(s: StrikeRecord, before: Sequence[StrikeRecord]) -> Expected | None:
    """What a running strike is to be dropped at; None where too little is known of it.

    Parameters
    ----------
    before : strikes of its grade; those that were dropped before its last moment count.
    """
    now = s.traced("level")
    if s.drop is not None or s.contradictions or len(now) < POINTS:
        return None
    level = _smooth([v for _, v in now])[-1]
    others = [o for o in before if o.drop and o.drop <= s.seen and not o.contradictions
              and o.id != s.id][-MOST:]  # fmt: skip
    pans = sorted({o.pan for o in others})
    mine = _looked(s, level, pans)
    rows = [(o, f) for o in others if (f := _looked(o, level, pans)) is not None]
    if mine is None or len(rows) < FEWEST:
        return None
    table = np.array([f for _, f in rows])
    left = np.array([_remaining(o, level) for o, _ in rows])
    figures = [figures_of(o, lambda *_: None) for o, _ in rows]
    time = _told(table, np.log(left), mine, 0.0)
    if time is None:
        return None
    hours = float(np.exp(time[0]))
    values = {name: _target(name, figures, table, mine) for name in TARGETS}
    return Expected(now[-1][0] + timedelta(hours=hours), timedelta(hours=hours * time[1]), **values)


def _target(
    name: str, figures: Sequence[StrikeFigures], table: Floats, mine: Floats
) -> StrikeFigure | None:  # fmt: skip
    """One figure of the drop."""
    from ratoon.base import units

    have = [(k, f) for k, one in enumerate(figures) if (f := getattr(one, name)) is not None]
    if len(have) < FEWEST:
        return None
    unit = have[0][1].unit
    inside = np.array([units.to_inside(f.value, unit) for _, f in have])
    read = [units.spread_to_inside(f.sigma, unit) for _, f in have if f.sigma]
    found = _told(table[[k for k, _ in have]], inside, mine, float(np.median(read)) if read else 0)
    return strike_figure(name, *found, "found") if found else None


def _told(table: Floats, values: Floats, mine: Floats, read: float) -> tuple[float, float] | None:
    """A target by ridge regression, and its standard uncertainty.

    What strikes left out err by holds the error of reading each drop, which is not the drop's.
    """
    keep = np.abs(values - np.median(values)) < 5.0 * _spread(values)
    if keep.sum() < FEWEST:
        return None
    table, values = table[keep], values[keep]
    middle, scale = table.mean(axis=0), table.std(axis=0)
    used = scale > 1e-9
    x, at = (table - middle)[:, used] / scale[used], (mine - middle)[used] / scale[used]
    at = np.clip(at, -3.0, 3.0)
    y = values - values.mean()
    best: tuple[float, float, float] | None = None
    for stiff in STIFFNESS:
        inverse = np.linalg.inv(x.T @ x + stiff * np.eye(x.shape[1]))
        hat = x @ inverse @ x.T + 1.0 / len(y)
        left_out = (y - hat @ y) / (1.0 - np.diag(hat))
        off = _spread(left_out)
        if best is None or off < best[1]:
            best = float(values.mean() + at @ inverse @ x.T @ y), off, float(at @ inverse @ at)
    if best is None:
        return None
    value, off, lever = best
    own = max(off**2 - OF_READING * read**2, 0.25 * off**2) ** 0.5
    return value, own * (1.0 + lever) ** 0.5


def _spread(values: Floats) -> float:
    """Standard deviation that a few odd values move little."""
    middle = np.median(values)
    robust = 1.4826 * float(np.median(np.abs(values - middle)))
    clipped = np.clip(values, middle - 4.0 * robust, middle + 4.0 * robust)
    return float(np.std(clipped)) or 1e-9


def _smooth(values: Sequence[float]) -> Floats:
    """Means of three neighbours; the ends by the straight line through their last three."""
    v = np.array(values)
    found = np.convolve(v, np.ones(3) / 3.0, mode="same")
    if len(v) >= 3:
        found[0] = (5.0 * v[0] + 2.0 * v[1] - v[2]) / 6.0
        found[-1] = (5.0 * v[-1] + 2.0 * v[-2] - v[-3]) / 6.0
    return found


def _level(s: StrikeRecord) -> tuple[Floats, Floats, list[datetime]] | None:
    """Hours since the start, level that does not fall, and moments."""
    points = s.traced("level")
    if len(points) < POINTS:
        return None
    hours = np.array([(t - s.start).total_seconds() / 3600.0 for t, _ in points])
    return hours, np.maximum.accumulate(_smooth([v for _, v in points])), [t for t, _ in points]


def _crossed(hours: Floats, level: Floats, wanted: float) -> float:
    """When a level was reached first [h]."""
    k = int(np.searchsorted(level, wanted))
    if k == 0:
        return float(hours[0])
    if k >= len(level):
        return float(hours[-1])
    part = (wanted - level[k - 1]) / max(level[k] - level[k - 1], 1e-9)
    return float(hours[k - 1] + part * (hours[k] - hours[k - 1]))


def _remaining(s: StrikeRecord, level: float) -> float:
    """Hours from when a dropped strike held so much to its drop."""
    found = _level(s)
    assert found is not None and s.drop is not None
    whole = (s.drop - s.start).total_seconds() / 3600.0
    return max(whole - _crossed(found[0], found[1], level), 0.02)


def _looked(s: StrikeRecord, level: float, pans: Sequence[str]) -> Floats | None:
    """What a strike had come to when it held so much; None where it does not tell it."""
    found = _level(s)
    if found is None or found[1][-1] < 0.995 * level:
        return None
    hours, levels, _ = found
    reached = [_crossed(hours, levels, part * level) for part in AT]
    told_of: list[float] = [float(np.log(max(r, 0.02))) for r in reached]
    for name in ("brix", "temperature", "pressure", "steam_flow"):
        points = s.traced(name)
        if len(points) < POINTS:
            told_of += [0.0] * (len(AT) if name == "brix" else 1)
            continue
        at = [(t - s.start).total_seconds() / 3600.0 for t, _ in points]
        values = _smooth([v for _, v in points])
        if name == "brix":
            told_of += [float(np.interp(r, at, values)) for r in reached]
        else:
            told_of.append(float(np.mean(values[: max(np.searchsorted(at, reached[-1]), 1)])))
    return np.array([*told_of, *_slid(s, reached[-1]), *_charged(s),
                     *(float(s.pan == pan) for pan in pans)])  # fmt: skip


def _slid(s: StrikeRecord, hours: float) -> list[float]:
    """Size, as a logarithm, and CV of the last slide by mass so far; 0 for none."""
    until, found = s.start + timedelta(hours=hours), {"ma": 0.0, "cv": 0.0}
    for r in s.rows:
        if (r.event == "slide" and r.quantity in found and r.time <= until and r.value > 0.0
                and r.tags.get("basis") == "mass"):  # fmt: skip
            found[r.quantity] = float(np.log(r.value)) if r.quantity == "ma" else r.value
    return list(found.values())


def _charged(s: StrikeRecord) -> list[float]:
    """Purities of what was charged and is fed; how full the pan began."""
    start, volume = s.row("start", "purity"), s.row("start", "volume")
    feeds = [r.value for r in s.rows if r.event == "feed" and r.quantity == "purity"]
    return [start.value if start else 0.0, float(np.mean(feeds[:2])) if feeds else 0.0,
            volume.value if volume else 0.0]  # fmt: skip
