"""Run lengths of a CUSUM chart against figures from memory, a simulation and an approximation."""

import numpy as np
import pytest

from ratoon.account.run_length import (
    average_run_length,
    decision_interval,
    limit_for,
    siegmund,
)

# Two-sided run lengths of usual textbooks on quality control, k = 0.5; from memory, not a check by
# print: (h, shift, run length).
REMEMBERED = ((4.0, 0.0, 168.0), (5.0, 0.0, 465.0), (4.0, 1.0, 8.38), (5.0, 1.0, 10.4))


@pytest.mark.parametrize(("h", "shift", "expected"), REMEMBERED)
def test_remembered_run_lengths(h: float, shift: float, expected: float) -> None:
    up = average_run_length(0.5, h, shift)
    down = average_run_length(0.5, h, -shift)
    both = 1.0 / (1.0 / up + 1.0 / down)
    assert both == pytest.approx(expected, rel=0.004)


@pytest.mark.parametrize("k", [0.25, 0.4, 0.5])
@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0])
def test_siegmund_is_near(k: float, shift: float) -> None:
    assert siegmund(k, 5.0, shift) == pytest.approx(average_run_length(k, 5.0, shift), rel=0.03)


@pytest.mark.parametrize(("k", "h", "shift"), [(0.5, 3.0, 0.0), (0.4, 4.0, 0.0), (0.4, 7.0, 1.0)])
def test_run_length_by_simulation(k: float, h: float, shift: float) -> None:
    rng = np.random.default_rng(31)
    n = 20_000
    total, length, alive = np.zeros(n), np.zeros(n), np.ones(n, bool)
    while alive.any():
        length[alive] += 1
        total[alive] = np.maximum(total[alive] + rng.standard_normal(alive.sum()) + shift - k, 0.0)
        alive &= total <= h
    error = 4.0 * length.std() / n**0.5
    assert average_run_length(k, h, shift) == pytest.approx(length.mean(), abs=error)


def test_limit_answers_its_own_question() -> None:
    assert average_run_length(0.4, decision_interval(0.4, 2000.0)) == pytest.approx(
        2000.0, rel=1e-6
    )
    assert limit_for(40, 0.4, 30.0) > limit_for(10, 0.4, 30.0) > 5.0
