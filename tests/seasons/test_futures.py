"""Futures without chance: crops in print, sums by hand, stops that run over days."""

from __future__ import annotations

import csv
from math import sqrt

import numpy as np
import pytest

from ratoon.checks import season
from ratoon.checks.open_data import DATA
from ratoon.plans.season import ccs as curve
from ratoon.plans.season.effects import moved
from ratoon.plans.season.futures import Change, Costs, run


def _printed(as_at: str) -> dict[str, str]:
    """A row of the open data on crushing, by its date."""
    file = DATA / "australia_crush_updates.csv"
    rows = csv.DictReader(file.read_text(encoding="utf-8").splitlines())
    return next(row for row in rows if row["as_at"] == as_at)


def test_ccs_to_date_of_a_mills_weeks_as_printed() -> None:
    """[CrushReports] 2019: 13.91 to date; week 17 of 85,183 t at 14.93, 13.98; week 18, 14.04.

    The cane before week 17 is not printed: it is what makes 13.98 of it, to the print's digits.
    """
    week = _printed("week 18 2019")
    made = []
    for before in (13.975, 13.985):
        cane = 85_183 * (14.93 - before) / (before - 13.91)
        fit = season.fit(7, (cane + 85_183, 0.0, (cane + 85_183) * before))
        tonnes = float(week["cane_t"])
        given = season.draws(7, crop=tonnes, rate=tonnes, ccs=float(week["ccs"]))
        made.append(float(run(fit, given).ccs[0]))
    assert min(made) <= 14.04 + 0.005 and max(made) >= 14.04 - 0.005
    assert max(made) - min(made) < 0.02


@pytest.mark.parametrize("as_at", ["2019-10-31", "2020 (about 70 %)", "2025 (mid season)"])
def test_shares_of_a_crop_as_printed(as_at: str) -> None:
    """[CrushReports]: cane so far of the crop, of eight mills; the season runs no further here."""
    row = _printed(as_at)
    crop, cane = float(row["crop_estimate_t"]), float(row["cane_t"])
    found = run(season.fit(10), season.draws(10, crop=crop, rate=cane / 240))
    share = 100 * found.cane / (found.cane + found.left)
    assert share == pytest.approx(float(row["published_pct_of_crop"]), abs=1.0)
    assert np.isinf(found.finish).all()


def test_mills_start_before_the_best_date() -> None:
    """[GuiseRyland1969], direction only: on a usual curve of CCS, later weeks hold more sugar."""

    def mean(later: float) -> float:
        weeks = np.arange(154) / 7 + later
        ccs = curve._basis(weeks) @ np.array(curve.USUAL)
        return float(run(season.fit(154), season.draws(154, crop=24.0 * 154, rate=1.0,
                                                       ccs=ccs)).ccs[0])  # fmt: skip

    assert mean(-2) < mean(0) < mean(2)


def test_stops_take_their_share_of_time() -> None:
    """Textbook: availability is up / (up + down), whatever the lengths' spread."""
    rng, days, number = np.random.default_rng(4), 4000, 6000
    gaps = rng.exponential(20.0, (number, season.FEW))
    lengths = rng.gamma(0.5, 10.0, (number, season.FEW))
    found = run(season.fit(days), season.draws(days, crop=1e9, rate=1.0, gaps=gaps,
                                                 lengths=lengths))  # fmt: skip
    share = found.cane / (24.0 * days)
    # n stops of cv 1 (up) and sqrt 2 (down): the share's relative error is about sqrt(3 / n) / 5
    n = 24.0 * days / 25.0
    assert abs(share - 20.0 / 25.0).max() < 4 * sqrt(3 / n) * 0.8 * 0.2 * 2


def test_a_long_repair_runs_on_over_days() -> None:
    """60 h from hour 12 on: crushing resumes at hour 72, and the finish is 60 h later."""
    gaps, lengths = np.full((2, season.FEW), 12.0), np.full((2, season.FEW), 60.0)
    gaps[1] = 1e6
    plain = season.draws(20, crop=24.0 * 10, rate=1.0)
    broken = season.draws(20, crop=24.0 * 10, rate=1.0, gaps=gaps, lengths=lengths)
    fit = season.fit(20)
    first, second = run(fit, plain, whole=True), run(fit, broken, whole=True)
    assert second.finish - first.finish == pytest.approx(60 / 24)
    assert first.weeks is not None and second.weeks is not None
    assert second.hours["stops"] == pytest.approx(60.0)


def test_the_last_fields_come_more_slowly() -> None:
    """A tenth of the crop at half the pace takes a tenth longer."""
    given = season.draws(40, crop=24.0 * 20, rate=1.0, tail=0.5)
    found = run(season.fit(40, tail_share=0.1), given)
    assert found.finish == pytest.approx(22.0)


def test_changes_move_a_future_as_season() -> None:
    fit = season.fit(40, costs=Costs(100.0, 10.0, 1.0, 2.0, 0.0, 0))
    given = season.draws(40, crop=24.0 * 20, rate=1.0, ccs=10.0)
    base = run(fit, given)
    assert base.money == pytest.approx(100.0 * 48.0 - 10.0 * 480.0 - 480.0)

    def by(change: Change) -> np.ndarray:  # type: ignore[type-arg]
        return moved(fit, given, base, change)[:, 0]

    assert by(Change(lost=24.0))[0] == pytest.approx(1.0)
    assert by(Change(rate=1.0))[0] == pytest.approx(-10.0)
    assert by(Change(stops=((3, 6.0),)))[0] == pytest.approx(0.25)
    assert by(Change(crop=0.05)) == pytest.approx([1.0, 2.4, 240 - 240 - 24])
    # 15 days, then a quarter of the crop stands: no sugar of it, no pay for it, two dollars a tonne
    assert by(Change(close=15)) == pytest.approx([-5.0, -12.0, -1200 + 1200 + 120 - 240])


def test_late_cutting_costs_the_next_crop() -> None:
    fit = season.fit(10, costs=Costs(0.0, 0.0, 0.0, 0.0, 0.5, 7))
    found = run(fit, season.draws(10, crop=24.0 * 10, rate=1.0))
    assert found.money == pytest.approx(-0.5 * 24.0 * (1 + 2))
