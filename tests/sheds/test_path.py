"""Stock over the weeks of many futures: nothing lost, limits kept, days and chances as by hand."""

from __future__ import annotations

import numpy as np
import pytest

from ratoon.plans.shed.path import Ahead, Store, chance, days_at, flows, follow, with_room

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
    ahead = Ahead(
        WEEKS, flows(rng, 400.0, 200.0, 80.0, shape), flows(rng, 350.0, 90.0, 40.0, shape)
    )
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
