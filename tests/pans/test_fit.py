"""A grade's constants from its strikes: followed as CVODES does, found, or held by the prior."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ratoon.plant.pan.course import OWN, Series
from ratoon.plant.pan.fit import CONSTANTS, HELD, constants_of, fit, white
from ratoon.plant.pan.growth import Crystallisation
from ratoon.plant.pan.strike import given_of
from ratoon.plant.pan.together import TOLD, Courses, boiled

from .strikes import A, a_strike

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks"))
from pan_fit import boil, read, recipe, steamed


def test_strikes_side_by_side_come_out_as_one_by_one() -> None:
    law = Crystallisation(400.0, 1e-5, 1.0, 5e-6)
    pan, start, switches, _, seconds = a_strike(law)
    alone = pan.strike(start, switches, [], seconds)
    steps, count = 24, 2
    asked = Courses(
        np.repeat(start[:, None], count, 1),
        np.tile(given_of(switches)[None, :, None], (steps, 1, count)),
        np.full((steps, count), seconds / steps), np.zeros((6, count)), np.full(count, steps),
        np.repeat([[A.volume], [A.surface]], count, 1),
    )  # fmt: skip
    constants = np.array([law.growth, law.purity, law.slope, law.births, law.dispersion,
                          A.coefficient, A.by_level, A.by_viscosity])  # fmt: skip
    told = boiled(asked, np.repeat(constants[:, None], count, 1), np.ones((steps, count)))
    names = {"mother": "purity", "level": "volume"}
    for ours in ("supersaturation", "mother", "brix", "level", "evaporation"):
        theirs = names.get(ours, ours)
        wanted = alone.figure(theirs)[-1]
        assert told[-1, TOLD.index(ours)] == pytest.approx([wanted, wanted], rel=1e-4)


def test_constants_are_found_with_honest_widths_and_say_who_told_them() -> None:
    rng = np.random.default_rng(20311313)
    truth = 0.7 * rng.standard_normal(len(CONSTANTS))
    constants = constants_of("A", truth[:, None])[:, 0]
    many = [recipe("A", rng) for _ in range(8)]
    own = rng.standard_normal((8, len(OWN)))
    true = boil(steamed(many, constants, own), constants, own)
    many = [replace(m, id=str(k), series=read(c, told, "A", rng))
            for k, (m, (c, told)) in enumerate(zip(many, true))]  # fmt: skip
    found = fit("A", many)
    assert found.converged and len(found.strikes) == 8
    width = np.sqrt(np.diag(found.covariance))
    off = np.abs(found.at - truth) / width
    assert off.max() < 4.0 and np.median(off) < 1.5
    # growth at the middle purity and heat are told; how many are born is not, and says so
    figures = found.constants()
    told = {name: figures[name].told_by for name in CONSTANTS}
    assert (told["growth"], told["coefficient"], told["births"]) == ("strikes", "strikes", "prior")
    assert width[0] < 0.5 < HELD**0.5 < width[CONSTANTS.index("births")] <= 1.001


def test_what_an_instrument_has_in_common_all_strike_long_counts_once() -> None:
    rng = np.random.default_rng(7)
    series = replace(read_like(), common=2.0)
    draws = 0.5 * rng.standard_normal((6, 4000)) + 2.0 * rng.standard_normal(4000)
    assert np.cov(white(series, draws)) == pytest.approx(np.eye(6), abs=0.09)


def read_like() -> Series:
    return Series("level", np.arange(6.0), np.zeros(6), np.full(6, 0.5))
