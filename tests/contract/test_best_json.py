"""`ratoon best`: keys, sums, and what is refused in one line."""

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.best.solve import Asked, best_of, ladder_of
from ratoon.jobs.mills import OpenMill, open_mill

from .conftest import DAY, NO_CRUSH, WRONG, Typed
from .shapes import has

LIMIT = {"address": str, "name": str, "unit": str, "side": str, "limit": float, "rated": float,
         "raised": bool, "value": float, "binds": bool, "price": float, "per": str,
         "holds_to": float, "source": str}  # fmt: skip
MOVE = {"address": str, "from": float, "to": float, "unit": str, "gain_a_day": float,
        "sigma": float, "by_itself": float, "stopped_by": str, "regime": str,
        "caution": str}  # fmt: skip


@pytest.fixture
def opened(mill_dir: Path) -> Iterator[OpenMill]:
    with open_mill(mill_dir) as one:
        yield one


def test_best(typed: Typed) -> None:
    answer = typed("best", DAY, "--draws", 5, "--json")
    assert (answer.code, answer.err) == (0, "")
    told = answer.json
    assert told["regime"]["name"] == "cane-limited"
    assert told["status"] == "best" and told["from"] == DAY
    money = told["money"]
    assert money["gain"] == pytest.approx(money["best"] - money["today"]) and money["gain"] >= 0.0
    assert money["low"] <= money["gain"] <= money["high"]
    for when in ("today", "best"):
        assert sum(t[when] for t in told["terms"]) == pytest.approx(money[when])
    for address, one in told["settings"].items():
        has(one, {"name": str, "unit": str, "today": float, "best": float, "low": float,
                  "high": float, "at": str, "source": str}, {"at"})  # fmt: skip
        slack = 1e-6 * max(abs(one["high"]), 1.0)
        assert one["low"] - slack <= one["today"] <= one["high"] + slack, address
        assert one["low"] - slack <= one["best"] <= one["high"] + slack, address
    assert told["limits"] and told["moves"] and len(told["moves"]) <= 3
    for row in told["limits"]:
        has(row, LIMIT, {"holds_to"})
        assert row["price"] >= 0.0 and (row["binds"] or row["price"] == 0.0)
    for row in told["moves"]:
        has(row, MOVE, {"by_itself"})
        assert row["gain_a_day"] > 1.96 * row["sigma"] > 0.0
    curve = told["curves"]["imbibition.on_fibre"]
    assert len(curve["points"]) == 9 and curve["flat"][0] <= curve["best"] <= curve["flat"][1]
    assert max(p["money"] for p in curve["points"]) <= money["best"] * (1.0 + 1e-6)
    assert told["without"] == []
    assert told["draws"]["count"] == 5 and 0 < told["draws"]["solved"] <= 5
    assert told["solver"]["breach"] < 1e-6
    assert any("Local codes" in line for line in told["cautions"])


def test_ladder(opened: OpenMill) -> None:
    told = to_json(ladder_of(opened, date.fromisoformat(DAY), Asked()))
    rates = [row["rate"] for row in told["as_run"]]
    assert rates == sorted(rates) and len(rates) > 5
    first, *_, last = told["at_best"]
    assert first["binds"] and first["more"]["to"] > first["more"]["from"] and first["gain"] > 0.0
    assert first["gain_a_season"] == pytest.approx(3000.0 * first["gain"])
    assert last["gain"] is None or last["money"] > first["money"]
    assert told["unlimited"] and {e["name"] for e in told["equipment"]}


@pytest.mark.parametrize(
    ("day", "asked", "said"),
    [
        (NO_CRUSH, Asked(draws=None), "no cane was crushed"),
        (DAY, Asked(draws=0), "1 to 20,000"),
        (DAY, Asked(draws=None, free={"liquor.brix": (60.0, 70.0)}), "wider than the mill file's"),
        (DAY, Asked(draws=None, free={"liquor.brix": (69.0, 66.0)}), "above high"),
        (DAY, Asked(draws=None, free={"cane.pol": (14.0, 15.0)}), "has no range in the mill file"),
        (DAY, Asked(draws=None, limits={"boiler.3.lode": (None, 1.0)}), "boiler.3.lode"),
        (DAY, Asked(draws=None, rate=1900.0), "no best state was found"),
        (DAY, Asked(draws=None, solver="simplex"), "unknown solver"),
    ],
)
def test_refused_in_one_line(opened: OpenMill, day: str, asked: Asked, said: str) -> None:
    with pytest.raises(RatoonError, match=said) as refused:
        best_of(opened, date.fromisoformat(day), asked)
    assert "\n" not in str(refused.value)


def test_a_crop_to_finish_needs_the_cost_of_an_hour(
    opened: OpenMill, monkeypatch: pytest.MonkeyPatch
) -> None:
    free = replace(opened.mill.settings.season, hour_cost=0.0)
    monkeypatch.setattr(opened.mill, "settings", replace(opened.mill.settings, season=free))
    with pytest.raises(RatoonError, match="what an hour of the season costs is not stated"):
        best_of(opened, date.fromisoformat(DAY), Asked("crop", draws=None))


def test_what_stands_in_the_way(typed: Typed) -> None:
    answer = typed("best", DAY, "--rate", 620, "--no-draws", "--json")
    assert answer.code == 1 and len(answer.lines) == 1
    told = answer.json
    assert told["status"] == "none found"
    ways = {(row["address"], row["side"]) for row in told["why_not"]["set"]}
    assert ("cane.rate", "low") in ways and len(ways) == 2
    other = next(row for row in told["why_not"]["set"] if row["address"] != "cane.rate")
    assert other["address"].endswith(".load") and other["limit"] == 100.0
    assert other["name"] in answer.err


def test_a_doubted_day_tells_only_what_holds_whichever_is_wrong(opened: OpenMill) -> None:
    """The mixed juice was read 8 % high."""
    told = best_of(opened, date.fromisoformat(WRONG), Asked("free", draws=None))
    assert "mixed_juice.flow" in {w.left_out for w in told.without}
    assert any("settle them first" in n for n in told.notes)
    for move in told.moves:
        up = move.to > move.from_
        assert all((w.moves[move.address] > move.from_) == up for w in told.without)


def test_a_limit_of_ones_own_holds_and_has_a_price(opened: OpenMill) -> None:
    asked = Asked(draws=None, rate="free", limits={"process_steam.on_cane": (None, 42.0)})
    told = best_of(opened, date.fromisoformat(DAY), asked)
    assert told.draws is None
    row = next(r for r in told.limits if r.address == "process_steam.on_cane")
    assert row.value <= 42.0 * (1.0 + 1e-6) or row.raised
    assert row.source == "asked for" and math.isfinite(row.price)
