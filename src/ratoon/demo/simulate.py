"""The season run through the true plant, hour by hour."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base.errors import NotSolved
from ratoon.demo import season
from ratoon.demo.hours import Floats, Step, TruePlant
from ratoon.demo.random_days import CONTROLS, draw_growth
from ratoon.demo.shift_log import hourly
from ratoon.demo.truth import DAY, TrueDay, close_day, masses
from ratoon.demo.works import OF_BRIX, OF_POL

LEAST_BRIX = 0.65
USUAL_PURITY, FOLLOW = 0.867, 0.7
EASED = ("pan.", "sugar.", "centrifugal.", "crystalliser.")
FULL_DIP, LOT = 5000.0, 1.425e6  # m3 of molasses at which a lot [kg] is sent away


@dataclass
class Run:
    """What the season carries from day to day."""

    mill: Mill
    plant: TruePlant
    rng: np.random.Generator
    weather: season.Weather
    drift: season.Drift
    fouling: season.Fouling
    bins: float = 180e3
    stood: float = 0.0
    year: season.Year = season.THIS_YEAR
    crushed: float = 0.0  # days crushed on the day before
    levels: Floats | None = None
    eased: int = 0


def simulate(mill: Mill, seed: int, days: int = season.DAYS) -> list[TrueDay]:
    """True days from the start of the season.

    Parameters
    ----------
    seed : the same seed makes the same season. days : how many, up to 66.
    """
    return _run(mill, np.random.SeedSequence(seed), season.THIS_YEAR, season.DAYS, days)


def simulate_before(mill: Mill, seed: int, days: int = season.BEFORE_DAYS) -> list[TrueDay]:
    """True days of the season before: the weeks that the newest sheets look back on."""
    # Of the seeds tried, one whose works are not pressed hard: hard hours take long to solve.
    root = np.random.SeedSequence([seed, 8])
    return _run(mill, root, season.YEAR_BEFORE, season.BEFORE_DAYS, days)


def _run(
    mill: Mill, seeds: np.random.SeedSequence, year: season.Year, planned: int, days: int
) -> list[TrueDay]:
    root = seeds.spawn(6)
    one, two, three, four, five = (np.random.default_rng(s) for s in root[:5])
    plant = TruePlant(mill.settings, patient=True)
    run = Run(mill, plant, five, season.weather(one, planned, year), season.Drift(plant, three),
              season.Fouling(four), year=year)  # fmt: skip
    stops = season.stops(two, mill, planned, year)
    minutes = season.crushing_minutes(mill, stops, planned, year.first)
    found = []
    for k in range(days):
        at = year.first + timedelta(days=k)
        period = mill.calendar.period(at)
        mine = tuple(s for s in stops if s.start < period.end and s.end > period.start)
        crushing = 60.0 * float(minutes[k].sum())
        day = TrueDay(at, year.number + k, crushing, DAY, stops=mine)
        found.append(_day(run, day, minutes[k]))
    return found


def _day(run: Run, day: TrueDay, minutes: Floats) -> TrueDay:
    plant, number = run.plant, day.number
    at = number - run.year.number
    run.fouling.start_day(number, run.crushed)
    before = masses(plant)
    fixed = {**run.drift.day(), **run.fouling.htc()}
    fixed["cane.insolubles"] = float(run.weather.insolubles[at])
    if number in season.ENTRAINMENT_DAYS:
        fixed["evaporator.entrainment"] = season.ENTRAINMENT
    levels = _levels(run)
    # Poor juice is boiled to lower purities: the floor follows it.
    poorer = float(run.weather.purity[at]) - USUAL_PURITY
    for grade in ("B", "C"):
        levels[f"pan.{grade}.purity_set"] += FOLLOW * poorer
    if run.year is season.YEAR_BEFORE:
        levels["mill.5.fibre_content"] += season.WORSE_SQUEEZE
    standing = np.zeros(len(plant.names))
    steps: list[Step] = []
    ran: dict[int, Step] = {}
    stood: dict[int, Floats] = {}
    hours = [h for h, to in enumerate(season.joined(minutes)) if to == h]
    for hour, (crushing, whole) in zip(hours, season.steps_of(minutes), strict=True):
        if crushing == 0.0:
            power = 12e6 if run.stood < 10.0 else 6e6
            stood[hour] = plant.stand(run.stood, power)
            standing += stood[hour]
            run.stood += whole / 3600.0
            continue
        run.stood = 0.0
        given = {**fixed, **_hour(run, levels), **_cane(run, at, fixed)}
        if number == season.OVERFLOW_DAY and len(steps) in (4, 5):
            given["undetermined.sugar_end"] = 0.5 * season.OVERFLOW / crushing
        ran[hour] = _step(run, given, crushing, whole)
        steps.append(ran[hour])
    run.crushed = day.crushing / DAY
    _send_molasses(run, day)
    tonight = float(180e3 + 9e3 * run.rng.standard_normal())
    bins = (run.bins, tonight if day.crushing else run.bins)
    run.bins = bins[1]
    closed = close_day(plant, day, steps, standing, before, bins)
    closed.hourly = hourly(plant, closed, minutes, ran, stood)
    return closed


def _levels(run: Run) -> dict[str, float]:
    """The day's level of each control, most of it yesterday's."""
    fresh = run.rng.standard_normal(len(CONTROLS))
    run.levels = fresh if run.levels is None else 0.7 * run.levels + 0.714 * fresh
    return {
        a: run.plant.set_values[a] + drift * float(off)
        for (a, (drift, _)), off in zip(CONTROLS.items(), run.levels)
    }


def _hour(run: Run, levels: dict[str, float]) -> dict[str, float]:
    return {a: v + CONTROLS[a][1] * float(run.rng.standard_normal()) for a, v in levels.items()}


def _cane(run: Run, i: int, fixed: dict[str, float]) -> dict[str, float]:
    """An hour's cane: pol and brix follow from CCS, purity and fibre."""
    w, rng = run.weather, run.rng
    ccs = float(w.ccs[i]) + 0.0015 * float(rng.standard_normal())
    purity = float(w.purity[i]) + 0.003 * float(rng.standard_normal())
    insolubles = fixed["cane.insolubles"]
    fibre = float(w.fibre[i]) + insolubles + 0.002 * float(rng.standard_normal())
    of_pol = (0.95 - fibre) / (1.0 - fibre - fixed[OF_POL])
    of_brix = (0.97 - fibre) / (1.0 - fibre - fixed[OF_BRIX])
    brix = ccs / (1.5 * purity * of_pol - 0.5 * of_brix)
    rate = float(w.rate[i]) + 4.0 * float(rng.standard_normal())
    return {"cane.brix": brix, "cane.pol": purity * brix, "cane.fibre_laboratory": fibre,
            "cane.rate": rate / 3.6, "cane.temperature": float(w.temperature[i])}  # fmt: skip


