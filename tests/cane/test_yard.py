"""Where every bin is: by hand, and what must hold whatever the records."""

from __future__ import annotations

from math import nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratoon.cane.yard import Load, bins_needed, follow, turns

H = 3600.0


def load(tag: str, hour: float, kg: float = 6000.0, note: str = "C1", cut: float = 0.0) -> Load:
    return Load(tag, hour * H, kg, note, cut * H, "G1", "S1")


def test_a_bin_is_where_its_last_event_left_it() -> None:
    loads = [load("1", 5, 6000, "C1", 1), load("2", 6, 7000, "C2", 3)]
    yard = follow(loads, [("1", 8 * H)], [("1", 9 * H), ("3", 2 * H)], 10 * H, 4, 36 * H)
    at = {h.at / H: h for h in yard.hours([4 * H, 5 * H, 6.5 * H, 8 * H, 10 * H])}
    assert [at[k].full for k in (4, 5, 6.5, 8, 10)] == [0, 1, 2, 1, 1]
    assert [at[k].empty for k in (4, 5, 6.5, 8, 10)] == [0, 0, 0, 1, 0]
    assert [at[k].tonnes for k in (4, 5, 6.5, 8)] == pytest.approx([0, 6, 13, 7])
    assert at[4].oldest_h is None and at[6.5].oldest_h == pytest.approx(5.5)
    assert at[8].oldest_h == pytest.approx(5.0)  # the one cut at 3; the older is tipped
    assert all(h.out == 4 - h.full - (h.empty or 0) for h in at.values())
    assert [x.tag for x in yard.standing] == ["2"]


def test_nothing_later_than_now_is_looked_at() -> None:
    yard = follow([load("1", 5), load("2", 12)], [("1", 11 * H)], [], 10 * H, 2, 36 * H)
    assert [x.tag for x in yard.standing] == ["1"] and yard.unread == 0


def test_a_tip_that_nobody_read_does_not_fill_the_yard_for_ever() -> None:
    loads = [load("1", 5), load("2", 5.1), load("3", 5.2)]
    tips = [("1", 6 * H), ("?", 6.1 * H), ("3", 6.2 * H)]
    soon = follow(loads, tips, [], 6.5 * H, 3, 36 * H)
    assert [x.tag for x in soon.standing] == ["2"]  # it may still stand there
    later = follow(loads, tips, [], 8 * H, 3, 36 * H)
    assert later.standing == [] and later.unread == 1
    alone = follow([load("9", 1)], [], [], 40 * H, 3, 36 * H)
    assert alone.standing == [] and alone.unread == 1


def test_without_dispatches_empty_and_out_are_not_invented() -> None:
    (hour,) = follow([load("1", 5)], [("1", 6 * H)], [], 7 * H, 3, 36 * H).hours([7 * H])
    assert (hour.empty, hour.out, hour.full) == (None, None, 0)


def test_a_bin_without_weight_counts_as_the_others() -> None:
    yard = follow(
        [load("1", 5, 5000), load("2", 5, nan), load("3", 5, 7000)], [], [], 6 * H, 3, 99 * H
    )
    assert yard.hours([6 * H])[0].tonnes == pytest.approx(18.0)


def test_bins_that_a_rate_asks_for() -> None:
    """Our own arithmetic, [AD-BN-fleet]; beside it a group's published pages: 15 Mt in 16 000 bins
    of 6 t over 150 days is a fill a day of each bin, so about a day once round [CaneTransport]."""
    assert bins_needed(550.0, 24.0, 6.0) == pytest.approx(2200.0, abs=0.5)
    assert bins_needed(15e6 / 150 / 24, 24 / 1.04, 6.0) == pytest.approx(16_000, rel=0.005)


def test_turn_round_of_each_siding() -> None:
    sent = [("1", "S1", 0.0), ("2", "S2", 0.0), ("1", "S2", 12 * H)]
    loads = [load("1", 6), load("2", 8)]
    found = {t.siding: t for t in turns(loads, [("1", 9 * H), ("2", 9.5 * H)], sent)}
    assert (found["S1"].away, found["S1"].yard, found["S1"].idle) == pytest.approx((6.0, 3.0, 3.0))
    assert found["S1"].whole == pytest.approx(12.0)
    assert (found["S2"].away, found["S2"].yard) == pytest.approx((8.0, 1.5))
    assert found["S2"].idle is None and found["S2"].whole is None
    assert found[""].bins == 2 and found[""].away == pytest.approx(7.0)


EVENTS = st.lists(
    st.tuples(st.sampled_from("123456"), st.floats(0, 90), st.sampled_from("wtd")), max_size=40
)


@settings(max_examples=60, deadline=None)
@given(EVENTS)
def test_bins_always_add_up_to_the_fleet(events: list[tuple[str, float, str]]) -> None:
    loads = [load(tag, at) for tag, at, what in events if what == "w"]
    tips = [(tag, at * H) for tag, at, what in events if what == "t"]
    sent = [(tag, at * H) for tag, at, what in events if what == "d"]
    yard = follow(loads, tips, sent, 100 * H, 6, 36 * H)
    for h in yard.hours([k * 5 * H for k in range(21)]):
        assert h.full >= 0 and h.tonnes >= 0.0
        assert h.full + (h.empty or 0) <= 6
        if h.empty is not None and h.out is not None:
            assert h.full + h.empty + h.out == 6
