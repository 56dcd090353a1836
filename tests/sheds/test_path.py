"""Stock over the weeks of many futures: nothing lost, limits kept, days and chances as by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from ratoon.base.sugar import Lot, Movement
from ratoon.plans.shed.books import Told
from ratoon.plans.shed.brands import Brand, drawn_by_brand
from ratoon.plans.shed.make import ENOUGH, Flow, crushing, lately
from ratoon.plans.shed.path import Ahead, Store, chance, days_at, follow, with_room
from ratoon.plans.shed.shed import shed_answer
from ratoon.settings.sugar import ShedRow

WEEKS = (0, 3, 10, 17, 24, 31)


def _ahead(comes: float, goes: float, futures: int = 4) -> Ahead:
    shape = (len(WEEKS) - 1, futures)
    return Ahead(WEEKS, np.full(shape, comes), np.full(shape, goes))


def _store(name: str, stock: float, room: float, comes: float, goes: float) -> Store:
    return Store(name, stock, 0.0, room, 0.0, 100.0, comes, goes)


def test_a_shed_fills_on_the_day_that_is_counted_by_hand() -> None:
    path = follow([_store("A", 500.0, 1000.0, 1.0, 1.0)], _ahead(300.0, 100.0), 0)
    assert path.stock[0, :, 0].tolist() == [700.0, 900.0, 1000.0, 1000.0, 1000.0]
    assert days_at(path.full[0])[2] == pytest.approx(10 + 7.0)
    assert path.over.tolist() == [500.0] * 4 and path.short.tolist() == [0.0] * 4
    assert chance(path.full[0]) == 1.0 and chance(path.empty[0]) == 0.0
    assert path.cover[0, 0] == pytest.approx(400.0 / (500.0 / 31.0))


def test_what_one_shed_has_no_room_for_goes_to_the_other_and_draws_likewise() -> None:
    stores = [_store("A", 900.0, 1000.0, 0.8, 0.2), _store("B", 200.0, 2000.0, 0.2, 0.8)]
    path = follow(stores, _ahead(300.0, 100.0), 0)
    assert path.over.max() == 0.0 and path.short.max() == 0.0
    assert path.stock[:, -1, 0].sum() == pytest.approx(1100.0 + 5 * 200.0)
    assert path.stock[0].max() <= 1000.0
    away = follow(stores, _ahead(0.0, 300.0), 0)
    assert away.stock[:, -1, 0].tolist() == pytest.approx([100.0, 100.0])
    assert away.short[0] == pytest.approx(5 * 300.0 - 900.0)
    assert days_at(away.empty[1])[2] is not None


def test_mass_closes_in_every_future_and_more_room_spills_less() -> None:
    rng = np.random.default_rng(20311305)
    shape = (5, 300)
    steady, none = np.ones(shape), np.zeros(shape)
    comes, goes = (Flow(*f).drawn(rng, steady, none) for f in ((400.0, 200.0, 80.0),
                                                               (350.0, 90.0, 40.0)))  # fmt: skip
    ahead = Ahead(WEEKS, comes, goes)
    stores = [_store("A", 600.0, 1000.0, 0.7, 0.5), _store("B", 300.0, 700.0, 0.3, 0.5)]
    path = follow(stores, ahead, 3)
    came = ahead.comes.sum(axis=0) - path.over
    went = ahead.goes.sum(axis=0) - path.short
    np.testing.assert_allclose(path.stock[:, -1].sum(axis=0), 900.0 + came - went, atol=1e-6)
    assert path.stock.min() >= 100.0 - 1e-9
    assert (path.stock.max(axis=(1, 2)) <= np.array([1000.0, 700.0]) + 1e-9).all()
    assert 0.0 < chance(path.full[0]) < 1.0
    more = follow(with_room(stores, 500.0), ahead, 3)
    assert (more.over <= path.over + 1e-9).all() and more.over.sum() < path.over.sum()


def _weeks(rng: np.random.Generator, count: int, lasts: float, own: float) -> np.ndarray:
    """Weeks by a law of their own: a level of 1000 with a wander that fades and chance of a day."""
    wander, made = 0.0, []
    for _ in range(count):
        wander = lasts * wander + 60.0 * float(rng.standard_normal())
        made.append(1000.0 + wander + own * float(rng.standard_normal()))
    return np.array(made)


def test_weeks_to_come_of_a_flow_that_wanders_lie_in_the_band_that_the_last_ones_tell() -> None:
    """What 20 weeks bring, of 120 flows, wandering or not: in the band of 90 % for 90 % of them."""
    rng = np.random.default_rng(20311714)
    steady, none = np.ones((20, 300)), np.zeros((20, 300))
    for lasts, own in ((0.0, 60.0), (0.8, 70.0)):
        inside = 0
        for _ in range(120):
            weeks = _weeks(rng, 32, lasts, own)
            flow = Flow(1000.0, 0.0, 0.0, tuple(weeks[:12]), (0.0,) * 12)
            sums = flow.drawn(rng, steady, none).sum(axis=0)
            low, high = np.quantile(sums, (0.05, 0.95))
            inside += bool(low <= weeks[12:].sum() <= high)
        assert 0.80 <= inside / 120 <= 0.99  # 0.90, and three standard errors of 120


def test_sister_mills_that_stand_in_the_same_rain_follow_what_this_mill_makes() -> None:
    rng = np.random.default_rng(20311715)
    made = 1000.0 * rng.uniform(0.2, 1.0, 14)
    flow = Flow(300.0, 0.0, 0.0, tuple(0.5 * made), tuple(made))
    make = np.full((4, 400), 900.0)
    make[2] = 90.0  # a wet week
    told = flow.drawn(rng, np.ones((4, 400)), make).mean(axis=1)
    assert told == pytest.approx([450.0, 450.0, 45.0, 450.0], rel=0.1)
    apart = Flow(300.0, 0.0, 0.0, tuple(300.0 + 30.0 * rng.standard_normal(14)), tuple(made))
    assert apart.drawn(rng, np.ones((4, 400)), make).mean(axis=1)[2] > 250.0


def test_the_last_week_counts_as_far_as_it_makes_sugar() -> None:
    make = np.array([[300.0], [700.0], [0.0], [700.0], [175.0], [0.0]])
    found = crushing(make, (0, 3, 10, 17, 24, 31, 38))
    assert found[:4, 0].tolist() == [1.0] * 4 and found[5, 0] == 0.0
    assert 0.25 <= found[4, 0] <= 0.5


def test_weeks_are_told_from_the_season_on_and_by_whole_weeks() -> None:
    at = datetime(2031, 9, 1, tzinfo=UTC)
    moves = [Movement(f"M{n}", at - timedelta(days=7 * n + 1), "load", "A/1", "B", 100.0 + n)
             for n in range(20)]  # fmt: skip
    lacking: list[str] = []
    flow = lately(moves, (), at - timedelta(days=10 * 7), at, lacking, "sold")
    assert flow.weeks == tuple(100.0 + n for n in range(10))[::-1] and not lacking
    few = lately(moves, (), at - timedelta(days=(ENOUGH - 1) * 7), at, lacking, "sold")
    assert few.weeks == () and few.mean == pytest.approx(101.0)
    none = lately([], (), at - timedelta(days=70), at, lacking, "sold")
    assert none.mean == 0.0 and "fewer than two weeks" in lacking[0]


def test_a_brand_that_comes_and_that_nobody_draws_is_named() -> None:
    at = datetime(2031, 9, 1, tzinfo=UTC)
    lots = [Lot(f"{brand}{n}", at - timedelta(days=n + 1), at - timedelta(days=n), "", brand, 100.0,
                shed="A", cell=brand) for n in range(20) for brand in "XY"]  # fmt: skip
    drawn = [Movement("M1", at - timedelta(hours=2), "melt", "A/X", "refinery", 250.0)]
    none = np.zeros((1, 1))
    told = Told(date(2031, 9, 1), at + timedelta(hours=1), [ShedRow(name="A", tonnes=1e7)], lots,
                drawn, (), (), (0, 7), none, none, Flow(0.0), Flow(0.0), Flow(0.0), (0.0,), 0.0,
                0.0, "$", lambda t: t)  # fmt: skip
    found = [a for a in shed_answer(told, ()).advice if "brand" in a.what]
    assert len(found) == 1 and found[0].gain is None
    assert "Y: 2,000 t came in 4 weeks and nobody drew any; 2,000 t" in found[0].caution
    both = replace(told, movements=[*drawn, replace(drawn[0], movement="M2", from_="A/Y")])
    assert not [a for a in shed_answer(both, ()).advice if "brand" in a.what]


def test_sales_of_a_brand_wait_for_it_and_the_melt_takes_what_there_is() -> None:
    """By hand: X 50 t and Y 500 t in store; 40 t of X and 60 of Y come, 80 t of X are sold, 100 t
    are melted, usually of X."""
    brands = (Brand("X", 50.0, 0.4, 1.0, 1.0), Brand("Y", 500.0, 0.6, 0.0, 0.0))
    comes, melted, sold = (np.full((3, 1), t) for t in (100.0, 100.0, 80.0))
    goes, lack = drawn_by_brand(brands, comes, melted, sold)
    # week 1: X 90, 80 sold, 10 of it and 90 of Y melted; then X has 40 a week, and 40 lack
    assert goes[:, 0].tolist() == pytest.approx([180.0, 140.0, 140.0])
    assert lack.tolist() == pytest.approx([80.0])
    one, none = drawn_by_brand((), comes, melted, sold)
    assert one[:, 0].tolist() == [180.0] * 3 and none.tolist() == [0.0]


def test_a_brand_that_nobody_buys_is_slowed_with_its_gain() -> None:
    """Y is made and nobody buys it: X in its place is sold, and the full shed has room for more."""
    at = datetime(2031, 9, 1, tzinfo=UTC)
    lots = [Lot(f"{brand}{n}", at - timedelta(days=n + 1), at - timedelta(days=n), "", brand, 100.0,
                shed="A", cell=brand) for n in range(1, 40) for brand in "XY"]  # fmt: skip
    loads = [Movement(f"M{n}", at - timedelta(days=n, hours=-2), "load", "A/X", "Buyer", 120.0)
             for n in range(1, 30)]  # fmt: skip
    make, on = np.full((8, 50), 1400.0), np.ones((8, 50))
    told = Told(date(2031, 9, 1), at, [ShedRow(name="A", tonnes=6e6)], lots, loads, (), (),
                tuple(range(0, 63, 7)), make, on, Flow(0.0), Flow(840.0), Flow(0.0), (0.0,) * 8,
                300.0, 200.0, "$", lambda t: t)  # fmt: skip
    advice = {a.what: a for a in shed_answer(told, ()).advice}
    assert (slow := advice["slow Y: 70 t a week of X in its place"]).gain is not None
    # of X 700 t a week come, and 840 are wanted: 70 t more of it are sold for eight weeks
    assert slow.gain == pytest.approx(8 * 70.0 * (200.0 + 300.0))
    assert not [what for what in advice if what.startswith("slow X")]
    same = [replace(lot, brand="X") for lot in lots]
    alone = shed_answer(replace(told, lots=same), ()).advice
    assert not [a for a in alone if a.what.startswith("slow")]
