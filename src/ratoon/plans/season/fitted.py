"""The figures that a forecast rests on, and what was lacking, in words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ratoon.base.season import ZoneRow
from ratoon.plans.season.answer import FittedFigure
from ratoon.plans.season.draws import Level
from ratoon.plans.season.futures import Fit
from ratoon.plans.season.given import DAY, Given
from ratoon.plans.season.rain import dry_share, pooled, wet_share, wet_spell

USUAL = "usual value"


def told(known: Given, fit: Fit) -> Iterator[FittedFigure]:
    """Each figure with its standard uncertainty."""
    seasons = len(known.seasons)
    record = f"{seasons} earlier seasons and this one" if seasons else "this season"
    years = len(fit.rain.totals)
    gauge = f"{years} years of rain" if years else USUAL
    a, b, mean, shape = pooled(fit.rain.months)
    m = fit.rain.months
    of_a, of_b = _error(a, m.after_dry.sum()), _error(b, m.after_wet.sum())
    yield FittedFigure("wet day after a dry one", a, of_a, "", gauge)
    yield FittedFigure("wet day after a wet one", b, of_b, "", gauge)
    error = float(np.hypot((1 - b) * of_a, a * of_b)) / (1 + a - b) ** 2
    yield FittedFigure("wet days, of all", wet_share(a, b), error, "", gauge)
    yield FittedFigure("mean wet spell", wet_spell(b), of_b * wet_spell(b) ** 2, "d", gauge)
    held = dry_share(a, b, 5)
    error = held * float(np.hypot(of_a * (1 / (1 + a - b) + 4 / (1 - a)),
                                  of_b * a / ((1 - b) * (1 + a - b))))  # fmt: skip
    yield FittedFigure("days with the last five dry, of all", held, error, "", gauge)
    wet = max(float(m.wet_days.sum()), 1.0)
    yield FittedFigure("rain of a wet day above 0.9 mm", mean, mean / np.sqrt(wet * shape), "mm",
                       gauge)  # fmt: skip
    variance = fit.rain.year_variance()
    yield FittedFigure("factor of the year, standard deviation", float(np.sqrt(variance)),
                       float(np.sqrt(variance / 2 / max(years - 1, 3))), "", gauge)  # fmt: skip
    chain = fit.rain.chain_cv
    yield FittedFigure("the chain's own coefficient of variation", chain, 0.0, "", gauge)
    g = fit.ground
    where = record if g.fitted else USUAL
    for n, (name, unit) in enumerate((
        ("wetness kept a day", ""), ("wetness from which hours are lost", "mm"),
        ("wetness from there to a day lost", "mm"),
    )):  # fmt: skip
        middle = float(g.weights @ g.points[:, n])
        sd = float(max(float(g.weights @ g.points[:, n] ** 2) - middle**2, 0.0) ** 0.5)
        yield FittedFigure(name, middle, sd, unit, where)
    for name, level, unit, logs in (
        ("crushing rate", fit.rate.level, "t/h", True),
        ("rate over the last fields, of that before", fit.rate.tail, "", False),
        ("hours of short stops an hour run", fit.stops.share, "h/h", True),
        ("long stops an hour run", fit.stops.often, "1/h", True),
        ("sugar made over CCS in cane", fit.curve.recovery, "", False),
        ("error of estimates common to all zones", fit.zones.common, "log", False),
    ):
        yield _level(name, level, unit, logs, record)
    yield FittedFigure("fall of CCS by washing", fit.curve.fall[0], fit.curve.fall[1], "%", record)


def _level(name: str, level: Level, unit: str, logs: bool, record: str) -> FittedFigure:
    value, sigma = level.told()
    where = record if level.earlier or level.seen is not None else USUAL
    if logs:
        value, sigma = float(np.exp(value)), float(np.exp(value) * sigma)
    return FittedFigure(name, value, sigma, unit, where)


def _error(share: float, days: float) -> float:
    return float(np.sqrt(share * (1 - share) / max(days, 1.0)))


def lacking(known: Given, fit: Fit) -> Iterator[str]:
    """What was not given and widens the answer, or is taken to be usual."""
    yield from known.rules.lacking
    if not known.seasons:
        yield "earlier seasons (earlier_days): usual values, wide, stand in for them"
    elif len(known.seasons) < 3:
        yield f"earlier seasons: {len(known.seasons)} on record; five or more narrow the answer"
    if len(fit.rain.totals) < 20:
        yield (f"rain: {len(fit.rain.totals)} years on record; five do not suffice,"
               " give as many decades as there are")  # fmt: skip
    if not fit.ground.fitted:
        yield "hours lost to rain on enough days: a usual ground stands in"
    if not fit.stops.known:
        yield "long stops on record: usual ones stand in"
    if not fit.zones.common.earlier:
        yield "estimates and cuts of earlier seasons: the estimates' own sigma stands in"
    first = max([known.rules.start, *(d.date + DAY for d in known.days[-1:])])
    if known.season and first < known.at:
        yield f"days {first} to {known.at - DAY}: none is on record, so nothing was crushed then"
    if fit.rate.level.seen is None:
        yield "days of this season with cane: the rate is that of earlier seasons"
    over = [n for n, (area, row) in enumerate(zip(fit.zones.area, fit.zones.names))
            if _cut(known, row) > area]  # fmt: skip
    for n in over:
        yield (f"zone {fit.zones.names[n]}: more is cut than its area, by up to"
               f" {100 * (ZoneRow.OVER - 1):.0f} %: check its area")  # fmt: skip


def _cut(known: Given, zone: str) -> float:
    rows = [z for z in known.zones if z.zone == zone]
    return (rows[-1].area_cut or 0.0) if rows else 0.0
