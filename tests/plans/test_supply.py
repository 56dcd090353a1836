"""When the yard runs out: by hand where nothing is uncertain, and what must hold where it is."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from ratoon.plans.yard.supply import Cutting, Given, Parcel, ageing, forecast, queue

NOW, HOUR = 1_000_000.0, 3600.0
STANDING = [Parcel("a", 300.0, NOW - 10 * HOUR, NOW - 2 * HOUR),
            Parcel("b", 200.0, NOW - 15 * HOUR, NOW - 1 * HOUR)]  # fmt: skip
GIVEN = Given(NOW, STANDING, [], [], 100.0, 0.0, [4.0], share_sigma=0.0, share_common=0.0)


def test_a_yard_without_arrivals_lasts_stock_over_rate() -> None:
    found = forecast(GIVEN)
    assert found.runs_out == found.early == found.late == pytest.approx(NOW + 5 * HOUR)
    assert found.chance == 1.0
    assert found.tonnes[:7] == pytest.approx((500, 400, 300, 200, 100, 0, 0))
    assert found.crushed[-1] == pytest.approx(500.0)
    assert found.slower == pytest.approx(500.0 / 24.0)


def test_cane_on_the_way_and_to_be_cut_comes_after_its_lead() -> None:
    way = [Parcel("c", 150.0, NOW - 1 * HOUR)]  # in three hours
    cutting = [Cutting("A", NOW, NOW + 2 * HOUR, 50.0)]  # 100 t, four to six hours from now
    found = forecast(replace(GIVEN, on_the_way=way, cutting=cutting))
    assert found.arrived[3] == pytest.approx(0.0, abs=1e-9)
    assert found.arrived[4] == pytest.approx(150.0)
    assert found.arrived[6] == pytest.approx(250.0)
    assert found.runs_out == pytest.approx(NOW + 7.5 * HOUR)  # 750 t at 100 t/h


def test_a_yard_that_is_fed_does_not_run_out() -> None:
    cutting = [Cutting("A", NOW - 5 * HOUR, NOW + 30 * HOUR, 130.0)]
    found = forecast(replace(GIVEN, cutting=cutting, on_the_way=[
        Parcel(f"w{k}", 130.0, NOW - k * HOUR) for k in range(1, 5)]))  # fmt: skip
    assert found.runs_out == inf and found.chance == 0.0
    assert found.slower == pytest.approx(100.0)


def test_the_interval_widens_with_what_is_uncertain() -> None:
    sure, unsure = (
        forecast(replace(GIVEN, rate_sigma=1.0)),
        forecast(replace(GIVEN, rate_sigma=8.0)),
    )
    for found in (sure, unsure):
        assert found.early < found.runs_out < found.late
        assert found.runs_out == pytest.approx(NOW + 5 * HOUR, abs=0.1 * HOUR)
    assert unsure.late - unsure.early > 4 * (sure.late - sure.early)
    # 5 h over a rate of 100 +- 1.96 x 8 t/h, drawn 500 times
    assert unsure.early == pytest.approx(NOW + 500 / 115.7 * HOUR, abs=0.15 * HOUR)
    assert unsure.late == pytest.approx(NOW + 500 / 84.3 * HOUR, abs=0.3 * HOUR)
    assert forecast(replace(GIVEN, rate_sigma=8.0)) == unsure  # the same draws every time


def test_oldest_and_growing_old_follow_the_order_of_the_yard() -> None:
    found = forecast(GIVEN)
    assert found.oldest_h[:4] == pytest.approx((15.0, 16.0, 17.0, 18.0))
    assert found.oldest_h[5] is None
    assert [p.name for p, _, _ in queue(GIVEN)] == ["a", "b"]
    old = ageing(GIVEN, 16.0)
    assert [a.name for a in old] == ["b"]
    assert old[0].age_now_h == pytest.approx(15.0)
    assert old[0].age_crushed_h == pytest.approx(20.0)
    assert old[0].crush_by == pytest.approx(NOW + 1 * HOUR)
    assert ageing(GIVEN, 12.0)[1].age_crushed_h == pytest.approx(13.0)


def test_a_parcel_later_than_any_is_not_lost() -> None:
    found = forecast(replace(GIVEN, on_the_way=[Parcel("late", 90.0, NOW - 30 * HOUR)]))
    assert found.arrived[2] == pytest.approx(90.0)


def test_nothing_at_all_is_dry_at_once() -> None:
    found = forecast(Given(NOW, [], [], [], 100.0, 0.0, []))
    assert found.runs_out == NOW and found.slower == 0.0 and found.oldest_h[0] is None
