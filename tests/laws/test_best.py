"""What must hold of the best settings, on the invented mill and on one with two massecuites."""

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import ratoon.demo
from ratoon.account.mill import Mill, read_mill
from ratoon.base import units
from ratoon.jobs.trial.choices import LEAST, Choices
from ratoon.plans.best.asked import Found
from ratoon.plans.best.ladder import at_best
from ratoon.plans.best.limits import effects, family, limits, surfaces
from ratoon.plans.best.result import BestLimit, Side
from ratoon.plans.best.search import MillSearch
from ratoon.settings.records import BestSettings, RangeSettings

KESTREL = Path(ratoon.demo.__file__).parent / "data" / "mill.toml"
SHORT = ("liquor.brix", "heater.primary.temperature", "heater.secondary.temperature")
SECOND = Path(__file__).parents[1] / "mills" / "second.toml"


def _range(low: float, high: float) -> RangeSettings:
    return RangeSettings(low=low, high=high, source="this test")


@pytest.fixture(scope="module")
def kestrel() -> MillSearch:
    mill = read_mill(KESTREL)
    return MillSearch(mill, mill.settings.best)


@pytest.fixture(scope="module")
def found(kestrel: MillSearch) -> Found:
    return _best(kestrel)


def _best(search: MillSearch) -> Found:
    solved = search.plant.solve()
    return search.ask(dict(solved.given), solved.values, "free")


def _check(search: MillSearch, found: Found) -> None:
    """Nobody loses, no limit is passed, and the plant set as advised is that of the search."""
    today, best = (float(search.money(x.values)) for x in (found.today, found.best))
    assert best > today
    assert found.best.breach < 1e-6
    for address, bound in (found.free | found.limits).items():
        slack = 1e-6 * max(abs(found.best[address]), 1e-3)
        assert bound.low - slack <= found.best[address] <= bound.high + slack, address
    works = search.plant.solve(search.advised(found), found.best.values)
    assert float(search.money(works.values)) == pytest.approx(best, rel=1e-7)
    points = {search.plant.set_point_of(a) for a in found.free} - {*found.free}
    for name, var in search.plant.equations.variables.items():
        if name in works.values and name not in points:
            assert abs(works[name] - found.best[name]) < 1e-6 * var.scale, name


def _both_solvers(search: MillSearch, found: Found) -> None:
    """The other solver finds the same money, and the same prices of what is worth a dollar."""
    other = MillSearch(search.mill, search.stated, solver="slsqp")
    other.search = search.search
    again = other.again(found).best
    assert again.aim == pytest.approx(found.best.aim, rel=1e-5)
    dear = [p for p in found.best.prices if p.price * abs(p.limit) * 3600.0 > 1.0]
    assert dear
    for price in dear:
        assert again.price(price.address, price.side) == pytest.approx(price.price, rel=1e-3)


def test_both_solvers_agree(kestrel: MillSearch, found: Found) -> None:
    _both_solvers(kestrel, found)


def test_the_best_settings_earn_more_and_can_be_set(kestrel: MillSearch, found: Found) -> None:
    _check(kestrel, found)
    assert 0.0 < found.best.steps < 60
    lines = [float(t.price * t.amount(found.best.values)) for t in kestrel.terms]
    assert sum(lines) == pytest.approx(found.best.aim)


def test_two_massecuites() -> None:
    mill = read_mill(SECOND)
    solved = mill.plant.solve()
    near = {"imbibition.on_fibre": 20.0, "liquor.brix": 2.0, "filter.wash_on_cake": 20.0}
    ranges = {}
    for address, by in near.items():
        here = 100.0 * solved[address]
        ranges[address] = _range(here - by, here + by)
    search = MillSearch(mill, BestSettings(free=ranges))
    best = search.ask(dict(solved.given), solved.values, "held")
    _check(search, best)
    _both_solvers(search, best)


