"""A case's file: what is wrong in it is refused in one line that says where."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from ratoon import plan_year
from ratoon.base.errors import BadInput
from ratoon.cli.app import run

from . import drawn

WRONG: list[tuple[str, Any, str]] = [
    ("weeks", 0, "weeks"), ("weeks", 2.5, "weeks"), ("weeks", "many", "weeks"),
    ("weeks", 10**9, "weeks"), ("mills.0.make.A", [1, 2], "mills[0].make.A"),
    ("mills.0.make.A", -3, "mills[0].make.A"), ("mills.0.name", "North", "name"),
    ("mills.0.name", "refinery", "name"), ("mills.0.name", 5, "mills[0].name"),
    ("mills.0.cost", {"Nowhere": 3}, "Nowhere"), ("mills.0.common", 5, "mills[0].common"),
    ("mills.0.sigma", [1], "mills[0].sigma"), ("mills.0.size", 1, "size"),
    ("sheds.0.tonnes", None, "sheds[0].tonnes"), ("sheds.0.heel", 1e9, "sheds.North.heel"),
    ("sheds.0.stock", 7, "sheds[0].stock"), ("sheds", {"North": 1}, "sheds"),
    ("products.0.yield", 0.95, "products[0].yield"), ("products.0.yield", 101, "yield"),
    ("products.0.pack", 0, "products[0].pack"), ("products.1.name", "p0", "products[1].name"),
    ("refinery.stops", [[3, 1]], "refinery.stops"), ("refinery.stops", [3], "refinery.stops"),
    ("refinery.stops", [["2031-01-01", 4]], "refinery.stops"),
    ("refinery.melt_least", 1e7, "refinery.melt_least"), ("refinery.pace", 1, "pace"),
    ("buyers.1.brand", "Z", "buyers.local.brand"), ("buyers.0.price", "dear", "buyers[0].price"),
    ("orders.0.product", "p", "orders[0].product"), ("orders.0.due", 0, "orders[0].due"),
    ("orders.0.due", 99, "orders[0].due"), ("orders.0.packs", True, "orders[0].packs"),
    ("orders.1.order", "p0-1", "orders[1].order"), ("orders.0.due", "2031-13-01", "orders[0].due"),
    ("brands", [], "pol"), ("keeping", [{"figure": "size", "rate": 1}], "keeping[0].figure"),
    ("from", "yesterday", "from"), ("left_value", float("nan"), "JSON"),
    ("mill_weeks", [{"mill": "mill 9", "week": 1, "brand": "A", "tonnes": 1}], "mill_weeks[0]"),
    ("mill_weeks", [{"mill": "mill 0", "week": 60, "brand": "A", "tonnes": 1}], "outside"),
    ("mill_weeks", 2 * [{"mill": "mill 0", "week": 1, "brand": "A", "tonnes": 1}], "twice"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "value", "named"), WRONG, ids=lambda x: str(x)[:40])
def test_what_is_wrong_is_refused_in_one_line(key: str, value: Any, named: str) -> None:
    case: Any = deepcopy(drawn.case(1, weeks=4))
    at: Any = case
    *path, last = key.split(".")
    for part in path:
        at = at[int(part)] if isinstance(at, list) else at[part]
    at[int(last) if isinstance(at, list) else last] = value
    with pytest.raises(BadInput) as refused:
        plan_year(case)
    line = str(refused.value)
    assert named in line and "\n" not in line


@pytest.mark.parametrize("text", ["", "[]", "{", '{"weeks": NaN}', "\x00", '{"weeks": 1e999}'])
def test_what_is_no_case_is_one_line(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.json"
    file.write_text(text)
    assert run(["refinery", "--case", str(file)]) == 1
    assert capsys.readouterr().err.count("\n") == 1


def test_an_empty_year_is_a_plan() -> None:
    told = plan_year({"weeks": 2, "mills": [], "sheds": [], "products": [], "buyers": [],
                      "orders": []})  # fmt: skip
    assert (told.status, told.money, len(told.weeks)) == ("best", 0.0, 2)


def test_weeks_of_a_mill_can_be_rows() -> None:
    case = {"from": "2031-11-03", "weeks": 2, "sheds": [], "products": [], "orders": [],
            "mills": [{"name": "m", "brand": "raw"}],
            "mill_weeks": [{"mill": "m", "week": "2031-11-10", "brand": "raw", "tonnes": 70}],
            "buyers": [{"name": "b", "brand": "raw", "price": 3}]}  # fmt: skip
    assert [w.sell["b"] for w in plan_year(case).weeks] == [0.0, 70.0]
