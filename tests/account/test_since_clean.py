"""Coefficients between cleans: the line through 1/U^2, and how honest its interval is."""

from datetime import date, timedelta

import numpy as np
import pytest

from ratoon.account.since_clean import SHARED, DayFigure, since_clean

START = date(2031, 6, 10)
CLEAN, SLOPE = 0.62, 0.1375  # kW/m2.K, and its growth of 1/U2 in a day: a last effect


def run_of(days: int, rng: np.random.Generator | None = None, sigma: float = 0.04):  # type: ignore[no-untyped-def]
    """Days of a run as read, and as they truly were; part of the error is the same every day."""
    true = (CLEAN**-2 + SLOPE * np.arange(days)) ** -0.5
    read = true.copy()
    if rng is not None:
        shared, own = SHARED**0.5, (1.0 - SHARED) ** 0.5
        read *= 1.0 + sigma * (shared * rng.standard_normal() + own * rng.standard_normal(days))
    figures = [DayFigure(START + timedelta(k), float(u), sigma * float(u))
               for k, u in enumerate(read)]  # fmt: skip
    return figures, true


def test_without_error_the_line_is_found() -> None:
    figures, true = run_of(12)
    (found,) = since_clean(figures, [START])
    assert found.clean == pytest.approx(CLEAN, rel=1e-9)
    assert found.slope == pytest.approx(SLOPE, rel=1e-9)
    assert [d.value for d in found.days] == pytest.approx(list(true), rel=1e-9)


def test_each_run_has_its_own_line_and_days_before_a_clean_have_none() -> None:
    figures, _ = run_of(20)
    cleans = [START + timedelta(4), START + timedelta(12), START + timedelta(18)]
    first, second = since_clean(figures, cleans)  # the last run has two days only
    assert (first.cleaned, len(first.days)) == (cleans[0], 8)
    assert (second.cleaned, len(second.days)) == (cleans[1], 6)


def test_a_surface_never_cleans_itself() -> None:
    figures = [DayFigure(START + timedelta(k), 0.5 + 0.01 * k, 0.02) for k in range(6)]
    (found,) = since_clean(figures, [START])
    assert found.slope == 0.0
    assert len({round(d.value, 12) for d in found.days}) == 1


def test_smoothed_is_nearer_the_truth_and_its_interval_holds_it() -> None:
    rng = np.random.default_rng(4)
    held, nearer, count = 0, 0, 300
    for _ in range(count):
        figures, true = run_of(12, rng)
        (found,) = since_clean(figures, [START])
        last = found.last
        held += abs(last.value - true[-1]) < 1.96 * last.sigma
        nearer += abs(last.value - true[-1]) < abs(figures[-1].value - true[-1])
    assert 0.91 < held / count < 0.99
    assert nearer / count > 0.55


def test_without_a_clean_there_is_no_line() -> None:
    """Most mill files name none: their stations' pages show the days as they are."""
    days = [DayFigure(date(2031, 7, d), 2.0, 0.05) for d in range(1, 9)]
    assert since_clean(days, []) == []
    assert since_clean([], [date(2031, 7, 1)]) == []
