"""The whole forecast: fit once, run blocks of futures here or elsewhere, join them in order."""

from __future__ import annotations

import time as clock
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.plans.season import answer as said
from ratoon.plans.season import ccs, crop, effects, fitted, ground, rain, rate, stops
from ratoon.plans.season.draws import Array
from ratoon.plans.season.futures import (
    BLOCK,
    CAUSES,
    NONE,
    Change,
    Costs,
    Fit,
    ahead,
    carried,
    draw,
    run,
)
from ratoon.plans.season.given import Given, given
from ratoon.plans.season.rules import planned_ahead, rules

FUTURES, FEWEST, MOST = 10_000, 100, 1_000_000
FOR_CAUSES, FOR_WEEKS, FOR_WORTH = 3, 20, 3
"""Blocks whose futures are also run with causes kept and drawn anew, told by weeks, changed."""
HOURS_A_DAY = 17.0
"""Hours run a day, roughly: only for how far ahead years of rain are compared [h]."""
LEVELS = (0.05, 0.25, 0.50, 0.75, 0.95)


def forecast_season(
    *, days: Iterable[Any] = (), stops: Iterable[Any] = (), rain: Iterable[Any] = (),
    zones: Iterable[Any] = (), settings: Any = None, at: date | str, futures: int = FUTURES,
    seed: int = 0,
) -> dict[str, Any]:  # fmt: skip
    """The season's forecast from rows of the files, with no store: the JSON of `ratoon season`.

    Parameters
    ----------
    days : rows of `earlier_days`, this season's days before `at` among them.
    stops, zones : rows of those files. rain : rows with `date` and `rain` [mm].
    settings : tables of a mill file as a dictionary (`mill`, `season`, `planned_stops`,
        `prices`), or its settings; what is left out is told under `lacking`.
    at : mill day whose morning it is. futures : 100 to 1,000,000. seed : of the draws.

    Raises
    ------
    BadInput : one line: a row, a rule or an argument that cannot be.
    """
    day = at if isinstance(at, date) else date.fromisoformat(at)
    known = given(days, stops, rain, zones, rules(settings, day), day)
    return dict(to_json(forecast(known, futures, seed)))


def forecast(
    known: Given, futures: int = FUTURES, seed: int = 0, *, change: Change = NONE,
    change_words: str = "", on: Executor | None = None, explained: bool = True,
) -> said.SeasonForecast:  # fmt: skip
    """The season's forecast.

    Parameters
    ----------
    change : what is compared with going on as now; `change_words` how it was asked.
    on : where blocks of futures are worked; here if None. The answer is the same.
    explained : with shares of causes and worths.
    """
    began = clock.perf_counter()
    if not FEWEST <= futures <= MOST:
        raise BadInput("a number of futures out of reach", value=futures,
                       allowed=f"{FEWEST} to {MOST:,}")  # fmt: skip
    if seed < 0:
        raise BadInput("a seed below zero", value=seed, allowed="0 or above")
    fit = fitted_to(known)
    counts = [min(BLOCK, futures - n) for n in range(0, futures, BLOCK)]
    jobs = [Job(fit, seed, n, count, explained and n < FOR_CAUSES, explained and n < FOR_WORTH,
                n < FOR_WEEKS, change) for n, count in enumerate(counts)]  # fmt: skip
    parts = [work(job) for job in jobs] if on is None else list(on.map(work, jobs))
    made = _joined(known, fit, parts, futures, seed, change_words, explained)
    return replace(made, answer_digest=digest_of(made), seconds=clock.perf_counter() - began)


