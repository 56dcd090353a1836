"""The crop by zone: the estimate, how such estimates erred, and what was cut.

In logarithms, a zone's crop is its estimate, an error that all zones of a season share and one of
its own. What was cut is no sample of the zone: its yield stands off the whole zone's by an amount
that shrinks as (1 - f) / sqrt(f) with the share f cut, again part of it common to the season. Both
are learnt from earlier seasons, the second from what was written of them when about as much was cut
as now, each with what few seasons leave open, and Bayes' rule joins them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.season import ZoneRow
from ratoon.plans.season.draws import Array, Level, Rng, less_error, spread_drawn
from ratoon.plans.season.given import Given

USUAL_SIGMA = 8.0
"""Error of an estimate where none is given [%] (mill's choice)."""
CUT_OWN, CUT_COMMON = 0.058, 0.02
"""How far what is cut stands off the whole, over (1 - f) / sqrt(f): of a zone, and of all zones.

The first gives 5.5 % at two fifths cut, as seen on drawn districts."""
LEAST_CUT, MOST_CUT = 0.05, 0.9
"""Shares of a zone's area between which its cut part tells how far such parts stand off."""
DONE = 0.985
"""A zone with this share of its area cut is finished."""


@dataclass(frozen=True)
class Zones:
    """Zones of this season as known on `as_of`, and the errors of such estimates."""

    names: tuple[str, ...]
    area: Array
    estimate: Array
    share: Array
    cut: Array
    common: Level
    own: tuple[tuple[float, ...], float]
    cut_common: Level
    cut_own: tuple[tuple[float, ...], float]
    since: float
    """Cane crushed after what is known to be cut [t]."""

    def drawn(self, rng: Rng, count: int) -> Array:
        """Crop of each zone in each future [t], shape (zones, futures)."""
        zones, g = len(self.names), _reach(self.share)[:, None]
        common2, shift2 = self.common.variance(rng, count), self.cut_common.variance(rng, count)
        own2, off2 = (spread_drawn(*known, rng, count) for known in (self.own, self.cut_own))
        common = self.common.centre()[0] + np.sqrt(common2) * rng.standard_normal(count)
        shift = self.cut_common.centre()[0] + np.sqrt(shift2) * rng.standard_normal(count)
        truth = common + np.sqrt(own2) * rng.standard_normal((zones, count))
        told = (self.share > 0.02) & (self.cut > 0)
        if told.any():
            seen = truth + g * (shift + np.sqrt(off2) * rng.standard_normal((zones, count)))
            every, each = np.ones((zones, zones)), np.eye(zones)
            prior = common2[:, None, None] * every + own2[:, None, None] * each
            noise = (shift2[:, None, None] * (g @ g.T)
                     + off2[:, None, None] * np.diag(g[:, 0] ** 2)
                     + np.diag(np.where(told, 1e-7, 1e6)))  # fmt: skip
            # conditioning by residuals: each draw moves by what its own "seen" missed
            missed = np.where(told[:, None], self._yields(told)[:, None] - seen, 0.0)
            gain = np.linalg.solve(prior + noise, missed.T[:, :, None])
            truth = truth + (prior @ gain)[:, :, 0].T
        crop = self.estimate[:, None] * np.exp(truth)
        return np.asarray(np.maximum(crop, self.cut[:, None]))

    def _yields(self, told: NDArray[np.bool_]) -> Array:
        """Logarithm of the cut part's yield over the estimate's, where anything is cut."""
        made = np.zeros(len(self.names))
        made[told] = np.log(self.cut[told] / self.share[told] / self.estimate[told])
        return made

    def left(self, crop: Array) -> Array:
        """Cane still to be crushed in each future [t]."""
        return np.asarray(np.maximum((crop - self.cut[:, None]).sum(axis=0) - self.since, 0.0))


def _reach(share: Array | float) -> Array:
    f = np.clip(share, 0.02, 1.0)
    return np.asarray((1.0 - f) / np.sqrt(f))


def fit(given: Given) -> Zones:
    """The zones of this season and how earlier estimates erred.

    Raises
    ------
    BadInput : no zone has an estimate for this season.
    """
    start = given.rules.start
    newest: dict[str, ZoneRow] = {}
    for row in given.zones:
        if row.as_of >= start or not _ended(row, given):
            newest[row.zone] = row
    if not newest:
        raise BadInput(
            "no zone of this season has an estimate",
            where="zones",
            todo=f"Give each zone's area and estimate as of {start} or later.",
        )
    rows = [newest[name] for name in sorted(newest)]
    area = np.array([r.area for r in rows])
    cut = np.array([r.cut or 0.0 for r in rows])
    share = np.minimum(np.array([r.area_cut or 0.0 for r in rows]) / area, 1.0)
    as_of = max(r.as_of for r in rows)
    days = given.season
    crushed = sum(d.cane or 0.0 for d in days)
    since = sum(d.cane or 0.0 for d in days if d.date >= as_of) if cut.sum() > 0 else crushed
    sigma = float(np.mean([r.sigma or USUAL_SIGMA for r in rows])) / 100.0
    common, own, shift, off = _earlier(given, float(share @ area / area.sum()))
    half = sigma / np.sqrt(2.0)
    return Zones(
        tuple(r.zone for r in rows), area, np.array([r.estimate for r in rows]), share, cut,
        Level(common, 0.0, half, half / 2), (own, half), Level(shift, 0.0, CUT_COMMON, CUT_COMMON),
        (off, CUT_OWN), since,
    )  # fmt: skip


def _ended(row: ZoneRow, given: Given) -> bool:
    """Whether a row written before this season began speaks of an earlier one."""
    ends = [s[-1].date for s in given.seasons]
    return (given.rules.start - row.as_of).days > 200 or any(
        (row.as_of - end).days <= 60 for end in ends[-1:]
    )


Four = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...], tuple[float, ...]]


