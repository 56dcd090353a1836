"""Rain fitted and drawn again: textbook chains, yearly totals of a climate, a factor of years."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from scipy.optimize import brentq

from ratoon.plans.season.rain import WET, Rain, fit

YEARS = range(1900, 2022)


AFTER_DRY, AFTER_WET = (129, 1142), (178, 309)
"""Wet days after dry ones and after wet ones, June to November, at a coastal station beside cane,
and the days they were counted over [BoM-Daily]; what follows from them is our own arithmetic."""


def _chain(a: float, b: float, years: range, seed: int, factor: object = None) -> dict[date, float]:
    """Daily rain: a chain of wet and dry days with gamma amounts, each year times its factor."""
    rng = np.random.default_rng(seed)
    made: dict[date, float] = {}
    wet = False
    for year in years:
        f = 1.0 if factor is None else float(factor(rng))  # type: ignore[operator]
        day = date(year, 1, 1)
        while day.year == year:
            wet = rng.random() < (b if wet else a)
            made[day] = f * (WET + rng.gamma(0.58, 8.0 / 0.58)) if wet else 0.0
            day += timedelta(days=1)
    return made


def test_a_chain_with_a_stations_chances_gives_its_wet_days() -> None:
    """Textbook: wet share a / (1 + a - b), wet spell 1 / (1 - b), five dry days running."""
    a, b = AFTER_DRY[0] / AFTER_DRY[1], AFTER_WET[0] / AFTER_WET[1]
    assert (round(a, 4), round(b, 4)) == (0.1130, 0.5761)
    made = fit(_chain(a, b, range(1820, 2020), 3), date(2020, 7, 1), 200, 200, date(2020, 6, 1))
    found = made.with_factor(np.random.default_rng(1), 3000, np.ones(3000)) > 0
    share = a / (1 + a - b)
    assert share == pytest.approx(0.2105, abs=2e-4)  # of rounded chances
    assert found[20:].mean() == pytest.approx(share, rel=0.05)
    starts = (found[1:] & ~found[:-1]).sum()
    assert found[1:].sum() / starts == pytest.approx(2.36, rel=0.05)
    dry5 = np.lib.stride_tricks.sliding_window_view(~found[20:], 5, axis=0).all(axis=-1)
    assert dry5.mean() == pytest.approx(0.489, rel=0.05)


def _lag1(years: np.ndarray) -> float:  # type: ignore[type-arg]
    """Correlation of each year with the one before it."""
    return float(np.corrcoef(years[1:], years[:-1])[0, 1])


@pytest.fixture(scope="module")
def queensland() -> tuple[list[float], Rain]:
    """Years whose totals have three numbers of Queensland's area average [BoM-Annual].

    1900 to 2021: mean, standard deviation, correlation of a year with the one before.
    """
    record = _chain(0.2, 0.5, YEARS, 5, lambda rng: rng.gamma(1 / 0.2**2, 0.2**2))
    totals = dict.fromkeys(YEARS, 0.0)
    for day, mm in record.items():
        totals[day.year] += mm
    drawn = np.array(list(totals.values()))
    fresh = (drawn - drawn.mean()) / drawn.std()

    def after(share: float) -> np.ndarray:  # type: ignore[type-arg]
        made = fresh + share * np.concatenate([[0.0], fresh[:-1]])
        return np.asarray((made - made.mean()) / made.std(ddof=1))

    share = brentq(lambda s: _lag1(after(s)) - 0.20, -0.9, 0.9)
    wanted = 614.5 + 150.4 * after(share)
    scaled = {d: mm * wanted[d.year - YEARS[0]] / totals[d.year] for d, mm in record.items()}
    made = fit(scaled, date(2022, 1, 1), 365, 365, date(2022, 1, 1))
    return list(wanted), made


def test_yearly_totals_of_queensland_come_back(queensland: tuple[list[float], Rain]) -> None:
    """Bureau of Meteorology, area average 1900-2021: mean 614.5 mm, deviation 150.4, lag-1 0.20."""
    totals, made = queensland
    assert np.mean(totals) == pytest.approx(614.5)
    assert np.std(totals, ddof=1) == pytest.approx(150.4)
    assert _lag1(np.array(totals)) == pytest.approx(0.20)
    drawn = made.drawn(np.random.default_rng(2), 2000).sum(axis=0)
    assert drawn.mean() == pytest.approx(614.5, rel=0.03)
    assert drawn.std() == pytest.approx(150.4, abs=2 * 150.4 / np.sqrt(2 * 122))


def test_the_chain_alone_is_too_even(queensland: tuple[list[float], Rain]) -> None:
    """Overdispersion as in Katz and Parlange, J. Climate 11 (1998) 591: direction only."""
    _, made = queensland
    alone = made.with_factor(np.random.default_rng(2), 2000, np.ones(2000)).sum(axis=0)
    assert alone.std() < 150.4 - 2 * 150.4 / np.sqrt(2 * 122)
    assert made.chain_cv == pytest.approx(alone.std() / alone.mean(), rel=0.1)


def test_a_wet_start_foretells_rain_where_years_are_made_so() -> None:
    record = _chain(0.1, 0.45, range(1980, 2031), 7, lambda rng: rng.gamma(1 / 0.6**2, 0.6**2))
    at, first = date(2030, 8, 1), date(2030, 6, 1)
    wet = {d: mm * (3.0 if d >= first else 1.0) for d, mm in record.items() if d < at}
    dry = {d: mm * (0.2 if d >= first else 1.0) for d, mm in record.items() if d < at}
    means = [fit(r, at, 100, 100, first).drawn(np.random.default_rng(1), 1500).sum(axis=0).mean()
             for r in (dry, wet)]  # fmt: skip
    assert means[1] > 1.3 * means[0]