def fitted_to(known: Given) -> Fit:
    """What futures are drawn from."""
    r, at = known.rules, known.at
    days = max(known.horizon, 1)
    share = r.season.tail_share
    of_zones = crop.fit(known)
    of_rate = rate.fit(known, share)
    a_day = float(np.exp(of_rate.level.told()[0])) * HOURS_A_DAY
    expected = max(float(of_zones.estimate.sum()) - known_cane(known), 0.0) / a_day
    window = int(np.clip(expected * 1.2 + 7, 14, max(days, 14)))
    of_rain = rain.fit(known.rain, at, days, window, min(r.start, at))
    planned = np.zeros(days)
    for n, stop in planned_ahead(r.planned_stops, at, days):
        planned[n] += stop.hours / 3600.0
    if not r.planned_stops:
        mean = [d.planned or 0.0 for s in (*known.seasons, known.season) for d in s if d.cane]
        planned += float(np.mean(mean)) if mean else 0.0
    if known.horizon == 0:  # past the latest finish: nobody crushes
        planned += 24.0
    costs = Costs(r.sugar_price, r.cane_price, r.season.hour_cost, r.season.left_cost,
                  r.season.ratoon_cost, ahead(r.season.ratoon_from, at))  # fmt: skip
    season, curve = known.season, ccs.fit(known)
    made = sum(d.sugar or 0.0 for d in season) + ccs.in_process(known, curve.recovery)
    week = [0, *(n for n in range(1, days) if (at + timedelta(days=n)).weekday() == r.week_start)]
    return Fit(
        days, of_rain, ground.fit(known.seasons, known.season), stops.fit(known), of_rate,
        of_zones, curve, carried(planned), share, costs, known_cane(known), made,
        sum((d.cane or 0.0) * (d.ccs or 0.0) for d in season), tuple(week),
    )  # fmt: skip


def known_cane(known: Given) -> float:
    """Cane crushed this season so far [t]."""
    return sum(d.cane or 0.0 for d in known.season)


@dataclass(frozen=True)
class Job:
    """One block of futures to be worked."""

    fit: Fit
    seed: int
    block: int
    count: int
    causes: bool
    worth: bool
    weeks: bool
    change: Change


@dataclass(frozen=True)
class Part:
    """What came of a block."""

    figures: Array
    """Finish, cane, left, sugar, ccs, money, hours of rain, stops, no cane, planned, crop."""
    zones: Array
    weeks: Array | None
    squares: effects.Squares | None
    worths: tuple[Array, ...]
    compared: Array | None


def work(job: Job) -> Part:
    """One block of futures; may be called in any process."""
    fit = job.fit
    draws = {c: draw(fit, job.seed, job.block, c, 0, job.count) for c in CAUSES}
    out = run(fit, draws, whole=True)
    figures = np.stack([out.finish, out.cane, out.left, out.sugar, out.ccs, out.money,
                        *(out.hours[k] for k in ("rain", "stops", "no_cane", "planned")),
                        out.cane + out.left])  # fmt: skip
    parted = None
    if job.causes:
        again = {c: draw(fit, job.seed, job.block, c, 1, job.count) for c in CAUSES}
        parted = effects.of_block(fit, draws, again)
    worths = tuple(effects.moved(fit, draws, out, c) for _, _, c in effects.WORTH) if (
        job.worth) else ()  # fmt: skip
    compared = effects.moved(fit, draws, out, job.change) if job.change != NONE else None
    assert out.zones is not None
    zones = np.stack([out.zones.sum(axis=1), (out.zones**2).sum(axis=1)])
    return Part(figures, zones, out.weeks if job.weeks else None, parted, worths, compared)


