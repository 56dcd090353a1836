"""Honest intervals and named faults, on true days made with closures that the account lacks.

100 days; every assumption, every instrument's lasting error and each day's own errors are drawn.
Models and sigmas were tried on other seeds; this one was chosen unseen and has not been changed
since, nor anything for its sake. Draws that make no working mill are drawn again. One run serves
all tests; faults are tried on the first 40 days, each on the reconciled day by the linear
statistics and then through the real elimination. The goal (each figure 90 to 99 %, a fault named on
three days in four) is judged on 600 days by `benchmarks/drawn.py`; what is asked here of single
figures and readings is the goal less what so few days leave to chance.
"""

from __future__ import annotations

from collections import Counter

import pytest

from ratoon.demo.write import mill_text
from trials.days import HEADLINES, Trial, coverage, run_trials, share_named

SEED = 20310610
DAYS, FAULT_DAYS = 100, 40


@pytest.fixture(scope="module")
def trials() -> list[Trial]:
    return run_trials(mill_text(), SEED, range(DAYS), FAULT_DAYS)


def test_every_day_is_accounted(trials: list[Trial]) -> None:
    assert len(trials) == DAYS
    assert not [t.failed for t in trials if t.failed]


def test_intervals_hold_the_truth(trials: list[Trial]) -> None:
    shares = coverage(trials)
    print({k: round(100 * v, 1) for k, v in shares.items()})
    assert set(shares) == {*HEADLINES, "all"}
    assert 0.93 <= shares["all"] <= 0.97
    assert {n: s for n, s in shares.items() if not 0.87 <= s <= 0.995} == {}


def test_noise_is_not_told_as_a_loss(trials: list[Trial]) -> None:
    """No true day loses pol unknown: at most one in 200 may be told as a loss that is shown."""
    grades = Counter(t.grade for t in trials)
    print(dict(grades))
    assert grades["shown"] <= 1
    assert sum(grades[g] for g in ("looks", "shown", "gain", "contradicted")) <= 0.08 * DAYS
    for trial in trials:
        assert (trial.grade == "gain") <= (trial.score < 0.0)


def test_gross_errors_are_named(trials: list[Trial]) -> None:
    """Readings that are checked by others on at least half of the days.

    The level of naming was chosen so that 1 to 3 sound days in a hundred name a reading; an error
    of five standard uncertainties of its check is then named on nine days in ten.
    """
    shares = share_named(trials)
    usual = {a: s for a, (s, n) in shares.items() if n >= FAULT_DAYS // 2}
    print({a: round(100 * s) for a, s in sorted(usual.items(), key=lambda x: x[1])})
    assert len(usual) >= 30
    assert sum(usual.values()) / len(usual) >= 0.87
    assert {a: s for a, s in usual.items() if s < 0.68} == {}
