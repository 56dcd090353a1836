"""Small textbook problems by the program's own path: against trying everything, and in closed form.

Transport: each whole tonne tried on each way (the transport problem of Hitchcock 1941, of which
whole supplies and demands have a whole best plan). Lot sizes with limited capacity and a cost of
keeping: each plan of whole lots tried. Single-period stock: the critical ratio (Arrow, Harris and
Marschak 1951; common practice in textbooks).
"""

from __future__ import annotations

import json
from itertools import product
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from ratoon import plan_year
from ratoon.plans.refinery.futures import drawn, whole_of
from ratoon.plans.refinery.model import year_of
from ratoon.plans.refinery.reading import read_case
from ratoon.plans.refinery.rule import rule_for

SPILL = 9


def transport(seed: int) -> dict[str, Any]:
    r = np.random.default_rng(seed)
    buyers = ["x", "y", "z"]
    mills = [{"name": f"m{m}", "brand": "raw", "make": int(r.integers(1, 5)),
              "cost": {b: int(r.integers(1, 9)) for b in buyers}} for m in range(3)]  # fmt: skip
    return {"weeks": 1, "mills": mills, "refinery": {"spill_cost": SPILL}, "sheds": [],
            "products": [], "orders": [], "buyers": [
                {"name": b, "brand": "raw", "most": int(r.integers(1, 6)),
                 "price": int(r.integers(0, 12))} for b in buyers]}  # fmt: skip


def tried(case: dict[str, Any]) -> float:
    """The most money over all whole shipments of each mill, those past a buyer's most left out."""
    buyers = case["buyers"]
    ways = []
    for mill in case["mills"]:
        made = mill["make"]
        whole = [f for f in product(range(made + 1), repeat=3) if sum(f) <= made]
        earned = [b["price"] - mill["cost"][b["name"]] for b in buyers]
        ways.append([(f, float(np.dot(f, earned)) - SPILL * (made - sum(f))) for f in whole])
    most = np.array([b["most"] for b in buyers])
    best = -np.inf
    for (a, x), (b, y) in product(ways[0], ways[1]):
        left = most - np.add(a, b)
        if (left >= 0).all():
            best = max(best, x + y + max(z for c, z in ways[2] if (left >= c).all()))
    return float(best)


@pytest.mark.parametrize("seed", range(20311302, 20311308))
def test_transport_is_what_trying_everything_finds(seed: int) -> None:
    case = transport(seed)
    assert plan_year(case, prices=False).money == pytest.approx(tried(case), abs=1e-6)


def lots(seed: int) -> dict[str, Any]:
    """One product in four weeks, at most three lots a week, each week its own order."""
    r = np.random.default_rng(seed)
    return {
        "weeks": 4, "sheds": [],
        "mills": [{"name": "m", "brand": "raw", "make": 3, "cost": [2, 5, 1, 3][seed % 4]}],
        "refinery": {"melt_most": 3, "spill_cost": int(r.integers(0, 3))}, "buyers": [],
        "products": [{"name": "p", "pack": 1000, "yield": 100, "value": int(r.integers(3, 8)),
                      "short_cost": int(r.integers(1, 6)), "keep_cost": int(r.integers(1, 4)),
                      "store": 4}],
        "orders": [{"order": str(w), "customer": "c", "product": "p",
                    "packs": int(r.integers(0, 5)), "earliest": w, "due": w}
                   for w in range(1, 5)],
    }  # fmt: skip


def lots_tried(case: dict[str, Any]) -> float:
    p, cost = case["products"][0], case["mills"][0]["cost"]
    due = [o["packs"] for o in case["orders"]]
    best = -np.inf
    for packed in product(range(4), repeat=4):
        for given in product(*(range(d + 1) for d in due)):
            held = np.cumsum(np.subtract(packed, given))
            if held.min() < 0 or held.max() > p["store"]:
                continue
            money = (p["value"] * sum(given) - p["short_cost"] * (sum(due) - sum(given))
                     - p["keep_cost"] * held.sum() - cost * sum(packed)
                     - case["refinery"]["spill_cost"] * (12 - sum(packed)))  # fmt: skip
            best = max(best, money)
    return float(best)


@pytest.mark.parametrize("seed", range(20311302, 20311306))
def test_lot_sizes_are_what_trying_everything_finds(seed: int) -> None:
    case = lots(seed)
    assert plan_year(case, prices=False).money == pytest.approx(lots_tried(case), abs=1e-6)


@pytest.mark.parametrize(("hire", "spill"), [(10.0, 40.0), (5.0, 100.0), (30.0, 50.0)])
def test_room_hired_before_sugar_is_known_is_at_the_critical_ratio(
    hire: float, spill: float
) -> None:
    """1,000 t give or take 100: room is hired to the quantile (spill - hire) / spill of what comes.

    Beside the normal's quantile within three standard errors of a sample's, and of the sample
    itself one of the two order statistics at the ratio.
    """
    case = read_case(json.dumps({
        "weeks": 1, "products": [], "orders": [], "buyers": [],
        "mills": [{"name": "m", "brand": "raw", "make": 1000, "sigma": 100, "most": 99999}],
        "sheds": [{"name": "s", "tonnes": 0}],
        "refinery": {"hire_cost": hire, "spill_cost": spill},
    }), "case")  # fmt: skip
    year = year_of(case)
    found = year.program.solved()
    assert found is not None
    make = drawn(case, np.random.default_rng(20311302), 2000)
    hired = rule_for(whole_of(case, year, found), make).hired[0]
    ratio, came = (spill - hire) / spill, np.sort(make[:, 0])
    place = int(ratio * 2000)
    assert came[place - 1] - 1e-6 <= hired <= came[place] + 1e-6
    normal = NormalDist(1000.0, 100.0)
    at = normal.inv_cdf(ratio)
    error = np.sqrt(ratio * (1 - ratio) / 2000) / normal.pdf(at)
    assert hired == pytest.approx(at, abs=3 * error)