def test_prices_are_difference_quotients_as_far_as_they_hold(
    kestrel: MillSearch, found: Found
) -> None:
    ranges = found.free | found.limits

    def worth(row: BestLimit, by: float) -> float:
        """What loosening by so much gains an hour for each trade unit."""
        far = units.spread_to_inside(by, row.unit or "1")
        wider = {a: b.looser(row.side, far) for a, b in ranges.items()
                 if family(a) == family(row.address)}  # fmt: skip
        above = kestrel.again(found, found.best.values, **wider)
        return 3600.0 * (above.best.aim - found.best.aim) / by

    rows = [row for row in limits(kestrel, found) if row.binds and row.per != "m2"]
    assert len(rows) >= 4
    for row in rows:
        # within half a hundredth, or a cent an hour
        near = worth(row, 1e-4 * max(abs(row.limit), 0.1))
        assert near == pytest.approx(row.price, rel=5e-3, abs=0.01), row.address
        assert row.holds_to is not None and row.holds_to > 0.0, row.address
        assert 0.94 < worth(row, row.holds_to) / row.price < 1.06, row.address


def test_a_square_metre_of_each_effect_is_worth_what_it_says(
    kestrel: MillSearch, found: Found
) -> None:
    rows = surfaces(kestrel, found)
    assert len(rows) == 5 and any(row.binds for row in rows)
    for row, vessels in zip(rows, effects(kestrel), strict=True):
        more = {**found.given, vessels.scales: found.given[vessels.scales] * 1.001}
        above = kestrel.again(replace(found, given=more), found.best)
        gain = 3600.0 * (above.best.aim - found.best.aim) / (0.001 * row.value)
        assert gain == pytest.approx(row.price, rel=0.01, abs=1e-3), row.address


def test_where_it_starts_changes_nothing(kestrel: MillSearch, found: Found) -> None:
    rng, starts = np.random.default_rng(20310730), 0
    for _ in range(20):
        given = dict(found.given)
        for address, bound in found.free.items():
            point = kestrel.plant.set_point_of(address)
            given[point] = bound.low + rng.uniform(0.2, 0.8) * (bound.high - bound.low)
        start = kestrel.plant.solve(given, found.today.values).values
        again = kestrel.again(found, start)
        assert again.best.aim == pytest.approx(found.best.aim, rel=1e-6)
        starts += 1
    assert starts == 20


def test_no_grid_point_beats_it(kestrel: MillSearch, found: Found) -> None:
    pair = ("imbibition.on_fibre", "filter.wash_on_cake")
    # where the plant of the grid falls short of a set point, the search may do so too
    held = {a: replace(b, low=0.5 * found.today[a], high=found.today[a]) if a in SHORT
            else b.at(found.today[a]) for a, b in found.free.items() if a not in pair}  # fmt: skip
    best = kestrel.again(found, None, **held)
    points = 15
    one, two = (np.linspace(found.free[a].low, found.free[a].high, points) for a in pair)
    given = {**found.given, pair[0]: np.repeat(one, points), pair[1]: np.tile(two, points)}
    many = kestrel.plant.equations.solve_many(given, found.today.values)
    allowed = np.ones(points**2, dtype=bool)
    for address, bound in best.limits.items():
        allowed &= (many[address] <= bound.high) & (many[address] >= bound.low)
    assert allowed.sum() > points
    money = np.asarray(kestrel.money(many))[allowed]
    assert float(money.max()) <= float(kestrel.money(best.best.values)) * (1.0 + 1e-6)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(data=st.data())
def test_loosening_never_loses_and_a_slack_limit_changes_nothing(
    kestrel: MillSearch, found: Found, data: st.DataObject
) -> None:
    """Any ends of what is free and of limits, loosened any far: some, and some slack ones."""
    priced = {(p.address, p.side) for p in found.best.prices if p.price > 1e-9}
    ranges = {**found.free, **found.limits}
    sides: tuple[Side, ...] = ("low", "high")
    ends = [(a, side) for a, bound in ranges.items() for side in sides
            if math.isfinite(bound.end(side)) and bound.low < bound.high]  # fmt: skip

    def looser(some: list[tuple[str, Side]], by: float) -> Found:
        wider = dict(ranges)
        for a, side in some:
            far = by * max(abs(ranges[a].end(side)), 0.1)
            wider[a] = wider[a].looser(side, far)
        return kestrel.again(found, None, **{a: wider[a] for a, _ in some})

    by = data.draw(st.floats(1e-3, 0.05))
    some = data.draw(st.lists(st.sampled_from(ends), min_size=1, max_size=4, unique=True))
    aim = looser(some, by).best.aim
    assert aim >= found.best.aim * (1.0 - 1e-8)
    slack = [one for one in ends if one not in priced and one not in some]
    none = data.draw(st.lists(st.sampled_from(slack), min_size=1, max_size=4, unique=True))
    assert looser(none, by).best.aim == pytest.approx(found.best.aim, rel=1e-6)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(shares=st.lists(st.floats(0.0, 1.0), min_size=6, max_size=6))
