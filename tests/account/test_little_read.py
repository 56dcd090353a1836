"""Days on which half the readings were not taken, whichever half it was: accounted all the same."""

import math
import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from ratoon.account.learn import _Told
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.base.records import Period, Reading, Stop
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.sheet.to_date import AROUND
from ratoon.settings.read import parse_settings
from ratoon.store import Store, locate
from ratoon.store.entries import readings_in, stops_in

HALVES = 16
# Halves on which a flow once stood far from the truth, and surely: mud run to zero along
# a flat way (19), a heater's surface told of juice as hot as its vapour (20, 66).
FAR = (19, 20, 66)
CHECKED = ("effect.1.brix", "evaporator.steam.flow", "clear_juice.pol")  # in a half each, by others
NOISE = 1e-8  # of a figure's size: below it an uncertainty is rounding, as in a balance's rest
Day = tuple[Mill, Period, list[Reading], list[Stop]]


@pytest.fixture(scope="module")
def day(invented_days: Callable[[int], Path]) -> Day:
    """A mill day of the invented mill as it was read in full."""
    folder = invented_days(2)
    import_files(folder, sorted((folder / "input").iterdir()))
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    mill = Mill(parse_settings(text))
    period = mill.calendar.period(date(2031, 6, 11))
    with Store.open(locate(folder)) as store:
        near = Period(period.start - AROUND, period.end + AROUND)
        return mill, period, store.ask(readings_in, near), store.ask(stops_in, period)


def half(day: Day, seed: int, wrong: tuple[str, ...] = ()) -> PeriodAccount:
    """The day with each reading kept or left out by a toss of a coin; some wrong by a tenth."""
    mill, period, rows, stops = day
    dice = random.Random(seed)
    kept = [replace(r, value=1.1 * r.value) if r.address in wrong else r
            for r in rows if dice.random() < 0.5]  # fmt: skip
    return account(mill, gather(mill, period, kept, stops), mill.plant.solve().values)


@pytest.fixture(scope="module")
def halves(day: Day) -> list[PeriodAccount]:
    return [half(day, seed) for seed in range(HALVES)]


@pytest.fixture(scope="module")
def whole(day: Day) -> PeriodAccount:
    mill, period, rows, stops = day
    return account(mill, gather(mill, period, rows, stops), mill.plant.solve().values)


def test_every_half_is_accounted_and_agrees_with_the_whole_within_its_doubt(
    halves: list[PeriodAccount], whole: PeriodAccount
) -> None:
    near, far, untold, forced = 0, 0, 0, 0
    for part in halves:
        assert part.answer is not None
        forced += part.answer.forced
        for address in part.mill.always:
            told, all_told = (a.figure(address) for a in (part, whole))
            untold += told.value is None
            if told.value is None or not told.sigma or all_told.value is None:
                continue
            assert all_told.sigma is not None
            # The half's uncertainty holds the whole's: four of both leave room for that.
            off = abs(told.value - all_told.value) / (told.sigma**2 + all_told.sigma**2) ** 0.5
            near, far = near + (off < 2.0), far + (off >= 4.0)
    assert near + far > 150 and far <= 0.02 * (near + far)
    assert forced <= HALVES / 4  # the rest had an answer without every size
    assert untold  # what the readings leave open is not told


@pytest.mark.parametrize("seed", FAR)
def test_no_quantity_of_the_works_stands_far_off_with_hardly_a_doubt(
    day: Day, whole: PeriodAccount, seed: int
) -> None:
    told, all_told = half(day, seed).answer, whole.answer
    assert told is not None
    assert all_told is not None
    asked = 0
    for address, value in told.values.items():
        sigma, truth = told.sigma(address), all_told.values.get(address)
        if truth is None or sigma is None or sigma <= NOISE * max(abs(value), 1e-2):
            continue
        doubt = math.hypot(sigma, all_told.sigma(address) or 0.0)
        asked += 1
        assert abs(value - truth) < 4.0 * doubt, (address, value, truth, doubt)
    assert asked > 300


def test_suspects_of_a_half_read_day_are_possible(day: Day) -> None:
    found = 0
    for seed in range(3):
        part = half(day, seed, CHECKED)
        assert part.settled is not None and part.settled.whole is not None
        answer = part.settled.whole
        to_explain = float(
            answer.white_residuals @ answer.white_residuals
        )  # usual values among it: they may be named
        for suspect in answer.suspects:
            found += 1
            # None explains more than there is to explain, but for the bend of the equations.
            assert suspect.statistic <= 3.0 * to_explain, suspect
    assert found  # some half has a suspect: else nothing was asked


def test_the_size_of_what_is_left_open_teaches_nothing(halves: list[PeriodAccount]) -> None:
    seen = 0
    for part in halves:
        assert part.answer is not None
        problem = part.answer.problem
        sizes = {r.address for r, size in zip(problem.readings, problem.sized) if size}
        heard = {n.removeprefix("instrument ").split()[0] for n in _Told.of(part).names}
        assert heard and not heard & sizes
        seen += len(sizes)
    assert seen
