"""Advice tried on a true plant with laws of its own: what was said comes, and nobody loses.

A small form of `benchmarks/advice.py`: one true day, read a few times with errors of its own. The
seed was chosen unseen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from ratoon.account.mill import Mill
from ratoon.account.period import account
from ratoon.account.readings.given import from_account
from ratoon.demo.hours import TruePlant
from ratoon.demo.random_days import random_day
from ratoon.demo.tried import Tried
from ratoon.demo.write import mill_text
from ratoon.equations import Reconciled
from ratoon.plans.best.moves import Draws, draws
from ratoon.plans.best.search import Found, MillSearch
from ratoon.settings.read import parse_settings
from trials.days import read_day

SEED, ACCOUNTS, COUNT = 20311220, 4, 40
MOVED = ("massecuite.dry_substance", ".purity_rise", ".supersaturation")


@dataclass
class Advice:
    """One account's advice, what it was drawn to gain, and what it gains on the truth [$/h]."""

    search: MillSearch
    answer: Reconciled
    found: Found
    drawn: Draws
    came: float


@pytest.fixture(scope="module")
def advice() -> list[Advice]:
    mill = Mill(parse_settings(mill_text()))
    plant, search = TruePlant(mill.settings, patient=True), MillSearch(mill, mill.settings.best)
    day = random_day(np.random.default_rng(SEED), plant)
    truth, made = Tried(plant, day.given), []
    for k in range(ACCOUNTS):
        gathered = read_day(mill, day, np.random.default_rng([SEED, k]))
        answer = account(mill, gathered).answer
        assert answer is not None
        found = search.ask(from_account(mill.plant, answer, gathered.constants), answer.state,
                           "free" if k % 2 else "held")  # fmt: skip
        then = truth.at(search.handed_back(found))
        came = float(search.money(then) - search.money(truth.today))
        made.append(Advice(search, answer, found, draws(search, found, answer, COUNT), came))
    return made


def test_it_gains_on_the_truth_what_was_said(advice: list[Advice]) -> None:
    off = [(a.came - gain(a.search, a.found)) / a.drawn.gain.std() for a in advice]
    assert all(a.came > 0.0 for a in advice)
    assert sum(abs(z) > 2.0 for z in off) <= 1 and max(map(abs, off)) < 4.0


def gain(search: MillSearch, found: Found) -> float:
    return float(search.money(found.best.values) - search.money(found.today.values))


def test_what_is_assumed_moves_a_gain_by_less_than_its_interval(advice: list[Advice]) -> None:
    """Dry substance, purity rises and supersaturations of the boiling house, each by one sigma."""
    one = advice[0]
    low, high = np.quantile(one.drawn.gain, (0.025, 0.975))
    said, tried = gain(one.search, one.found), 0
    for address, value in one.found.given.items():
        sigma = one.answer.sigma(one.search.plant.held_by(address))
        if not address.endswith(MOVED) or not sigma:
            continue
        given = one.found.given | {address: value + sigma}
        again = one.search.ask(given, one.found.today.values)
        assert abs(gain(one.search, again) - said) < high - low, address
        tried += 1
    assert tried >= 6