def _step(run: Run, given: dict[str, float], crushing: float, whole: float) -> Step:
    """One step; what the plant cannot do at once it does with stocks at rest."""
    plant = run.plant
    growth = draw_growth(plant, run.rng, crushing / 3600.0)
    # Hard hours: the floor holds its stocks, then eases the settings that strain the pans.
    for share, ease in ((1.0, 0.0), (0.3, 0.0), (0.0, 0.0), (0.0, 0.3), (0.0, 0.6), (0.0, 1.0)):
        less = {n: share * g for n, g in growth.items()}
        eased = dict(given)
        for address, (value, *_) in plant.assumed.items():
            if address.startswith(EASED):
                eased[address] = given[address] + ease * (value - given[address])
        try:
            step = plant.step(eased, less, crushing, whole, LEAST_BRIX)
        except NotSolved as error:
            failed = error
            continue
        run.eased += 1 if ease else 0
        return step
    raise failed


def _send_molasses(run: Run, day: TrueDay) -> None:
    """A lot of final molasses goes when the tanks are full and the mill crushes."""
    tank = run.plant.tanks["final_molasses"]
    if tank.size > FULL_DIP and day.crushing:
        day.despatched = LOT
        tank.mass = tank.mass * (1.0 - LOT / float(tank.mass.sum()))
