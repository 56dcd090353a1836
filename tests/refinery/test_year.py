"""The year's plan: mass to the kilogram, limits kept, prices by solving again, what contradicts."""

from __future__ import annotations

from collections import Counter
from copy import deepcopy
from typing import Any

import pytest

from ratoon import plan_year
from ratoon.base.as_json import to_json
from ratoon.plans.refinery.result import RefineryAnswer

from . import drawn

SEEDS = (20311302, 20311303)
KILOGRAM = 0.0005


@pytest.fixture(scope="module", params=[(SEEDS[0], False), (SEEDS[1], True)])
def told(request: pytest.FixtureRequest) -> tuple[dict[str, Any], RefineryAnswer]:
    seed, ages = request.param
    case = drawn.case(seed, weeks=8, mills=2, ages=ages)
    return case, plan_year(case)


def test_mass_closes_to_the_kilogram_each_week(told: tuple[Any, RefineryAnswer]) -> None:
    case, answer = told
    assert answer.status == "best"
    stock = {s["name"]: Counter(s["stock"]) for s in case["sheds"]}
    for week in answer.weeks:
        for mill, of in week.make.items():
            for brand, t in of.items():
                gone = sum(h.t for h in week.haul if (h.from_, h.brand) == (mill, brand))
                assert gone == pytest.approx(t, abs=KILOGRAM)
        for shed, before in stock.items():
            for h in week.haul:
                before[h.brand] += h.t * (h.to == shed) - h.t * (h.from_ == shed)
            for brand, t in week.stock[shed].items():
                assert before[brand] == pytest.approx(t, abs=KILOGRAM)
                assert t >= 0.0
        for brand, t in week.melt.items():
            into = sum(h.t for h in week.haul if (h.to, h.brand) == ("refinery", brand))
            assert into == pytest.approx(t, abs=KILOGRAM)
        if "keeping" not in case:  # aged sugar gives less product
            raw = sum(week.pack[p["name"]] / p["yield"] * 100 for p in case["products"])
            assert raw == pytest.approx(sum(week.melt.values()), abs=0.01)
        for buyer, t in week.sell.items():
            assert sum(h.t for h in week.haul if h.to == buyer) == pytest.approx(t, abs=KILOGRAM)


def test_limits_are_kept_by_what_is_printed(told: tuple[Any, RefineryAnswer]) -> None:
    """Each within the few kilograms that rounding to whole ones makes."""
    case, answer = told
    few, refinery = 0.02, case["refinery"]
    melted = [sum(w.melt.values()) for w in answer.weeks]
    stop = refinery["stops"][0][0] - 1
    assert melted[stop] == 0.0 and max(melted) <= refinery["melt_most"] + few
    assert min(t for n, t in enumerate(melted) if n != stop) >= refinery["melt_least"] - few
    for week in answer.weeks:
        held = {s: sum(of.values()) for s, of in week.stock.items()}
        assert held["North"] + held["South"] >= refinery["heel"] - few
        over = sum(max(held[s["name"]] - s["tonnes"], 0.0) for s in case["sheds"])
        assert over <= refinery["hire_most"] + few
        for shed in case["sheds"]:
            into = sum(h.t for h in week.haul if h.to == shed["name"])
            assert held[shed["name"]] >= shed["heel"] - few
            assert into <= 168 * shed["in_rate"] + few
        for buyer in case["buyers"]:
            assert week.sell[buyer["name"]] <= buyer["most"] + few


def test_a_price_is_what_solving_again_on_its_side_finds(told: tuple[Any, RefineryAnswer]) -> None:
    case, answer = told
    assert answer.money is not None and len(answer.limits) >= 5
    for limit in answer.limits:
        assert limit.price is not None and limit.holds_to is not None
        by = limit.holds_to - limit.limit
        gain = drawn.moved(case, limit, by) - answer.money
        assert gain / abs(by) == pytest.approx(limit.price, rel=0.005, abs=0.02 / abs(by))


def test_at_a_kink_both_sides_are_told() -> None:
    """250 t hauled to who pays 500 and takes 250; one more goes to who pays 400, one less loses
    500."""
    case = {
        "weeks": 1, "sheds": [], "products": [], "orders": [],
        "mills": [{"name": "m", "brand": "raw", "make": 300, "most": 250}],
        "buyers": [{"name": "dear", "brand": "raw", "most": 250, "price": 500},
                   {"name": "cheap", "brand": "raw", "most": 100, "price": 400}],
    }  # fmt: skip
    haul, *others = plan_year(case).limits
    assert set(to_json(haul)) == {"name", "week", "side", "limit", "unit", "price", "other_side",
                                  "holds_to"}  # fmt: skip
    assert (haul.name, haul.side, haul.limit) == ("mills.m.most", "most", 250.0)
    assert (haul.price, haul.other_side) == (pytest.approx(400.0), pytest.approx(500.0))
    assert others == []  # the dear one gets all that is hauled: its own limit is worth nothing


