"""The invented days are results: they open, and give the same JSON again."""

import pytest
from pydantic import TypeAdapter, ValidationError

from ratoon.account.results.day import DayResult
from ratoon.base.as_json import from_json, schema, to_json


def holds(part, whole, where="result"):
    """Assert that all of a JSON value is in another one, key by key."""
    if isinstance(part, dict):
        for key, value in part.items():
            holds(value, whole[key], f"{where}.{key}")
    elif isinstance(part, list):
        assert len(part) == len(whole), where
        for n, value in enumerate(part):
            holds(value, whole[n], f"{where}[{n}]")
    else:
        assert part == whole, where


def test_invented_days_open_and_come_back(any_day):
    made = from_json(DayResult, any_day)
    holds(any_day, to_json(made))
    assert from_json(DayResult, to_json(made)) == made


def test_json_is_what_the_library_that_makes_the_schema_gives(any_day):
    made = from_json(DayResult, any_day)
    assert to_json(made) == TypeAdapter(DayResult).dump_python(made, mode="json")
    known = schema(DayResult)
    assert set(to_json(made)) == set(known["properties"])
    assert set(known["required"]) <= set(known["properties"])
    assert "from" in known["$defs"]["ToDate"]["properties"]


def test_what_is_wrong_is_named(invented):
    day = invented["ordinary"]()
    del day["words"]["coverage"]
    day["figures"]["account.ccs"]["value"] = "much"
    day["status"] = "fine"
    with pytest.raises(ValidationError) as refused:
        from_json(DayResult, day)
    where = {".".join(map(str, e["loc"])) for e in refused.value.errors()}
    assert where == {"words.coverage", "figures.account.ccs.value", "status"}


def test_pol_in_cane_is_the_sum_of_its_parts(invented):
    for name in ("ordinary", "many_suspects", "apparent_gain"):
        day = invented[name]()
        parts = [p["pct"] for p in day["losses"].values()]
        parts += [day["pol"][k]["pct"] for k in ("sugar", "stock_change")]
        assert abs(sum(parts) - day["pol"]["cane"]["pct"]) < 1e-6
