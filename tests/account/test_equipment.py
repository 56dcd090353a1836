"""Stops by equipment: counted by hand, and an interval that holds as often as it says."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from ratoon.account.equipment import by_equipment
from ratoon.base.records import RUNNING, Period, Stop, main_cause

START = datetime(2031, 6, 10, tzinfo=UTC)


def stop(hour, minutes, cause):
    begin = START + timedelta(hours=hour)
    return Stop(begin, begin + timedelta(minutes=minutes), "mills", cause)


def test_counted_by_hand():
    found = by_equipment([
        stop(10, 30, "mechanical > mill 3 > bearing hot"),
        stop(100, 90, "mechanical > mill 3 > Bearing hot"),
        stop(400, 60, "mechanical > mill 3 > bearing hot"),  # twelve days on: no repeat
        stop(200, 60, "electrical"),
        stop(300, 600, "no cane"),
        stop(310, 600, "planned stop"),
        stop(330, 0, "mechanical > mill 3 > bearing hot"),  # withdrawn
    ], 240.0)  # fmt: skip
    first, second = found
    assert (first.name, first.stops, first.hours, first.repair) == ("mill 3", 3, 3.0, 1.0)
    assert first.between == 80.0 and first.share == 0.75
    assert [(r.fault, r.times) for r in first.repeats] == [("Bearing hot", 1)]
    assert (second.name, second.stops, second.share, second.repeats) == ("electrical", 1, 1.0, ())


def test_interval_of_one_stop_from_tables():
    """95 % limits of a Poisson count of 1 are 0.0253 and 5.572 (printed in many tables)."""
    (one,) = by_equipment([stop(10, 30, "electrical")], 100.0)
    assert one.low == pytest.approx(100 / 5.572, rel=1e-3)
    assert one.high == pytest.approx(100 / 0.0253, rel=2e-3)


def test_the_interval_holds_the_truth_at_least_as_often_as_it_says():
    draw = np.random.default_rng(20311130)
    inside = 0
    for _ in range(200):
        n = max(int(draw.poisson(8.0)), 1)
        (one,) = by_equipment([stop(30 * k, 10, "electrical") for k in range(n)], 400.0)
        inside += one.low <= 50.0 <= one.high
    assert inside >= 0.93 * 200


def test_a_running_stop_counts_as_far_as_it_has_run():
    running = Stop(START, RUNNING, "mills", "mechanical > mill 3")
    day = Period(START - timedelta(hours=6), START + timedelta(hours=18))
    assert running.until(day, START + timedelta(hours=2)).hours == 2.0
    assert running.until(day, START + timedelta(days=9)).hours == 18.0
    assert running.until(day, START - timedelta(days=9)).hours == 18.0  # no clock of this mill
    assert main_cause(running.cause) == "mechanical" and running.parts == (
        "mechanical",
        "mill 3",
        "",
    )
