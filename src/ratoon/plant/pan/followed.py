"""One strike as its instruments followed it: mother liquor, supersaturation and crystal in time.

A pan that boils is as hot as its liquor boils: temperature and vacuum tell how thick the mother
liquor is, the brix of all that is in the pan then tells the crystal, and what was charged and fed
tells the purity. Supersaturation is told by two forms of solubility; the saturation coefficient of
low purities is uncertain by about 10 % beside that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from ratoon.base.strikes import StrikeFigure, strike_figure
from ratoon.plant.pan.batch import elevations
from ratoon.plant.pan.records import LEVEL, StrikeRecord
from ratoon.plant.pan.strike import MOST_ON_WATER
from ratoon.properties import massecuite, solution
from ratoon.properties.water import saturation_temperature

Floats = NDArray[np.float64]
HEAD = 1.5
"""Rise of the boiling point by the head over the calandria [K], common practice."""
SIGMA = {"temperature": 0.5, "vapour": 0.5, "brix": 0.005, "purity": 0.007, "head": 0.7}
"""Standard uncertainty of what the instruments of a pan show [K, K, kg/kg, kg/kg, K]; common
practice, no source."""
FORMS = ("Vavrinecz1962", "Charles1960")
BOILS_OFF = 0.93
"""Water boiled off on steam, less heat lost and vents: common practice about 0.9 to 0.95."""
NEAR = timedelta(minutes=12)
"""How near a slide counts for a moment of the trace."""
COLDEST, HOTTEST = 611.3, 100_000.0
"""Vacuum between which a boiling pan stands [Pa]."""


@dataclass(frozen=True, slots=True)
class Band:
    """A figure with the least and most that either form of solubility gives."""

    value: float
    sigma: float
    low: float
    high: float
    unit: str = ""
    kind: str = "found"


@dataclass(frozen=True, slots=True)
class TracePoint:
    """One moment of a strike, as its mill writes the time; None where nothing tells a figure."""

    time: str
    supersaturation: Band | None
    crystal: StrikeFigure | None
    ma: StrikeFigure | None
    cv: StrikeFigure | None
    mother_liquor_purity: StrikeFigure | None
    brix: StrikeFigure | None
    level: StrikeFigure | None
    evaporation: StrikeFigure | None


def followed(
    s: StrikeRecord, dry_on_brix: float, clock: Callable[[datetime], str]
) -> tuple[TracePoint, ...]:
    """What each moment of a strike's trace tells.

    Parameters
    ----------
    clock : writes a moment.
    dry_on_brix : true dry substance over the brix that is read of this grade's massecuite.
    """
    moments = [t for t in s.trace if t.time >= s.start]
    values = [dict(t.values) for t in moments]
    purity = _purities(s, [t.time for t in moments])
    boiled = _evaporation(s)
    wanted = ("temperature", "pressure", "brix")
    can = [k for k, v in enumerate(values) if purity[k] is not None and all(n in v for n in wanted)
           and COLDEST < v["pressure"] < HOTTEST and v["temperature"] < 100.0
           and v["brix"] < 0.99]  # fmt: skip
    inside = _inside(
        np.array([[values[k][n] for n in wanted] for k in can]).reshape(-1, 3),
        np.array([float(purity[k] or 0.0) for k in can]), dry_on_brix,
    )  # fmt: skip
    found = dict(zip(can, inside))
    told_of: list[TracePoint] = []
    for k, (point, v) in enumerate(zip(moments, values)):
        over, crystal, mother = found.get(k, (None, None, None))
        ma, cv = _slide(s, point.time)
        told_of.append(TracePoint(
            clock(point.time), over, crystal, ma, cv, mother,
            strike_figure("brix", v["brix"], SIGMA["brix"]) if "brix" in v else None,
            strike_figure("level", v["level"], LEVEL * v["level"]) if "level" in v else None,
            boiled.get(point.time),
        ))  # fmt: skip
    return tuple(told_of)


def _inside(
    read: Floats, purity: Floats, dry_on_brix: float
) -> list[tuple[Band | None, StrikeFigure | None, StrikeFigure | None]]:
    """Supersaturation, crystal and purity of the mother liquor at moments that were read whole."""
    if not len(read):
        return []
    given = [read[:, 0] - HEAD, saturation_temperature(read[:, 1]), read[:, 2] * dry_on_brix,
             purity]  # fmt: skip
    middle = _solved(*given)
    moved = [_solved(*(x + sd * (n == k) for n, x in enumerate(given))) - middle
             for k, sd in enumerate((float(np.hypot(SIGMA["temperature"], SIGMA["head"])),
                                     SIGMA["vapour"], SIGMA["brix"], SIGMA["purity"]))]  # fmt: skip
    spread = np.sqrt(sum(m**2 for m in moved))
    told_of: list[tuple[Band | None, StrikeFigure | None, StrikeFigure | None]] = []
    for k in range(len(read)):
        first, second, crystal, mother = middle[:, k]
        if not np.isfinite(middle[:, k]).all() or not np.isfinite(spread[:, k]).all():
            told_of.append((None, None, None))
            continue
        sd = float(spread[0, k])
        low, high = min(first, second), max(first, second)
        told_of.append((
            Band(float(first), sd, float(low), float(high)),
            strike_figure("crystal", float(crystal), float(spread[2, k]), "found"),
            strike_figure("purity", float(mother), float(spread[3, k]), "found"),
        ))  # fmt: skip
    return told_of


def _solved(temperature: Floats, vapour: Floats, dry: Floats, purity: Floats) -> Floats:
    """Supersaturation by both forms, crystal and mother-liquor purity, shape (4, n); NaN: none."""
    of_sucrose, of_rest = elevations(vapour)
    rest = dry * (1.0 - purity) / (1.0 - dry)  # on water; none of it is crystal
    dissolved = (temperature - vapour - of_rest * rest) / of_sucrose  # sucrose on water
    crystal = dry * purity - dissolved * (1.0 - dry)
    sound = (dissolved > 0.0) & (crystal >= 0.0) & (rest < MOST_ON_WATER)
    slope = solution.saturation_coefficient(np.clip(rest, 0.0, MOST_ON_WATER))
    over = [dissolved / (slope * solution.sucrose_water_ratio(temperature, f)) for f in FORMS]
    mother = dissolved / np.maximum(dissolved + rest, 1e-9)
    found: Floats = np.where(sound, np.array([*over, crystal, mother]), np.nan)
    return found


def _purities(s: StrikeRecord, at: Sequence[datetime]) -> list[float | None]:
    """Purity of all that the pan holds, by what was charged and fed; None where that is not known.

    Feeds are taken as they were set. Without them the purity goes by the straight line
    from start to drop.
    """
    first, last = s.row("start", "purity"), s.row("drop", "purity")
    if first is None:
        return [last.value if last else None for _ in at]
    feeds = feeds_of(s)
    volume, brix = s.row("start", "volume"), s.row("start", "brix")
    if feeds and volume and brix:
        dry = volume.value * brix.value * thick(brix.value)
        sugar = dry * first.value
        found: list[float | None] = []
        for moment in at:
            more = [(min(end, moment) - begin).total_seconds() * flow * b
                    for begin, end, flow, b, _ in feeds if begin < moment]  # fmt: skip
            pure = [p for begin, _, _, _, p in feeds if begin < moment]
            whole = dry + sum(more)
            found.append((sugar + sum(m * p for m, p in zip(more, pure))) / whole)
        return found
    if last is None or last.time <= first.time:
        return [first.value for _ in at]
    length = last.time - first.time
    return [first.value + (last.value - first.value) * min((t - first.time) / length, 1.0)
            for t in at]  # fmt: skip


def feeds_of(s: StrikeRecord) -> list[tuple[datetime, datetime, float, float, float]]:
    """Stretches of feed: begin, end, flow [kg/s], brix and purity [kg/kg]; water has neither."""
    events: dict[tuple[datetime, str], dict[str, float]] = {}
    for row in s.rows:
        if row.event == "feed":
            events.setdefault((row.time, row.tags.get("of", "")), {})[row.quantity] = row.value
    ordered = sorted(events.items(), key=lambda e: e[0][0])
    found = []
    for n, ((begin, of), told_of) in enumerate(ordered):
        end = ordered[n + 1][0][0] if n + 1 < len(ordered) else max(s.drop or s.seen, begin)
        if told_of.get("flow") and "brix" in told_of and "purity" in told_of and of != "water":
            found.append((begin, end, told_of["flow"], told_of["brix"], told_of["purity"]))
    return found


def thick(brix: float) -> float:
    """Density of what is charged [kg/m3]: liquor, or a magma with some crystal, near enough."""
    return float(massecuite.density(0.15, float(solution.density(min(brix, 0.90), 65.0,
                                                                 method="Baloh"))))  # fmt: skip


def _evaporation(s: StrikeRecord) -> dict[datetime, StrikeFigure]:
    """Water boiled off by the steam: about as much as condenses, less the heat that is lost."""
    return {at: strike_figure("flow", BOILS_OFF * flow, 0.07 * flow + 0.01, "found")
            for at, flow in s.traced("steam_flow")}  # fmt: skip


def _slide(s: StrikeRecord, at: datetime) -> tuple[StrikeFigure | None, StrikeFigure | None]:
    """MA and CV of the slide taken within minutes of a moment, by mass where it says so."""
    pair: list[StrikeFigure | None] = []
    for name in ("ma", "cv"):
        rows = [r for r in s.rows if r.event == "slide" and r.quantity == name
                and abs(r.time - at) <= NEAR and r.tags.get("basis") == "mass"]  # fmt: skip
        near = min(rows, key=lambda r: abs(r.time - at), default=None)
        pair.append(strike_figure(name, near.value, near.sigma) if near else None)
    return pair[0], pair[1]
