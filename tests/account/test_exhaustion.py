"""Which step lost, and what a unit of it is worth: a plant of the tests, invented days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ratoon.account.figures.exhaustion import cooling, mixtures, recirculation, unit_worth
from ratoon.account.figures.purity_falls import TELLS, changes, falls, lost_words
from ratoon.account.mill import Mill
from ratoon.account.money.earned import terms
from ratoon.equations import Solution
from ratoon.plant.boiled import Cools, Step
from ratoon.plant.plant import Plant

DAYS, SIGMA = 40, 0.55
USUAL = {"A pans": 18.0, "B pans": 21.0, "C pans to crystallisers": 22.0, "A centrifugals": -2.0,
         "B centrifugals": -1.2, "C centrifugals": -2.3}  # fmt: skip
STEPS = [Step(n[0], n[2:], "before", "after", "moved", 0.01, f"look at {n}") for n in USUAL]


def season(
    rng: np.random.Generator, lost: float = 0.0, step: str = "C centrifugals", stays: float = 1.0
) -> list[dict[str, tuple[float, float, float]]]:
    """Days whose errors are an instrument's, calibrated each fortnight, and each day's own."""
    common = {n: np.repeat(rng.standard_normal(4), 14)[:DAYS] for n in USUAL}
    return [
        {n: (u + SIGMA * (0.6**0.5 * common[n][d] + 0.4**0.5 * rng.standard_normal())
             - (gone := lost if n == step and d >= DAYS - 7 else 0.0), SIGMA, 50.0 + stays * gone)
         for n, u in USUAL.items()}
        for d in range(DAYS)
    ]  # fmt: skip


def test_a_step_that_lost_is_named_and_a_sound_season_is_left_alone() -> None:
    rng = np.random.default_rng(20311130)
    sound = [any(c.lost for c in changes(season(rng)).values()) for _ in range(200)]
    assert np.mean(sound) <= 0.10  # of seasons with six steps each, where nothing was lost
    hit = 0
    for _ in range(100):
        found = changes(season(rng, 2.5))
        words = lost_words(STEPS, found)
        hit += words.startswith("C centrifugals lift purity by") and "look at" in words
    assert hit >= 80
    fed = [changes(season(rng, 4.0, stays=-0.5)) for _ in range(50)]  # a poorer feed, no worse step
    assert not any(one["C centrifugals"].lost for one in fed)
    assert lost_words(STEPS, {n: replace(c, lost=False) for n, c in found.items()}) == ""


def test_few_days_or_wide_ones_tell_nothing() -> None:
    days = season(np.random.default_rng(1))
    assert changes(days[:10]) == {}
    wide = [{n: (v, 2.0 * TELLS, a) for n, (v, _, a) in d.items()} for d in days]
    assert changes(wide) == {}
    assert changes([]) == {}


def test_a_fall_needs_both_purities() -> None:
    step = Step("C", "pans", "in", "out", "x", 0.01, "")
    assert falls([step], {"in": [62.0, 0.3], "out": [44.0, 0.4]}) == {"C pans": (18.0, 0.5, 44.0)}
    assert falls([step], {"in": [62.0, 0.3]}) == {}
    assert falls([step], {"in": [62.0, 0.3], "out": [44.0, None]}) == {}


@pytest.fixture(scope="module")
def plant(mill: Mill) -> Plant:
    return mill.plant


@pytest.fixture(scope="module")
def own(plant: Plant) -> Solution:
    return plant.solve({}, plant.start)


def test_a_unit_of_the_last_steps_is_worth_its_sugar(
    mill: Mill, plant: Plant, own: Solution
) -> None:
    """Of the last run-off's dry substance N, non-sucrose passing: a unit is N (1/(1-p))^2 / 100."""
    steps = {s.name: s for station in plant.works.stations for s in station.steps()}
    sold = terms(mill.roles, mill.settings.prices)
    worth = unit_worth(plant, own, steps["C centrifugals"], sold)
    molasses = plant.works.roles.stream("final molasses", own.values)
    sucrose = 36.0 * float(molasses.nonsucrose / (1.0 - molasses.purity) ** 2) / 1000.0  # t/h
    price, less = mill.settings.prices.sugar, mill.settings.prices.molasses
    assert worth is not None and worth == pytest.approx(sucrose * (price - less), rel=0.25)
    cooled = unit_worth(plant, own, steps["C crystallisers"], sold)
    assert cooled == pytest.approx(worth, rel=0.05)  # the same sucrose stays out of the molasses
    pans = unit_worth(plant, own, steps["C pans"], sold)
    assert pans is not None and abs(pans) < 0.1 * worth  # the crystallisers take it up


def test_a_poorer_last_sugar_comes_round_again(plant: Plant, own: Solution) -> None:
    last = [c for station in plant.works.stations for c in station.curing()]
    if not last:
        pytest.skip("this mill file tells no machines")
    told = recirculation(plant, own, last[-1])
    assert told is not None and len(told.points) == 9
    volumes = [p.volume for p in told.points]
    assert volumes == sorted(volumes, reverse=True)
    molasses = [p.molasses for p in told.points]
    assert max(molasses) / min(molasses) < 1.01 < volumes[0] / volumes[-1]


def test_massecuites_are_their_feeds(plant: Plant, own: Solution) -> None:
    """The blend rule, share of the high stream (Pt - Pl)/(Ph - Pl), over any number of feeds."""
    for one in mixtures(plant, own.values):
        assert sum(p.share for p in one.parts) == pytest.approx(1.0)
        assert one.purity == pytest.approx(100.0 * own[f"pan.{one.grade}.massecuite.purity"])


def test_courses_of_cooling_meet_at_both_ends() -> None:
    figures = {"t": [36.0, 2.0], "a": [66.0, 1.0], "b": [45.0, 1.0], "r": [0.58, 0.05]}
    told = cooling(Cools("a", "b", "t", "r"), figures)
    assert told is not None
    for course in told.courses.values():
        assert course[0] == (0.0, 66.0) and course[-1] == (36.0, pytest.approx(45.0))
    half = {name: course[12][1] for name, course in told.courses.items()}
    assert half["slow at first"] > half["even"] > half["fast at first"]
    assert cooling(Cools("a", "b", "t", "r"), {}) is None