def _earlier(given: Given, now: float) -> Four:
    """Errors of earlier estimates: of seasons, of zones; and of what was cut, the same two."""
    common: list[float] = []
    own: list[float] = []
    shift: list[float] = []
    off: list[float] = []
    for rows in _by_season(given):
        by_zone: dict[str, list[ZoneRow]] = {}
        for row in rows:
            by_zone.setdefault(row.zone, []).append(row)
        errors, ratios = [], []
        for of_zone in by_zone.values():
            first, last = of_zone[0], of_zone[-1]
            if (last.area_cut or 0.0) < DONE * last.area or not last.cut:
                continue
            errors.append(float(np.log(last.cut / first.estimate)))
            ratios += _ratios(of_zone, last, now)
        if len(errors) < 2:
            continue
        common.append(float(np.mean(errors)))
        own += _centred(errors)
        if len(ratios) >= 2:
            shift.append(float(np.mean(ratios)))
            off += _centred(ratios)
    zones = max(len(own) / max(len(common), 1), 1.0)
    errors = [float(np.mean(np.square(v))) / zones if v else 0.0 for v in (own, off)]
    return less_error(common, errors[0]), tuple(own), less_error(shift, errors[1]), tuple(off)


def _centred(values: Sequence[float]) -> list[float]:
    """Values less their mean, widened for the degree of freedom that it took."""
    made = np.asarray(values) - np.mean(values)
    return [float(v) for v in made * np.sqrt(len(values) / (len(values) - 1))]


def _ratios(of_zone: Sequence[ZoneRow], last: ZoneRow, now: float) -> list[float]:
    """How far the cut part stood off the whole, over its reach, when nearest this share was cut.

    One figure a zone and season; where fields are cut in an order, it is none of the reach alone.
    """
    found = []
    assert last.cut is not None
    for row in of_zone:
        f = min((row.area_cut or 0.0) / row.area, 1.0)
        if LEAST_CUT <= f <= MOST_CUT and row.cut:
            off = np.log(row.cut / f / last.cut) / _reach(f)
            found.append((abs(f - now), float(off)))
    return [min(found)[1]] if found else []


def _by_season(given: Given) -> list[list[ZoneRow]]:
    """Rows of each earlier season, by the days that its mill ran."""
    made: list[list[ZoneRow]] = []
    ends = [s[-1].date for s in given.seasons]
    before = date.min
    for end in ends:
        rows = [r for r in given.zones if before < r.as_of and (r.as_of - end).days <= 60
                and r.as_of < given.rules.start]  # fmt: skip
        made.append(rows)
        before = max((r.as_of for r in rows), default=end)
    return made