def test_terms_add_up_wherever_the_plant_is_set(
    kestrel: MillSearch, found: Found, shares: list[float]
) -> None:
    given = dict(found.given)
    for address, share in zip(sorted(found.free)[:6], shares, strict=True):
        bound = found.free[address]
        given[kestrel.plant.set_point_of(address)] = bound.low + share * (bound.high - bound.low)
    then = replace(found, today=kestrel.plant.solve(given, found.today.values))
    lines = [*kestrel.told_terms(then)]
    for one, values in ((sum(t.today for t in lines), then.today.values),
                        (sum(t.best for t in lines), then.best.values)):  # fmt: skip
        assert one == pytest.approx(float(kestrel.money(values)), rel=1e-9)


def test_prices_ten_times_leave_settings_and_multiply_prices(found: Found) -> None:
    stated = read_mill(KESTREL).settings
    p = stated.prices
    sold = ("sugar", "molasses", "power", "bagasse", "cane", "other_on_cane", "variable")
    dear = replace(p, **{k: 10.0 * getattr(p, k) for k in sold})
    doses = {a: replace(c, price=10.0 * c.price) if c.price else c
             for a, c in stated.chemicals.items()}  # fmt: skip
    mill = Mill(replace(stated, prices=dear, chemicals=doses))
    again = _best(MillSearch(mill, stated.best))
    for address, bound in found.free.items():
        span = bound.high - bound.low
        assert again.best[address] == pytest.approx(found.best[address], abs=2e-3 * span), address
    for price in found.best.prices:
        if price.price * abs(price.limit) > 1e-3:
            assert again.best.price(price.address, price.side) == pytest.approx(
                10.0 * price.price, rel=0.05
            )


def test_a_choice_gains_what_a_mill_so_piped_would(kestrel: MillSearch, found: Found) -> None:
    choices = Choices(kestrel, found)
    stated = kestrel.mill.settings
    pans = {**stated.pans, "C": replace(stated.pans["C"], heating=1)}
    piped = Mill(replace(stated, pans=pans, readings={}))  # instruments stay where they were
    there = _best(MillSearch(piped, stated.best)).best.aim
    gain = choices.gain({"pan.C.vapour_from": 1.0})
    # a tenth apart: laws go by the day as it was piped
    assert gain == pytest.approx(3600.0 * (there - found.best.aim), rel=0.1)
    # half of the first effect's vessels off line loses
    assert choices.gain({"effect.1.surface": 50.0}) < 0.0
    tried = {"pan.C.vapour_from": 1.0, "effect.1.surface": 50.0}
    with mock.patch.object(Choices, "_steps", return_value=iter(tried.items())):
        told = choices.told()
    assert {c.address for c in told} == {
        a for a, v in tried.items() if choices.gain({a: v}) > LEAST
    }


def test_each_rung_of_the_ladder_earns_more(kestrel: MillSearch, found: Found) -> None:
    rungs = list(at_best(kestrel, found, None))
    assert len(rungs) > 2
    assert rungs[-1].rate > rungs[0].rate
    assert rungs[-1].gain is None and all(b.per == "m2" for b in rungs[-1].binds)
    for below, above in pairwise(rungs):
        assert above.money >= below.money * (1.0 - 1e-8)
        assert above.rate > 1.01 * below.rate or above is rungs[-1]
