"""Futures without chance: seasons in print, sums by hand, stops that run over days."""

from __future__ import annotations

import csv
from importlib.resources import files
from math import sqrt

import by_hand
import numpy as np
import pytest

from ratoon.plans.season.effects import moved
from ratoon.plans.season.futures import Change, Costs, run


def _row(name: str) -> tuple[dict[str, float], float, float]:
    """Inputs, expected value and tolerance of a row of the tables of checks."""
    table = files("ratoon.checks") / "tables" / "pans_shed.csv"
    for row in csv.DictReader(table.read_text(encoding="utf-8").splitlines()):
        if row["id"] == name:
            given = dict(part.split("=") for part in row["inputs"].split(";"))
            values = {k: float(v) for k, v in given.items()}
            return values, float(row["expected"]), float(row["tolerance"])
    raise KeyError(name)


def test_weeks_of_a_season_from_its_capacity() -> None:
    """Row PN-WK: 1.5 Mt at 550 t/h, 80 % available and 92 % dry take 22.06 weeks."""
    g, expected, tolerance = _row("PN-WK")
    given = by_hand.draws(200, crop=g["crop"], rate=g["rate"], wet=1 - g["dry_fraction"],
                          short=1 / g["availability"] - 1)  # fmt: skip
    found = run(by_hand.fit(200), given)
    assert found.finish / 7 == pytest.approx(expected, abs=tolerance)
    assert found.cane == pytest.approx(g["crop"])


@pytest.mark.parametrize("name", ["PN-SEAS-20-0", "PN-SEAS-20-2", "PN-SEAS-26-0"])
def test_mean_ccs_of_a_season_on_a_parabola(name: str) -> None:
    g, expected, tolerance = _row(name)
    days = int(7 * g["weeks"])
    week = (np.arange(days) + 0.5) / 7
    ccs = g["peak"] - g["c"] * (week - g["weeks"] / 2 - g["shift"]) ** 2
    found = run(by_hand.fit(days), by_hand.draws(days, crop=24.0 * days, rate=1.0, ccs=ccs))
    assert found.ccs == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("name", ["PN-STD-1", "PN-STD-2"])
def test_ccs_to_date_as_printed(name: str) -> None:
    """[CrushReports]: a week's cane and CCS added to those of the season before it."""
    g, expected, tolerance = _row(name)
    fit = by_hand.fit(7, (g["t0"], 0.0, g["t0"] * g["ccs0"]))
    found = run(fit, by_hand.draws(7, crop=g["t1"], rate=1e4, ccs=g["ccs1"]))
    assert found.ccs == pytest.approx(expected, abs=tolerance)


def test_a_district_week_adds_up_as_printed() -> None:
    g, expected, tolerance = _row("PN-STD-3")
    made = [run(by_hand.fit(7), by_hand.draws(7, crop=g[k], rate=1e4)).cane for k in "abc"]
    assert sum(made) == pytest.approx(expected, abs=tolerance)


def test_stops_take_their_share_of_time() -> None:
    """Textbook: availability is up / (up + down), whatever the lengths' spread."""
    rng, days, number = np.random.default_rng(4), 4000, 6000
    gaps = rng.exponential(20.0, (number, by_hand.FEW))
    lengths = rng.gamma(0.5, 10.0, (number, by_hand.FEW))
    found = run(by_hand.fit(days), by_hand.draws(days, crop=1e9, rate=1.0, gaps=gaps,
                                                 lengths=lengths))  # fmt: skip
    share = found.cane / (24.0 * days)
    # n stops of cv 1 (up) and sqrt 2 (down): the share's relative error is about sqrt(3 / n) / 5
    n = 24.0 * days / 25.0
    assert abs(share - 20.0 / 25.0).max() < 4 * sqrt(3 / n) * 0.8 * 0.2 * 2


def test_a_long_repair_runs_on_over_days() -> None:
    """60 h from hour 12 on: crushing resumes at hour 72, and the finish is 60 h later."""
    gaps, lengths = np.full((2, by_hand.FEW), 12.0), np.full((2, by_hand.FEW), 60.0)
    gaps[1] = 1e6
    plain = by_hand.draws(20, crop=24.0 * 10, rate=1.0)
    broken = by_hand.draws(20, crop=24.0 * 10, rate=1.0, gaps=gaps, lengths=lengths)
    fit = by_hand.fit(20)
    first, second = run(fit, plain, whole=True), run(fit, broken, whole=True)
    assert second.finish - first.finish == pytest.approx(60 / 24)
    assert first.weeks is not None and second.weeks is not None
    assert second.hours["stops"] == pytest.approx(60.0)


def test_the_last_fields_come_more_slowly() -> None:
    """A tenth of the crop at half the pace takes a tenth longer."""
    given = by_hand.draws(40, crop=24.0 * 20, rate=1.0, tail=0.5)
    found = run(by_hand.fit(40, tail_share=0.1), given)
    assert found.finish == pytest.approx(22.0)


def test_changes_move_a_future_as_by_hand() -> None:
    fit = by_hand.fit(40, costs=Costs(100.0, 10.0, 1.0, 2.0, 0.0, 0))
    given = by_hand.draws(40, crop=24.0 * 20, rate=1.0, ccs=10.0)
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
    fit = by_hand.fit(10, costs=Costs(0.0, 0.0, 0.0, 0.0, 0.5, 7))
    found = run(fit, by_hand.draws(10, crop=24.0 * 10, rate=1.0))
    assert found.money == pytest.approx(-0.5 * 24.0 * (1 + 2))