def test_a_limit_by_week_is_priced_by_week() -> None:
    """The buyer takes 100, 50 and 100 t of 80 a week; without a shed only week 2 is too little."""
    case = {
        "from": "2031-11-03", "weeks": 3, "sheds": [], "products": [], "orders": [],
        "mills": [{"name": "m", "brand": "raw", "make": 80}],
        "buyers": [{"name": "b", "brand": "raw", "most": [100, 50, 100], "price": 5}],
    }  # fmt: skip
    told = plan_year(case)
    assert [(x.name, x.week, x.limit, x.price) for x in told.limits] == [
        ("buyers.b.most", "2031-11-10", 50.0, pytest.approx(5.0))
    ]
    assert told.limits[0].holds_to is not None and told.limits[0].holds_to <= 80.0


def test_sugar_that_loses_pol_goes_first_and_too_old_goes_nowhere() -> None:
    """The shed holds sugar of 40 weeks' age beside fresh; the melt must be of 98 pol."""
    case = {
        "weeks": 8, "orders": [], "brands": [{"name": "raw", "pol": 98.6}],
        "mills": [{"name": "m", "brand": "raw", "make": [100, 100, 100, 100, 0, 0, 0, 0],
                   "cost": {"s": 1}}],
        "sheds": [{"name": "s", "tonnes": 2000, "stock": {"raw": 400}, "age_weeks": 40}],
        "refinery": {"melt_least": 20, "pol_least": 98.0}, "buyers": [],
        "products": [{"name": "p", "pack": 1000, "yield": 95, "value": 0}],
        "keeping": [{"figure": "pol", "rate": 0.085}],
    }  # fmt: skip
    told = plan_year(case)
    assert told.status == "best"
    case["mills"][0]["make"] = 0  # type: ignore[index]
    refused = plan_year(case)
    assert refused.status == "none found"
    assert {x.name for x in refused.why_not} == {"refinery.melt_least", "refinery.pol_least"}


def test_sugar_whose_age_tells_nothing_is_as_it_was_made() -> None:
    """A little pol is lost in store, no limit asks for pol: all 100 t give 95 t."""
    case = {
        "weeks": 8, "brands": [{"name": "raw", "pol": 99.0}], "mills": [], "buyers": [],
        "sheds": [{"name": "s", "tonnes": 100, "stock": {"raw": 100}}],
        "products": [{"name": "p", "pack": 1000, "yield": 95, "value": 10}],
        "orders": [{"order": "o", "customer": "c", "product": "p", "packs": 96, "earliest": 8,
                    "due": 8}],
        "keeping": [{"figure": "pol", "rate": 0.1}],
    }  # fmt: skip
    assert plan_year(case).money == pytest.approx(950.0)


def test_a_least_that_has_no_room_below_has_no_other_side() -> None:
    """30 t must be melted and 30 t are there: one more leaves no plan, one less is sold for 8."""
    case = {
        "weeks": 1, "mills": [], "orders": [], "refinery": {"melt_least": 30},
        "sheds": [{"name": "s", "tonnes": 100, "stock": {"raw": 30}}],
        "products": [{"name": "p", "pack": 1000, "yield": 95}],
        "buyers": [{"name": "b", "brand": "raw", "price": 8}],
    }  # fmt: skip
    (one,) = plan_year(case).limits
    assert (one.name, one.side, one.other_side) == ("refinery.melt_least", "least", None)
    assert (one.price, one.holds_to) == (pytest.approx(8.0), pytest.approx(0.0))


def test_limits_that_contradict_one_another_are_named_and_none_is_too_many() -> None:
    """Some 6,400 t, 1,500 of them to be kept, cannot be melted at 2,000 a week for four weeks."""
    case = drawn.case(SEEDS[0], weeks=4)
    case["mills"] = [{"name": "m", "brand": "A", "make": 100}]
    case["brands"] = [{"name": "A", "pol": 99.0, "colour": 500}, {"name": "B", "pol": 99.0,
                      "colour": 500}, {"name": "V", "pol": 99.0, "colour": 500}]  # fmt: skip
    case["refinery"] |= {"melt_least": 2000, "melt_most": 2500, "heel": 1500, "stops": []}
    told = plan_year(case)
    assert (told.status, told.money, told.weeks) == ("none found", None, ())
    names = [x.name for x in told.why_not]
    assert "refinery.melt_least" in names
    for name in names:
        fewer = deepcopy(case)
        kind, one, key = [*name.split(".", 2), ""][:3]
        if kind == "refinery":
            del fewer["refinery"][one]
        else:
            next(x for x in fewer[kind] if x["name"] == one).pop(key, None)
        if not name.endswith(".tonnes"):
            assert plan_year(fewer, prices=False).status == "best", name
