"""Residence in pools: textbook tanks, what must hold whatever the rates, and what is refused."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import gammainc

import ratoon
from ratoon.base.errors import BadInput
from ratoon.plans.recall.lot import middle, whole
from ratoon.plans.recall.residence import Residence

HOURS = 60


def chain(tanks: int, mean: float, stages: int = 1) -> Residence:
    """Tanks in series, each with a mean residence [h], at 10 t/h."""
    names = [f"tank {n}" for n in range(tanks)]
    joins = [*zip(["cane", *names], [*names, "sugar"], [1.0] * (tanks + 1))]
    return ratoon.residence(dict.fromkeys(names, 10.0 * mean),
                            {"cane": [10.0] * HOURS} | dict.fromkeys(names, 10.0), joins,
                            stages=stages)  # fmt: skip


def arrived(tanks: int, mean: float, hours: float) -> float:
    """Share of one hour's even flow that has left tanks in series by then.

    Textbook: the residence in k mixed tanks is gamma distributed, k = 1 being exp(-t/T); its
    integral over the hour is x P(k, x) - k P(k + 1, x) at x = t / T and an hour before.
    """

    def integral(x: float) -> float:
        return float(x * gammainc(tanks, x) - tanks * gammainc(tanks + 1, x))

    return mean * (integral(hours / mean) - integral(max(hours - 1.0, 0.0) / mean))


@pytest.mark.parametrize(("tanks", "mean"), [(1, 0.4), (1, 5.0), (2, 3.0), (3, 3.0), (6, 1.7)])
def test_tanks_in_series_are_the_textbook_s(tanks: int, mean: float) -> None:
    wanted = np.diff([arrived(tanks, mean, t) for t in range(HOURS + 1)])
    assert chain(tanks, mean).forward(0, "sugar") == pytest.approx(wanted, abs=1e-12)


def test_a_pool_in_stages_is_tanks_in_series_and_narrower_than_mixed() -> None:
    staged, mixed = chain(1, 9.0, stages=3), chain(1, 9.0)
    wanted = np.diff([arrived(3, 3.0, t) for t in range(HOURS + 1)])
    assert staged.forward(0, "sugar") == pytest.approx(wanted, abs=1e-12)
    assert len(staged.states) == 3

    def spread(one: Residence) -> int:
        passed = np.cumsum(one.forward(0, "sugar"))
        low, high = np.searchsorted(passed, (0.05, 0.95))
        return int(high - low)

    assert spread(staged) < spread(mixed)


amounts = st.floats(0.0, 500.0)


@settings(max_examples=25, deadline=timedelta(seconds=2))
@given(st.data())
def test_shares_sum_to_one_and_forward_is_backward(data: st.DataObject) -> None:
    """Whatever the stocks and flows, hours without any among them, and with sugar that returns."""
    hours = data.draw(st.integers(2, 12))

    def series(low: float = 0.0) -> list[float]:
        return data.draw(st.lists(st.floats(low, 500.0), min_size=hours, max_size=hours))

    back = data.draw(st.floats(0.0, 0.9))
    found = ratoon.residence(
        {"a": series(), "b": series()}, {"cane": series(0.01), "a": series(), "b": series(1.0)},
        [("cane", "a", 1.0), ("a", "b", 1.0), ("b", "a", back), ("b", "sugar", 1.0 - back)],
        stages=data.draw(st.integers(1, 3)),
    )  # fmt: skip
    window = np.array(data.draw(st.lists(st.sampled_from([0.0, 0.3, 1.0]), min_size=hours,
                                         max_size=hours)))  # fmt: skip
    (shares,) = found.into_each("sugar", window[None])
    if shares is None or shares.tonnes < 1e-6:
        return
    assert shares.by_hour.sum() + shares.older == pytest.approx(1.0, abs=1e-9)
    assert shares.by_hour.min() >= -1e-12 and shares.older >= -1e-12
    on = [found.comes[h] * (found.forward(h, "sugar") @ window) for h in range(hours)]
    assert shares.by_hour * shares.tonnes == pytest.approx(on, rel=1e-9, abs=1e-9)
    kilograms = whole(412_868, [*shares.by_hour, shares.older])
    assert sum(kilograms) == 412_868 and min(kilograms) >= 0


def test_nothing_is_lost_and_a_plant_that_stands_keeps_its_sugar() -> None:
    flow = [10.0] * 5 + [0.0] * 7 + [10.0] * 48
    found = ratoon.residence({"tank": 30.0}, {"cane": flow, "tank": flow},
                             [("cane", "tank", 1.0), ("tank", "sugar", 1.0)])  # fmt: skip
    on = found.forward(2, "sugar")
    assert on[5:12].sum() == 0.0 and on[12] > 0.0
    running = np.delete(on, range(5, 12))
    assert running == pytest.approx(chain(1, 3.0).forward(2, "sugar")[:53])
    assert found.inside[:, 0] == pytest.approx(30.0)  # what comes is what goes
    assert on.sum() == pytest.approx(1.0, abs=1e-6)


def test_a_lot_followed_from_a_later_hour_has_more_older_cane() -> None:
    found, window = chain(2, 5.0), np.zeros((2, HOURS))
    window[:, 30:38] = 1.0
    early, late = found.into_each("sugar", window, [0, 20])
    assert early is not None and late is not None
    assert late.older == pytest.approx(early.older + early.by_hour[:20].sum(), abs=1e-12)
    assert late.by_hour[20:] == pytest.approx(early.by_hour[20:])
    assert not late.by_hour[:20].any()


def test_the_hour_by_which_a_share_was_crushed() -> None:
    assert [middle([0.2, 0.5, 0.2], 0.1, q) for q in (0.05, 0.5, 0.95)] == [None, 1, 2]
    assert whole(10, [1 / 3, 1 / 3, 1 / 3]) == [4, 3, 3] and whole(0, [0.5, 0.5]) == [0, 0]


GOOD: dict[str, Any] = {
    "stocks": {"tank": [20.0, 20.0]}, "flows": {"cane": [10.0, 10.0], "tank": 10.0},
    "joins": [("cane", "tank", 1.0), ("tank", "sugar", 1.0)],
}  # fmt: skip


@pytest.mark.parametrize(("change", "words"), [
    ({"flows": {"tank": 10.0}}, "one flow alone has no stock: the cane's"),
    ({"flows": {"cane": 1.0, "beet": 1.0, "tank": 1.0}}, "one flow alone has no stock"),
    ({"flows": {"cane": [1.0, 1.0]}}, "a pool without a flow"),
    ({"flows": {"cane": [1.0, 1.0], "tank": [1.0] * 3}}, "another number of hours"),
    ({"stocks": {"tank": -1.0}}, "not a number from zero up"),
    ({"stocks": {"tank": float("nan")}}, "not a number from zero up"),
    ({"joins": [("vat", "sugar", 1.0)]}, "a join from no pool"),
    ({"joins": [("tank", "sugar", 0.7), ("tank", "molasses", 0.4)]}, "more than all leaves it"),
    ({"flows": {"cane": [], "tank": []}}, "another number of hours"),
    ({"stages": 0}, "stages of a pool"),
])  # fmt: skip
def test_what_cannot_be_is_one_line(change: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput, match=words) as refused:
        ratoon.residence(**(GOOD | change))
    assert "\n" not in str(refused.value)


def test_a_place_that_is_not_there_or_where_nothing_comes() -> None:
    found = ratoon.residence(**GOOD)
    with pytest.raises(BadInput, match="no such place behind the pools"):
        found.into("shed", [0.0, 1.0])
    with pytest.raises(BadInput, match="nothing arrives in these hours"):
        found.into("sugar", [0.0, 0.0])
