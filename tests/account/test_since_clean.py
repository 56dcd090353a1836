"""Coefficients by days crushed since cleans: one slope, a level a clean, and honest intervals."""

from datetime import date, timedelta

import numpy as np
import pytest

from ratoon.account.figures.since_clean import LAWS, SHARED, DayFigure, SinceClean, since_clean

START = date(2031, 6, 10)
CLEAN, SLOPE = 0.62, 0.1375  # kW/m2.K, and its growth of 1/U2 in a day: a last effect
CLEANS = [START, START + timedelta(9), START + timedelta(19)]


def season(
    days: int, rng: np.random.Generator | None = None, sigma: float = 0.04
) -> tuple[list[DayFigure], np.ndarray, dict[date, float]]:
    """Days of runs as read and as they truly were; stops of some days; part of the error lasts."""
    crushed = {START + timedelta(k): (0.0 if k in (5, 6, 14) else 0.9) for k in range(days)}
    true, age, level = [], 0.0, CLEAN
    for day, part in crushed.items():
        if day in CLEANS:
            age, level = 0.0, CLEAN * (1.0 - 0.03 * CLEANS.index(day))
        true.append((level**-2 + SLOPE * (age + part / 2.0)) ** -0.5)
        age += part
    kept = [k for k, part in enumerate(crushed.values()) if part]
    found = np.array(true)[kept]
    read = found.copy()
    if rng is not None:
        shared, own = SHARED**0.5, (1.0 - SHARED) ** 0.5
        noise = own * rng.standard_normal(len(kept))
        read *= 1.0 + sigma * (shared * rng.standard_normal() + noise)
    figures = [DayFigure(START + timedelta(k), float(u), sigma * float(u))
               for k, u in zip(kept, read)]  # fmt: skip
    return figures, found, crushed


def fitted(figures: list[DayFigure], crushed: dict[date, float]) -> SinceClean:
    found = since_clean(figures, CLEANS, crushed)
    assert found is not None
    return found


def test_without_error_one_slope_and_each_level_are_found() -> None:
    figures, _, crushed = season(26)
    found = fitted(figures, crushed)
    first = found.laws[0]
    assert first.law.name == "1/U2" and first.chi2 == pytest.approx(0.0, abs=1e-12)
    assert first.slope == pytest.approx(SLOPE, rel=1e-9)
    for k, level in enumerate((1.0, 0.97, 0.94)):
        assert first.coefficient(0.0, k) == pytest.approx(CLEAN * level, rel=1e-9)
    assert found.crushed == pytest.approx(0.9 * 7)  # days crushed, not days of the calendar
    assert [run.cleaned for run in found.runs] == CLEANS


def test_standing_days_grow_no_scale() -> None:
    """On the calendar the same days look slower: the slope would be a tenth too small."""
    figures, _, crushed = season(26)
    calendar = fitted(figures, dict.fromkeys(crushed, 1.0))
    assert calendar.laws[0].slope < 0.93 * fitted(figures, crushed).laws[0].slope


def test_a_surface_never_cleans_itself() -> None:
    figures = [DayFigure(START + timedelta(k), 0.5 + 0.01 * k, 0.02) for k in range(6)]
    found = since_clean(figures, [START], {f.day: 1.0 for f in figures})
    assert found is not None and [f.slope for f in found.laws] == [0.0, 0.0, 0.0]
    assert len({round(d.value, 9) for d in found.runs[0].days}) == 1
    assert found.laws[0].spread[0, 0] > 0.0  # how sure that is, stays


def test_slope_level_and_forecast_hold_the_truth() -> None:
    rng = np.random.default_rng(4)
    slope, now, ahead, count = 0, 0, 0, 200
    for _ in range(count):
        figures, true, crushed = season(26, rng)
        found = fitted(figures, crushed)
        one = found.laws[0]
        slope += abs(one.slope - SLOPE) < 1.96 * one.spread[0, 0] ** 0.5 + 0.04 * SLOPE
        value, sigma = found.runs[-1].days[-1].value, found.runs[-1].days[-1].sigma
        now += abs(value - true[-1]) < 1.96 * sigma
        later = (true[-1] ** -2 + SLOPE * 5.0) ** -0.5
        value, sigma = found.at(found.crushed - 0.45 + 5.0)
        ahead += abs(value - later) < 1.96 * sigma
    assert slope / count > 0.93
    assert 0.91 < now / count <= 0.995
    assert ahead / count > 0.91


def test_few_days_do_not_tell_the_laws_apart_and_many_do() -> None:
    rng = np.random.default_rng(7)
    figures, _, crushed = season(26, rng)
    weights = [f.weight for f in fitted(figures, crushed).laws]
    assert sum(weights) == pytest.approx(1.0) and min(weights) > 0.05
    figures, _, crushed = season(26, None, 0.002)
    sure = fitted(figures, crushed).laws
    assert [f.law for f in sure] == list(LAWS)
    assert sure[0].weight > 0.99


def test_without_a_clean_on_record_there_is_no_scale() -> None:
    """Most mill files name none: their stations' pages show the days as they are."""
    days = [DayFigure(date(2031, 7, d), 2.0, 0.05) for d in range(1, 9)]
    assert since_clean(days, [], {}) is None
    assert since_clean([], [date(2031, 7, 1)], {}) is None
    assert since_clean(days[:2], [date(2031, 7, 1)], {}) is None  # too few for a slope
