"""A strike as it was told, made ready for a fit: what was charged, fed and set, what was read.

Brix is taken as true dry substance by the grade's own factor; purities as they are read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from ratoon.base.strikes import SIEVE, StrikeRow, aperture
from ratoon.plant.pan.batch import GIVEN, HEAT, MASS, vapour_of
from ratoon.plant.pan.course import APERTURES, OWN, USUAL, Course, Series, edges, steps_for
from ratoon.plant.pan.followed import BOILS_OFF, HEAD, feeds_of, thick
from ratoon.plant.pan.records import StrikeRecord

Floats = NDArray[np.float64]
STEAM, FEED_TEMPERATURE = 105.0, 66.0
"""Saturation temperature of steam and temperature of feed where nobody tells them [degC]."""
SURFACE = 6.5
"""Heating surface on a pan's volume [m2/m3], common practice about 6 to 7."""
SPACED = 840.0
"""Least time between two readings of a trace that are used [s]."""
UNTOLD = {"brix": 0.005, "purity": 0.006, "volume": 1.5, "mother": 0.007, "ma": 0.03, "cv": 0.02,
          "fines": 0.01}  # fmt: skip
"""Standard uncertainty of what is read at a drop or of a slide where its row states none; MA as a
part. Common practice, no source."""
OF_SHAPE = 0.015
"""By how much sieves keep otherwise than of log-normal sizes [kg/kg]; our own."""
FOLLOWED = {"feed": 0.04, "circulation": 0.10}


def courses_of(
    strikes: Sequence[StrikeRecord], dry_on_brix: float, full: float
) -> list[Course]:  # fmt: skip
    """The strikes that tell enough, all in as many steps.

    Parameters
    ----------
    dry_on_brix : true dry substance over brix. full : volume of a pan [m3].
    """
    sound = [s for s in strikes if s.drop and s.drop > s.start and not s.contradictions]
    if not sound:
        return []
    longest = max((s.drop - s.start).total_seconds() for s in sound if s.drop)
    seeded = any(r.event == "seed" for s in sound for r in s.rows)
    steps = steps_for(longest, seeded)
    found = (_course(s, dry_on_brix, full, steps) for s in sound)
    return [c for c in found if c is not None]


def _course(s: StrikeRecord, dry: float, full: float, steps: int) -> Course | None:
    """One strike; None where it does not tell what was charged, fed and set."""
    volume, brix, purity = (s.row("start", n) for n in ("volume", "brix", "purity"))
    crystals = _crystals(s)
    if not (volume and brix and purity and crystals) or s.drop is None:
        return None
    seconds = (s.drop - s.start).total_seconds()
    at = edges(seconds, crystals[3], steps)
    given = _given(s, at, dry)
    if given is None or volume.value <= 0.0 or brix.value * dry >= 0.97:
        return None
    unsure = dict(USUAL) | {f"{k}_{n}": v for k, v in FOLLOWED.items() for n in range(3)}
    unsure |= crystals[4]
    for name, row, part in (("volume", volume, True), ("brix", brix, False),
                            ("purity", purity, False)):  # fmt: skip
        if row.sigma:
            unsure[name] = row.sigma / row.value if part else row.sigma
    mass = volume.value * thick(brix.value)
    if crystals[0] > 0.9 * mass * brix.value * dry * purity.value:
        return None
    sigma = np.array([unsure[n] for n in OWN])
    pan = (full, SURFACE * full)
    return Course(s.id, mass, brix.value * dry, purity.value, crystals[:3], crystals[3], sigma, at,
                  given, pan, tuple(_series(s, dry)))  # fmt: skip


def _crystals(
    s: StrikeRecord,
) -> tuple[float, float, float, float, dict[str, float]] | None:
    """Mass [kg], MA [m] and CV of footing or seed, when seed was put in [s], and how unsure."""
    held, share, ma, cv = (s.row("footing", n) for n in ("volume", "crystal", "ma", "cv"))
    if held and share and ma and ma.value > 0.0 and held.value > 0.0 and share.value > 0.0:
        parts = [r.sigma / r.value for r in (held, share) if r.sigma]
        unsure = {"crystal": math.hypot(*parts) if len(parts) == 2 else 0.06}
        unsure |= {"size": ma.sigma / ma.value} if ma.sigma else {}
        unsure |= {"cv": cv.sigma} if cv and cv.sigma else {}
        mass = held.value * share.value * thick(0.885)
        return mass, ma.value, cv.value if cv else 0.28, 0.0, unsure
    seed, size, spread = (s.row("seed", n) for n in ("mass", "size", "cv"))
    if seed and size and seed.value > 0.0 and size.value > 0.0:
        at = max((seed.time - s.start).total_seconds(), 1.0)
        # how many crystals of a seed live is known to a third at best: common practice
        return seed.value, size.value, spread.value if spread else 0.35, at, {"crystal": 0.35}
    return None


