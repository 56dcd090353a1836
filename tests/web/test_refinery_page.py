"""The page Refinery as a record: limits in words, sums, and a year without a plan."""

from __future__ import annotations

from copy import deepcopy

from ratoon import plan_year
from ratoon.web.days import DayPlace
from ratoon.web.sugar.refinery import refinery_page

CASE = {
    "from": "2031-11-03", "weeks": 3,
    "mills": [{"name": "Hill", "brand": "raw", "make": 900, "sigma": 60, "cost": {"North": 1}}],
    "sheds": [{"name": "North", "tonnes": 500, "heel": 50, "stock": {"raw": 400}}],
    "refinery": {"melt_most": 500, "spill_cost": 200, "hire_cost": 4, "hire_most": 100},
    "products": [{"name": "white", "pack": 25, "yield": 95, "value": 800, "short_cost": 100}],
    "buyers": [{"name": "Export", "brand": "raw", "most": 450, "price": 400}],
    "orders": [{"order": "A", "customer": "Baker", "product": "white", "packs": 60000, "due": 3}],
}  # fmt: skip
PLACE = DayPlace("2031-11-02", "2031-11-01", "", "2031-11-01", "2031-11-02")


def test_weeks_limits_and_answers_are_told_in_words() -> None:
    told = plan_year(CASE)
    page = refinery_page(PLACE, "Sunday", "Mill", told)
    assert page.buyers == ("Export",) and len(page.weeks) == 3 == len(told.weeks)
    assert page.totals[:5] == ("2\u202f700", "2\u202f700", *page.totals[2:5])
    names = [row[0] for row in page.limits]
    assert "most melted" in names and "taken by Export" in names
    assert [row[0] for row in page.outcomes] == ["sales answer", "sales as planned"]
    assert {row[1] for row in page.rule} <= {"Export", "room to hire"}
    assert "Stock of all sheds over 3 weeks: from 400 t" in page.path


def test_a_year_without_a_plan_names_what_contradicts() -> None:
    case = deepcopy(CASE)
    case["refinery"] |= {"melt_least": 500, "melt_most": 500}  # type: ignore[operator]
    case["products"][0]["store"] = 0  # type: ignore[index]
    case["orders"] = []
    page = refinery_page(PLACE, "Sunday", "Mill", plan_year(case))
    assert {row[0] for row in page.why_not} == {"least melted", "store for white"}
    assert page.weeks == () and page.outcomes == ()


def test_every_limit_has_words() -> None:
    """Each key that the reader takes as a limit."""
    from ratoon.plans.refinery.result import PricedLimit
    from ratoon.plans.refinery.values import LIMITS
    from ratoon.web.sugar.refinery import _name

    places = {"most": "mills.M.", "tonnes": "sheds.S.", "in_rate": "sheds.S.",
              "out_rate": "sheds.S.", "store": "products.P."}  # fmt: skip
    for key, (side, unit) in LIMITS.items():
        for place in {places.get(key, "refinery."), "sheds.S." if key == "heel" else ""} - {""}:
            assert _name(PricedLimit(place + key, None, side, 1.0, unit))
