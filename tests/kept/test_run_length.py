"""Run lengths of a CUSUM chart against figures from memory, a simulation and an approximation."""

import math

import numpy as np
import pytest

from ratoon.account.trust.run_length import (
    average_run_length,
    decision_interval,
    limits_for,
    span_limit,
    span_run_length,
)


def siegmund(k: float, h: float, shift: float) -> float:
    """D. Siegmund, Sequential Analysis (1985), from memory: good to some per cent."""
    drift, reach = shift - k, h + 1.166
    if abs(drift) < 1e-9:
        return reach**2
    return (math.exp(-2.0 * drift * reach) + 2.0 * drift * reach - 1.0) / (2.0 * drift**2)


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
    assert span_run_length(14, span_limit(14, 2000.0)) == pytest.approx(2000.0, rel=1e-6)
    assert limits_for(1, 0.5, 14, 30.0)[1] >= 1.5
    many, few = limits_for(40, 0.5, 14, 30.0), limits_for(10, 0.5, 14, 30.0)
    assert many[0] > few[0] > 5.0 and many[1] > few[1] > 2.5


def _alarms(limit: float, rise_limit: float, figures: int, chains: int) -> np.ndarray:
    """Alarms of a one-sided chart: by its sum, by its rise over 14 figures, by either; a figure."""
    rng = np.random.default_rng(32)
    total, rise = np.zeros(chains), np.zeros(chains)
    kept, full = np.zeros((14, chains)), np.zeros(chains)
    found = np.zeros(3)
    for n in range(figures):
        u = rng.standard_normal(chains)
        rise += u - kept[n % 14]
        kept[n % 14] = u
        full += 1
        total = np.maximum(total + u - 0.5, 0.0)
        by_sum, by_rise = total > limit, (rise > rise_limit * 14**0.5) & (full >= 14)
        either = by_sum | by_rise
        found += [by_sum.sum(), by_rise.sum(), either.sum()]
        total[either], rise[either], full[either] = 0.0, 0.0, 0.0
        kept[:, either] = 0.0
    return found / (figures * chains)


def test_span_run_length_by_simulation() -> None:
    """Known to be up to a tenth too long; 2,500 alarms tell it to within 2 %."""
    run = 1.0 / _alarms(99.0, span_limit(14, 2000.0), 1000, 5000)[1]
    assert 0.89 * 2000.0 < run < 1.02 * 2000.0


def test_both_rules_together_by_simulation() -> None:
    """42 charts on 30 days, as the invented mill has: the alarms asked for, to within a tenth."""
    limit, rise_limit = limits_for(42, 0.5, 14, 30.0)
    by_sum, by_rise, either = 2520.0 * _alarms(limit, rise_limit, 1000, 6000)
    assert either == pytest.approx(1.0, abs=0.1)
    assert by_rise > by_sum > 0.1
