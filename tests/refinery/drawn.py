"""A refinery's year drawn at random, as the JSON of a case."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import numpy as np

from ratoon import plan_year
from ratoon.plans.refinery.result import PricedLimit

Case = dict[str, Any]
BRANDS = [{"name": "A", "pol": 97.8, "colour": 2400}, {"name": "B", "pol": 98.9, "colour": 1500},
          {"name": "V", "pol": 99.3, "colour": 900}]  # fmt: skip


def case(
    seed: int, weeks: int = 12, mills: int = 3, products: int = 3, *, ages: bool = False
) -> Case:
    """A case in which sheds fill, orders press and quality binds; most of them have a plan."""
    r = np.random.default_rng(seed)
    season = np.arange(weeks) < 0.45 * weeks
    names = [b["name"] for b in BRANDS]

    def some(low: float, high: float, digits: int = 2) -> float:
        return round(float(r.uniform(low, high)), digits)

    def made() -> list[float]:
        return [some(800, 1600, 3) * bool(on) for on in season]

    packs = [15, 25, 1000, 500, 50, 1]
    whole = 1.8 * weeks * mills * 600  # t of raw sugar, about what a year makes
    drawn: Case = {
        "weeks": weeks,
        "mills": [{"name": f"mill {m}", "brand": names, "make": {b: made() for b in names},
                   "cost": some(8, 25), "most": 4500, "sigma": 300, "common": 0.05}
                  for m in range(mills)],
        "sheds": [
            {"name": "North", "tonnes": round(0.42 * whole), "heel": 500, "in_rate": 60,
             "out_rate": 50, "stock": {"A": 3000, "B": 1000}},
            {"name": "South", "tonnes": round(0.3 * whole), "heel": 300, "in_rate": 45,
             "out_rate": 45, "stock": {"V": 2000}, "cost": 4},
        ],
        "refinery": {"melt_least": 300, "melt_most": round(0.5 * whole / weeks), "pol_least": 98.2,
                     "stops": [[weeks // 2, weeks // 2]], "colour_most": 1800, "heel": 1500,
                     "hire_cost": 6, "hire_most": round(0.03 * whole), "spill_cost": 300},
        "products": [{"name": f"p{i}", "pack": packs[i], "yield": some(93, 97), "store": 900 + i,
                      "value": some(650, 900), "short_cost": some(120, 400)}
                     for i in range(products)],
        "buyers": [{"name": "export", "brand": names, "most": round(mills * some(1300, 1800)),
             "price": 410},
                   {"name": "local", "brand": "B", "most": 400, "price": 455}],
        "orders": [], "brands": BRANDS, "left_value": 330,
    }  # fmt: skip
    for p in drawn["products"]:
        for due in range(1, weeks, 2):
            tonnes = some(0.7, 1.5) * 0.4 * whole / weeks / products * 2
            drawn["orders"].append({
                "order": f"{p['name']}-{due}", "customer": "Baker", "product": p["name"],
                "packs": round(1000 * tonnes / p["pack"]), "earliest": max(due - 3, 1),
                "due": due + 1,
            })  # fmt: skip
    if ages:
        drawn["keeping"] = [{"figure": "pol", "rate": 0.02}, {"figure": "colour", "rate": 3}]
    return drawn


def moved(case: dict[str, Any], limit: PricedLimit, by: float) -> float:
    """Money of the case with a limit moved in its JSON."""
    kind, name, key = [*limit.name.split(".", 2), ""][:3]
    again = deepcopy(case)
    if kind == "refinery":
        again["refinery"][name] += by
    else:
        next(x for x in again[kind] if x["name"] == name)[key] += by
    money = plan_year(again, prices=False).money
    assert money is not None
    return money