def _given(s: StrikeRecord, at: Floats, dry: float) -> Floats | None:
    """What was set in each step: means over it."""
    feeds = feeds_of(s)
    vacuum = s.traced("pressure") or [(r.time, r.value) for r in s.rows
                                      if r.event == "set" and r.quantity == "pressure"]  # fmt: skip
    if not feeds or not vacuum:
        return None

    def since(moment: datetime) -> float:
        return (moment - s.start).total_seconds()

    fine = np.linspace(0.0, float(at[-1]), 721)
    flow, brix, purity = (np.zeros(len(fine)) for _ in range(3))
    for begin, end, rate, b, p in feeds:
        on = (fine >= since(begin)) & (fine < since(end))
        flow[on], brix[on], purity[on] = rate, b, p
    told = s.traced("feed_flow")
    if len(told) >= 5:
        flow = np.interp(fine, [since(t) for t, _ in told], [v for _, v in told])
        flow[fine > since(max(end for _, end, *_ in feeds))] = 0.0
    first = int(np.argmax(brix > 0.0))
    brix[:first], purity[:first] = brix[first], purity[first]
    for k in range(1, len(fine)):  # the feed that was on last is the one that a trace goes on with
        if not brix[k]:
            brix[k], purity[k] = brix[k - 1], purity[k - 1]

    def mean(values: Floats) -> Floats:
        whole = np.concatenate([[0.0], np.cumsum((values[1:] + values[:-1]) / 2.0 * np.diff(fine))])
        found: Floats = np.diff(np.interp(at, fine, whole)) / np.diff(at)
        return found

    fed = mean(flow)
    safe = np.maximum(fed, 1e-9)
    pressure = np.interp(fine, [since(t) for t, _ in vacuum], [v for _, v in vacuum])
    steam = s.row("set", "steam_pressure")
    given = np.zeros((len(fed), len(GIVEN)))
    given[:, 0] = fed / MASS
    given[:, 1] = np.where(fed > 1e-9, mean(flow * brix) / safe, 0.7) * dry
    given[:, 2] = np.where(fed > 1e-9, mean(flow * brix * purity) /
                           np.maximum(mean(flow * brix), 1e-9), 0.7)  # fmt: skip
    given[:, 3] = FEED_TEMPERATURE / HEAT
    given[:, 4] = vapour_of(steam.value) if steam and steam.value > 0.0 else STEAM / HEAT
    given[:, 5] = [vapour_of(float(np.clip(p, 3e3, 9e4))) for p in mean(pressure)]
    return given


def _series(s: StrikeRecord, dry: float) -> list[Series]:
    """All that was read of it."""
    found = []
    for name, read, offset, factor, new, common in (
        ("level", "level", 0.0, 1.0, 0.01, 0.015), ("brix", "brix", 0.0, dry, 0.003, 0.006),
        ("temperature", "temperature", -HEAD, 1.0, 0.6, 0.9),
        ("evaporation", "steam_flow", 0.0, BOILS_OFF, 0.04, 0.07),
    ):  # fmt: skip
        points = _spaced([((t - s.start).total_seconds(), v) for t, v in s.traced(read)])
        if not points:
            continue
        at, values = (np.array(x) for x in zip(*points))
        values = factor * (values + offset)
        size = float(np.mean(values)) if name in ("level", "evaporation") else 1.0
        found.append(Series(name, at, values, np.full(len(at), new * size), common * size))
    for event, quantity, name in (
        ("drop", "volume", "level"), ("drop", "brix", "brix"), ("drop", "purity", "purity"),
        ("nutsch", "purity", "mother"),
    ):  # fmt: skip
        row = s.row(event, quantity)
        if row and s.drop:
            factor = dry if name == "brix" else 1.0
            sigma = row.sigma or UNTOLD["volume" if name == "level" else name]
            found.append(_one(s, s.drop, name, factor * row.value, factor * sigma))
    for row in s.rows:
        if row.event == "slide" and row.tags.get("basis") == "mass" and row.quantity in UNTOLD:
            sigma = row.sigma or UNTOLD[row.quantity] * (row.value if row.quantity == "ma" else 1.0)
            found.append(_one(s, row.time, row.quantity, row.value, sigma))
    return [*found, *_sieves(s)]


def _spaced(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for at, value in points:
        if at > 0.0 and (not found or at - found[-1][0] >= SPACED):
            found.append((at, value))
    return found


def _one(s: StrikeRecord, at: datetime, name: str, value: float, sigma: float) -> Series:
    since = np.array([(at - s.start).total_seconds()])
    return Series(name, since, np.array([value]), np.array([sigma]))


def _sieves(s: StrikeRecord) -> list[Series]:
    rows: list[StrikeRow] = [r for r in s.rows if r.event == "sieve" and aperture(r.quantity)]
    if not rows or s.drop is None:
        return []
    rows = [r for r in rows if r.time == rows[-1].time and r.quantity.startswith(SIEVE)]
    sizes = np.array([1e-3 * (aperture(r.quantity) or 0.0) for r in rows])
    sigma = np.array([np.hypot(r.sigma or 0.01, OF_SHAPE) for r in rows])
    at = np.full(len(rows), (s.drop - s.start).total_seconds())
    return [Series(APERTURES, at, np.array([r.value for r in rows]), sigma, 0.0, sizes)]
