"""The page Floor: what a kept plan says in words, and what it says where there is none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ratoon.demo.write import mill_text
from ratoon.plans.floor.result import (
    FloorAim,
    FloorChoke,
    FloorDay,
    FloorResult,
    FloorSlows,
    FloorStrike,
    HighestRate,
)
from ratoon.plans.floor.words import highest_words
from ratoon.settings.read import parse_settings
from ratoon.web.days import DayPlace
from ratoon.web.strikes.floor import floor_page

PLACE = DayPlace("2031-08-14", "2031-08-13", "", "2031-06-10", "2031-08-14")
PLAN = FloorResult(
    "optimal", 0.0, 0.0,
    (FloorAim("slow", 0.0, 0.0, "optimal"), FloorAim("load:steam", 70.4, 64.0, "feasible")),
    (FloorStrike("A1", "A", -1.5, 2.0), FloorStrike("A2", "A", 0.5, 4.0),
     FloorStrike("C1", "C", -7.0, -1.0)),
    {"liquor": [(0.0, 200.0), (0.5, 248.0), (0.5, 215.0), (1.0, 263.0)]},
    (FloorChoke("stores.liquor.max", 1.0),), (), 3.0,
)  # fmt: skip
MOST = HighestRate(541.4, 545.0, ("stores.A_receivers.drain", "stores.A_receivers.max",
                                  "stores.liquor.max"), True)  # fmt: skip
TOLD = FloorDay("2031-08-15T06:00+10:00", 470.0, PLAN, MOST, {"liquor": 400.0})


def test_the_plan_is_told_by_the_clock_and_in_words() -> None:
    page = floor_page(PLACE, "Thursday", "Mill", parse_settings(mill_text()), TOLD)
    assert page.at == "15 August, 06:00" and page.rate == "470"
    assert page.strikes == (("A1", "A", "boils", "15 August, 08:00"),
                            ("A2", "A", "15 August, 06:30", "15 August, 10:00"))  # fmt: skip
    assert page.tanks == (("liquor", "200", "200", "263", "400"),)
    assert page.limits == (("liquor: full", "15 August, 07:00"),)
    assert page.aims[0][2] == "proved" and page.aims[1][2] == "no plan passes 64.0 t/h"
    assert page.highest == ("541 t/h; at 545 t/h no plan keeps A receivers: centrifugals, full;"
                            " liquor: full")  # fmt: skip
    assert page.picture.count("<title>") == 2 and not page.slows
    likely = replace(TOLD, slows=FloorSlows(0.31, 0.27, 0.36, 14.0))
    said = floor_page(PLACE, "", "", parse_settings(mill_text()), likely).slows
    assert said.startswith("31 % (27 to 36), in the mean 14 m³")


def test_where_there_is_no_plan_the_limits_are_named() -> None:
    none = replace(PLAN, status="infeasible", strikes=(), stores={}, aims=(), chokes=(),
                   without=("least.A", "stores.liquor.min"))  # fmt: skip
    page = floor_page(PLACE, "", "", parse_settings(mill_text()), replace(TOLD, plan=none))
    assert page.status == "no plan keeps all limits: A; liquor: empty" and not page.picture
    assert "highest asked" in highest_words(HighestRate(705.0, None, (), True))
    assert highest_words(HighestRate(500.0, 505.0, (), False)).endswith(
        "(at some rate time ran out)"
    )


@pytest.mark.usefixtures("works_mill")
def test_the_page_and_its_json_tell_the_same(works_client, works_mill: Path) -> None:  # type: ignore[no-untyped-def]
    page = works_client.get("/floor/2031-06-12")
    told = works_client.get("/floor/2031-06-12?format=json").json()
    assert page.status_code == 200 and "The pan floor from 12 June, 20:00" in page.text
    assert set(told) == {"at", "rate", "plan", "highest", "holds", "slows"}
    assert told["slows"] is None and "chance of holding liquor back" not in page.text  # no plan
    assert (
        told["highest"]["refused"] is None or told["highest"]["refused"] > told["highest"]["rate"]
    )
    lone = works_client.get("/floor/2031-06-11").text
    assert "no strike of the day is on record" in lone
