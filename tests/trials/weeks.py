"""How honest weeks and seasons to date are: simulated stretches of days through the real account.

A season keeps what lasts: every instrument's common error and every assumption are drawn once for
all its days, since only they do not average out; a calibration in the mill file draws that
instrument's anew. Controls, cane, stops and each reading's own error
are new each day. Days go in a few long steps, so that a season is made in a second.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.account.period import account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import Gathered
from ratoon.account.readings.to_date import join
from ratoon.base.errors import NotSolved, RatoonError
from ratoon.base.records import Stop
from ratoon.demo import measure
from ratoon.demo.hours import Step, TruePlant
from ratoon.demo.random_days import (
    RESTLESS,
    DayCane,
    draw_growth,
    draw_levels,
    draw_parameters,
    hourly,
    restock,
)
from ratoon.demo.truth import DAY, TrueDay, close_day, masses
from ratoon.demo.works import reference_htc
from ratoon.settings.read import parse_settings
from trials.days import HEADLINES

FIRST = date(2031, 7, 7)  # the first day of a mill week
WEEK = 7
STEPS = 3  # a day
MOST_STOOD = 3000.0  # s of a step
FOULED = 0.2


@dataclass
class Stretch:
    """A stretch of days of one simulated season.

    Attributes
    ----------
    off : by headline figure, how far the account is from the truth in its own sigmas.
    failed : why it could not be accounted; empty when it could.
    """

    number: int
    days: int
    off: dict[str, float] = field(default_factory=dict)
    failed: str = ""


@dataclass
class _Season:
    """True days of a season with what the truth of any of its stretches is made from."""

    days: list[TrueDay] = field(default_factory=list)
    steps: list[list[Step]] = field(default_factory=list)
    before: list[dict[str, np.ndarray]] = field(default_factory=list)


def run_stretches(
    mill_text: str, seed: int, numbers: Iterable[int], days: int
) -> list[tuple[Stretch, Stretch]]:
    """For each numbered season of `days` days: its first week and the season to date."""
    mill = Mill(parse_settings(mill_text))
    plant = TruePlant(mill.settings)
    return [run_season(mill, plant, seed, n, days) for n in numbers]


def run_season(
    mill: Mill, plant: TruePlant, seed: int, number: int, days: int
) -> tuple[Stretch, Stretch]:
    """One season through the account: its first week, and all of it."""
    rng = np.random.default_rng([seed, number])
    week, whole = Stretch(number, min(WEEK, days)), Stretch(number, days)
    lasting = measure.lasting_errors(mill, rng)
    for _ in range(RESTLESS):
        try:
            truths = _truths(rng, plant, (week.days, whole.days))
            break
        except NotSolved:
            continue
    else:
        raise NotSolved(f"no working season in {RESTLESS} draws")
    season, figures = truths
    read = _read(mill, season, lasting, rng)
    for stretch, told in zip((week, whole), figures):
        try:
            done = account(mill, join(mill, read[: stretch.days]))
        except RatoonError as error:  # counted, never hidden: the test asks that there be none
            stretch.failed = str(error)
            continue
        assert done.answer is not None
        for name in HEADLINES:
            address = f"account.{name}"
            sigma = done.answer.sigma(address) if done.answer.determined(address) else None
            if sigma:
                stretch.off[name] = (done.answer.value(address) - told[address]) / sigma
    return week, whole


def _truths(
    rng: np.random.Generator, plant: TruePlant, lengths: tuple[int, ...]
) -> tuple[_Season, list[dict[str, float]]]:
    """The true days, and the true figures of the stretches that begin with the first of them."""
    plant.reset()
    drawn, phase = draw_parameters(plant, rng), int(rng.integers(WEEK))
    restock(rng, plant)
    season, figures, bins = _Season(), [], 180e3
    first_bins = bins
    for n in range(max(lengths)):
        season.before.append(masses(plant))
        steps = _day(rng, plant, {**drawn, **_fouled(plant, n + phase)})
        then = 180e3 + 8e3 * float(rng.standard_normal())
        season.steps.append(steps)
        season.days.append(_closed(plant, FIRST + timedelta(days=n), 1, steps, season.before[-1],
                                   (bins, then)))  # fmt: skip
        bins = then
        if n + 1 in lengths:
            every = [s for day in season.steps for s in day]
            figures.append(_closed(plant, FIRST, n + 1, every, season.before[0],
                                   (first_bins, bins)).figures)  # fmt: skip
    return season, figures


def _fouled(plant: TruePlant, day: int) -> dict[str, float]:
    """Heat transfer falls by a fifth from one weekly clean to the next."""
    kept = 1.0 - FOULED * (day % WEEK) / WEEK
    return {reference_htc(i): plant.set_values[reference_htc(i)] * kept
            for i in range(1, plant.works.evaporator.count + 1)}  # fmt: skip


def _day(rng: np.random.Generator, plant: TruePlant, still: dict[str, float]) -> list[Step]:
    """One day in a few steps, each with the cane and the controls of its hours."""
    cane = DayCane.draw(rng)
    levels, hours, steps = draw_levels(plant, rng), 24.0 / STEPS, []
    period, calm = hours * 3600.0, hours**-0.5  # a step is the mean of its hours
    for _ in range(STEPS):
        now = hourly(rng, plant, levels)
        given = {**still, **{a: v + calm * (now[a] - v) for a, v in levels.items()},
                 **cane.hour(rng, calm)}  # fmt: skip
        stood = float(np.round(rng.uniform(0.0, MOST_STOOD)))
        growth = draw_growth(plant, rng, hours)
        steps.append(plant.step(given, growth, period - stood, period))
    return steps


def _closed(
    plant: TruePlant, first: date, days: int, steps: list[Step],
    before: dict[str, np.ndarray], bins: tuple[float, float],
) -> TrueDay:  # fmt: skip
    crushing = float(round(sum(s.crushing for s in steps)))
    day = TrueDay(first, 0, crushing, days * DAY)
    return close_day(plant, day, steps, np.zeros(len(plant.names)), before, bins)


def _read(
    mill: Mill, season: _Season, lasting: dict[str, float], rng: np.random.Generator
) -> list[Gathered]:
    """Each day's readings as gathered; a stock-take closes one day and opens the next."""
    out = []
    opening: list[measure.Row] | None = None
    for day in season.days:
        period = mill.calendar.period(day.date)
        for called, dates in mill.calibrated.items():
            if day.date in dates and called in lasting:
                lasting[called] = float(rng.standard_normal())
        rows = measure.read(mill, day, lasting, rng)
        if opening is None:
            opening = measure.stocks(mill, day.opening, period.start, lasting, rng)
        closing = measure.stocks(mill, day.closing, period.end, lasting, rng)
        rows += opening + closing
        opening = closing
        stood = timedelta(seconds=day.period - day.crushing)
        stop = Stop(period.start, period.start + stood, "mills", "other")
        out.append(gather(mill, period, [measure.as_reading(mill, r) for r in rows], [stop]))
    return out
