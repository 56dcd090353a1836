"""The next stop and the fuel from the store: by the contract, kept, and refused in one line."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from ratoon.base.as_json import schema, to_json
from ratoon.base.errors import RatoonError
from ratoon.demo.write import mill_text
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import OpenMill, open_mill
from ratoon.jobs.season.fuel import fuel_line, fuel_of, kept_fuel
from ratoon.jobs.season.stop_days import FaultAsked, kept_stops, stops_of
from ratoon.plans.season.fuel_answer import FuelAnswer
from ratoon.plans.season.stops_answer import StopsAnswer

FEW = 300
FIRST, AT = date(2031, 6, 10), date(2031, 7, 20)
ZONES = "zone,as_of,area,estimate,sigma,area_cut,cut\nTern,2031-06-01,16000,1240000,8,,\n"
READINGS = "address,start,end,value,unit,sigma,source,note\n"
SURVEY = READINGS + "store.bagasse.held,2031-07-05T06:00,,14000,t,400,survey,\n"


def _days() -> dict[str, str]:
    """Forty days at 27 t/h over 22 h; three without cane, at 16 t/h; and a survey among them."""
    days, flows = ["date,rain,cane,ccs,sugar,planned,rain_lost,no_cane"], READINGS
    for n in range((AT - FIRST).days):
        day = (FIRST + timedelta(days=n)).isoformat()
        wet = n in (20, 21, 22)
        days.append(f"{day},{40 if wet else 0},{0 if wet else 9900},{'' if wet else 13.5},"
                    f"{0 if wet else 1300},0,{24 if wet else 0},{0 if wet else 2}")  # fmt: skip
        net = -16.0 * 24 if wet else 27.0 * 22
        flows += f"bagasse.store.weight,{day},,{net:.0f},t,,belt,\n"
    return {"days": "\n".join(days) + "\n", "flows": flows, "zones": ZONES, "survey": SURVEY}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("ahead")
    (made / "mill.toml").write_text(mill_text(), encoding="utf-8")
    for name, text in _days().items():
        (made / f"{name}.csv").write_text(text)
    report = import_files(made, sorted(made.glob("*.csv")))
    assert not report.errors and not report.refused
    return made


@pytest.fixture
def opened(folder: Path) -> Iterator[OpenMill]:
    with open_mill(folder) as one:
        yield one


def test_the_fuel_by_the_contract(opened: OpenMill) -> None:
    told = to_json(fuel_of(opened, AT, FEW))
    assert set(told) == {"from", "store", "net", "cases", "worth_t", "advice", "currency",
                         "lacking"} == set(schema(FuelAnswer)["properties"])  # fmt: skip
    assert told["store"]["surveyed"] == "2031-07-05" and told["net"]["unit"] == "t/h"
    # fifteen days at 594 t since the survey; three days' burn lie before it
    assert told["store"]["value"] == pytest.approx(14000 + 15 * 594, rel=0.01)
    assert told["store"]["sigma"] > 400.0
    assert told["net"]["value"] == pytest.approx(27.0, rel=0.01)
    pairs = [(c["case"], c["burn"]) for c in told["cases"]]
    assert pairs == [(c, b) for c in ("rain", "stop", "end", "start")
                     for b in ("held", "low", "power")]  # fmt: skip
    for c in told["cases"]:
        assert set(c) == {"case", "burn", "lasts", "hours", "short", "asks"}
        assert set(c["hours"]) == set(c["short"]) == {"q05", "q25", "q50", "q75", "q95"}
        assert 0.0 <= c["lasts"] <= 1.0
    hours = {c["burn"]: c["hours"]["q50"] for c in told["cases"] if c["case"] == "end"}
    assert hours["held"] > hours["low"] > hours["power"]
    assert kept_fuel(opened, AT) is not None
    line = fuel_line(opened, AT)
    assert line is not None and line.startswith("22\u202f9") and "the next wet spell 9" in line


def test_the_stop_by_the_contract(opened: OpenMill) -> None:
    made = stops_of(opened, AT, futures=FEW)
    told = to_json(made)
    assert set(told) == {"from", "stop", "days", "rules", "advice", "fault", "currency",
                         "lacking"} == set(schema(StopsAnswer)["properties"])  # fmt: skip
    assert told["stop"]["date"] == "2031-08-06" and told["fault"] is None
    assert [d["date"] for d in told["days"]] == [f"2031-08-{n:02d}" for n in range(6, 12)]
    for d in told["days"]:
        assert set(d) == {"date", "hours_lost", "fouling", "risk", "age", "crew", "money", "sigma"}
        assert 6.0 < d["hours_lost"] <= 12.0 and d["fouling"] is None and d["age"] is None
    assert told["days"][0]["money"] == 0.0 and told["days"][0]["risk"] == 0.0
    assert told["days"][-1]["risk"] > told["days"][1]["risk"] > 0.0
    assert all(set(r) == {"rule", "money", "sigma"} for r in told["rules"])
    assert set(told["advice"]) == {"what", "gain", "sigma"}
    assert any("what scale costs" in words for words in told["lacking"])
    assert any("cane on hand" in words for words in told["lacking"])
    assert kept_stops(opened, AT) == made


def test_a_fault_is_weighed_and_not_kept(opened: OpenMill) -> None:
    kept = kept_stops(opened, AT)
    told = stops_of(opened, AT, FaultAsked("Mills", 250.0, 8.0, "0.05:60"), FEW)
    assert told.fault is not None and [c.choice for c in told.fault] == ["run", "slow", "stop"]
    run, slow, stop = (c.money for c in told.fault)
    assert run < stop < 0.0 and slow < stop
    assert kept_stops(opened, AT) == kept


@pytest.mark.parametrize(("asked", "words"), [
    (FaultAsked("pumps of nowhere", None, 8.0, "2%:40"), "unknown station"),
    (FaultAsked("", None, 8.0, ""), "a fault of no station"),
    (FaultAsked("mills", None, None, "2%:40"), "hours of the repair"),
    (FaultAsked("mills", None, -1.0, "2%:40"), "hours of the repair"),
    (FaultAsked("mills", 900.0, 8.0, "2%:40"), "is no slower rate"),
    (FaultAsked("mills", None, 8.0, ""), "chance of getting worse"),
    (FaultAsked("mills", None, 8.0, "40:2"), "chance of getting worse"),
    (FaultAsked("mills", None, 8.0, "nan%:2"), "chance of getting worse"),
    (FaultAsked("mills", None, float("nan"), "2%:40"), "hours of the repair"),
])  # fmt: skip
def test_a_fault_that_cannot_be_is_refused_in_one_line(
    opened: OpenMill, asked: FaultAsked, words: str
) -> None:
    with pytest.raises(RatoonError, match=words) as refused:
        asked.fault(opened.mill, 450.0)
    assert "\n" not in refused.value.line()


def test_what_nothing_tells_is_said(folder: Path, tmp_path: Path) -> None:
    """No survey, no [fuel], no planned stop: words instead of numbers; no flows, no answer."""
    text = mill_text()
    for table in ("[[planned_stops]]", "[fuel]"):
        while table in text:
            start = text.index(table)
            text = text[:start] + text[text.index("\n\n", start) :]
    (tmp_path / "mill.toml").write_text(text, encoding="utf-8")
    for name in ("days", "zones"):
        shutil.copy(folder / f"{name}.csv", tmp_path)
    assert not import_files(tmp_path, sorted(tmp_path.glob("*.csv"))).refused
    with open_mill(tmp_path) as one:
        with pytest.raises(RatoonError, match="no day with cane tells what it left over"):
            fuel_of(one, AT)
        none = stops_of(one, AT, futures=FEW)
    assert none.stop is None and none.days == () and none.advice.what == "no planned stop ahead"
    shutil.copy(folder / "flows.csv", tmp_path)
    assert not import_files(tmp_path, [tmp_path / "flows.csv"]).refused
    with open_mill(tmp_path) as one:
        told = fuel_of(one, AT, FEW)
    assert told.store.surveyed is None and told.store.sigma == pytest.approx(6000.0)
    assert told.worth_t is None and {c.burn for c in told.cases} == {"low"}
    assert {c.case for c in told.cases} == {"rain", "end"}
    said = " ".join(told.lacking)
    for words in ("a survey of the store", "fuel.other_price", "fuel.held", "fuel.power",
                  "fuel.low: taken as days without cane burnt, 16.0 t/h", "a planned stop",
                  "what the next start burns"):  # fmt: skip
        assert words in said