def _joined(
    known: Given, fit: Fit, parts: Sequence[Part], futures: int, seed: int, words: str,
    explained: bool,
) -> said.SeasonForecast:  # fmt: skip
    at = known.at
    figures = np.concatenate([p.figures for p in parts], axis=1)
    finish, cane, left, sugar, content, money, wet, stopped, waited, planned, all_ = figures
    zones = np.sum([p.zones for p in parts], axis=0) / futures
    z = fit.zones
    of_zones = tuple(
        said.SeasonZone(name, float(z.estimate[n]), float(zones[0, n]),
                        float(np.sqrt(max(zones[1, n] - zones[0, n] ** 2, 0.0))),
                        float(z.cut[n]), float(z.share[n]))
        for n, name in enumerate(z.names)
    )  # fmt: skip
    ended = bool(np.median(all_ - fit.cane_now) <= 0.001 * np.median(all_)) or known.horizon == 0
    begun = bool(known.season) and fit.cane_now > 0
    status: said.Status = "finished" if ended and begun else "forecast" if begun else "not started"
    last = [d.date.isoformat() for d in known.season if d.cane][-1:]
    dates = said.DateSpread(*last * 5) if status == "finished" else _dates(finish, at)
    return said.SeasonForecast(
        at.isoformat(), status, seed, futures, dates,
        float(np.mean(np.isinf(finish))), spread(all_), spread(left), spread(cane),
        spread(content), spread(sugar), spread(money), known.rules.currency,
        said.SeasonHours(spread(wet), spread(stopped), spread(waited), float(np.mean(planned))),
        _weeks(fit, parts, at), of_zones,
        tuple(effects.shares([p.squares for p in parts if p.squares])) if explained else (),
        tuple(effects.worth(what, unit, [p.worths[n] for p in parts if p.worths])
              for n, (what, unit, _) in enumerate(effects.WORTH)) if explained else (),
        effects.worth(words, "", [p.compared for p in parts if p.compared is not None])
        if parts[0].compared is not None else None,
        tuple(fitted.told(known, fit)), tuple(fitted.lacking(known, fit)),
        said.MonteCarlo(quantile_error(np.minimum(finish, fit.days), 0.5),
                        quantile_error(np.minimum(finish, fit.days), 0.95)), "", 0.0,
    )  # fmt: skip


def spread(values: Array) -> said.Spread:
    """Quantiles of a figure over the futures."""
    known = values[~np.isnan(values)]
    if not known.size:
        return said.Spread(None, None, None, None, None)
    return said.Spread(*(float(q) for q in np.quantile(known, LEVELS)))


def _dates(finish: Array, at: date) -> said.DateSpread:
    order = np.sort(finish)
    made: list[str | None] = []
    for level in LEVELS:
        days = order[min(int(level * len(order)), len(order) - 1)]
        whole = max(int(np.ceil(days)) - 1, 0) if np.isfinite(days) else 0
        made.append((at + timedelta(days=whole)).isoformat() if np.isfinite(days) else None)
    return said.DateSpread(*made)


def quantile_error(values: Array, level: float) -> float:
    """Standard error of a quantile of drawn values, by the order statistics about it."""
    order, n = np.sort(values), len(values)
    half = np.sqrt(level * (1 - level) / n)
    low, high = (order[int(np.clip(p * n, 0, n - 1))] for p in (level - half, level + half))
    return float(high - low) / 2.0


def _weeks(fit: Fit, parts: Sequence[Part], at: date) -> tuple[said.SeasonWeek, ...]:
    told = [p.weeks for p in parts if p.weeks is not None]
    if not told:
        return ()
    all_ = np.concatenate(told, axis=2)
    made = []
    for n, start in enumerate(fit.week_starts):
        cane, content, sugar = all_[:, n]
        if not (cane > 1.0).any():
            break
        made.append(said.SeasonWeek((at + timedelta(days=start)).isoformat(), spread(cane),
                                    spread(content), spread(sugar)))  # fmt: skip
    return tuple(made)


def digest_of(made: said.SeasonForecast) -> str:
    """SHA-256 of an answer, of the versions of what worked it out, and nothing of when."""
    import hashlib
    import json

    from ratoon import __version__

    plain: Mapping[str, Any] = to_json(replace(made, answer_digest="", seconds=0.0))
    text = json.dumps({"answer": plain, "numpy": np.__version__, "program": __version__},
                      sort_keys=True)  # fmt: skip
    return hashlib.sha256(text.encode()).hexdigest()
