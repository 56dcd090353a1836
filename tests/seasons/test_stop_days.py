"""Which day to stop: futures by hand, where each answer can be reckoned on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from ratoon.checks import season as by_hand
from ratoon.plans.season.faults import Fault, weighed
from ratoon.plans.season.futures import Costs, carried
from ratoon.plans.season.stop_days import (
    Asked,
    Futures,
    Waiting,
    first_wet,
    moved,
    on_day,
)
from ratoon.settings.season import PlannedStop

HOUR = 1000.0
DAYS = 40
AN_HOUR = Costs(0.0, 0.0, HOUR, 0.0, 0.0, 0)
FIRST = date(2031, 8, 1)


def futures(wet: tuple[int, ...] = (), chance: Any = 1.0, **stop: Any) -> Futures:
    """Twenty full days of cane ahead at 400 t/h; a planned stop of 12 h on day 3."""
    draws = by_hand.draws(DAYS, crop=400.0 * 24 * 20, rate=400.0)
    lost = np.zeros((DAYS, by_hand.FEW))
    lost[list(wet)] = 1.0
    draws["rain"] = (lost, 0.0 * lost)
    told = {"first": FIRST, "hours": 12 * 3600.0, "movable": 10} | stop
    fit = by_hand.fit(DAYS, costs=AN_HOUR)
    asked = Asked(fit, np.zeros(DAYS), 3, PlannedStop(**told), DAYS, Waiting(), None)
    return Futures(asked, draws, np.broadcast_to(np.asarray(chance), (DAYS, by_hand.FEW)))


def test_a_stop_on_a_wet_day_costs_no_crushing() -> None:
    f = futures(wet=(5,))
    plain, wet = moved(f, on_day(3)), moved(f, on_day(5))
    assert plain.hours == pytest.approx(12.0) and wet.hours == pytest.approx(0.0)
    assert wet.money - plain.money == pytest.approx(12 * HOUR)


@pytest.mark.parametrize(("wet", "notice", "last", "taken"), [
    ((), 0, 9, 9), ((5,), 0, 9, 5), ((5, 6), 1, 9, 6), ((2,), 0, 9, 9), ((8,), 2, 9, 9),
    ((12,), 0, 9, 9),
])  # fmt: skip
def test_the_rule_waits_for_the_first_wet_day(
    wet: tuple[int, ...], notice: int, last: int, taken: int
) -> None:
    """From the planned day on, after its notice, and never past the last day."""
    assert (first_wet(last)(futures(wet, notice=notice)) == taken).all()


def test_days_without_notice_enough_are_left_out() -> None:
    assert futures(notice=6, movable=4).asked.days == [3, 6, 7]


def test_failures_come_while_the_stop_waits() -> None:
    """One day in ten fails; the chances drawn beforehand say on which."""
    chance = np.ones((DAYS, by_hand.FEW))
    chance[4, :2] = 0.05
    f = futures(chance=chance, risk=0.1, risk_hours=30 * 3600.0)
    waited = moved(f, on_day(6))
    assert waited.risk[:2] == pytest.approx(30 * HOUR) and waited.risk[2:] == pytest.approx(0.0)
    assert moved(f, on_day(4)).risk == pytest.approx(0.0)  # failed after the stop


def test_cane_on_hand_ages_by_the_stop() -> None:
    """1,000 t for 12 h at three quarters of a unit of CCS a day; the price of sugar is 500."""
    f = futures(wet=(5,))
    a = replace(f.asked, waiting=Waiting(on_hand=1000.0),
                fit=by_hand.fit(DAYS, costs=replace(AN_HOUR, sugar=500.0)))  # fmt: skip
    unit = 500.0 * a.fit.curve.recovery.told()[0] / 100.0
    f = replace(f, asked=a)
    assert moved(f, on_day(3)).age == pytest.approx(1000.0 * 0.375 * unit)
    assert moved(f, on_day(5)).age == pytest.approx(0.0)  # no cane was cut on a wet day


def test_scale_that_waits_costs_its_days_and_saves_those_after() -> None:
    w = Waiting(tuple((100.0 + 10 * n, 5.0 * n) for n in range(6)))
    assert w.fouling(0, 4) == pytest.approx(0 + 5 + 10 + 15)
    assert w.fouling(3, 4) == pytest.approx(100 + 110 + 120 + 0)
    assert w.fouling(7, 7) == pytest.approx(100 + 110 + 120 + 130 + 140 + 150 + 160)


def test_a_fault_is_run_slowed_or_stopped() -> None:
    """A repair of 60 h now, against 400 t/h slowed to 300, against failing for 80 h on day 1."""
    chance = np.ones((DAYS, by_hand.FEW))
    chance[1] = 0.0
    fault = Fault("mill", 60.0, 0.02, 80.0, 300.0)
    told = {c.choice: c for c in weighed([futures(chance=chance)], fault)}
    assert told["stop"].money == pytest.approx(-60 * HOUR)
    assert told["run"].money == pytest.approx(-80 * HOUR)
    # 72 h at 300 t/h leave 7,200 t, 18 h at 400; 48 h of the repair outlast the planned stop
    assert told["slow"].money == pytest.approx(-(18 + 48) * HOUR)
    assert all(c.sigma == pytest.approx(0.0, abs=1e-6) for c in told.values())


def test_a_long_stop_runs_on_over_the_days_end() -> None:
    assert carried(np.array([0.0, 60.0, 6.0, 0.0, 0.0])) == pytest.approx([0, 24, 24, 18, 0])
