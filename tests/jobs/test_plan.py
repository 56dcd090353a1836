"""Plan and costs from files to the bridge: kept once, refused in one line, added up."""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from ratoon.base.as_json import schema, to_json
from ratoon.base.errors import RatoonError
from ratoon.demo.budget import AGAIN, MADE, write_budget
from ratoon.demo.write import mill_text
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import open_mill
from ratoon.jobs.season.ahead import ahead_of_day
from ratoon.jobs.season.bridge import bridge_of, kept_bridge
from ratoon.jobs.season.plan import booked, plan_weeks, planned_for, season_plan
from ratoon.plans.bridge.result import Bridge
from ratoon.store.cane import kept as stored

HEAD = "week,cane,ccs,fibre,rate,hours,extraction,recovery,sugar,sugar_price,cane_price,"
HEAD += "other_cost,source"
FEW = {
    "plan": f"{HEAD}\n2031-06-11,60000,13,15,420,142.9,96,89,7400,600,52,1400000,board\n"
            "2031-06-16,,,,,,,,,,,,\n",
    "costs": "week,account,amount,unit,note\n2031-06-11,wages,612000,money,\n"
             "2031-06-11,chemicals,1.9,money/t,\n2031-06-16,wages,-5,$,credit\n",
}  # fmt: skip


def _mill(folder: Path, url: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "mill.toml").write_text(mill_text(), encoding="utf-8")
    if url:
        (folder / "database.url").write_text(url)
    return folder


@pytest.mark.parametrize("what", FEW)
@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_files_come_in_once_and_change_with_a_reason_alone(
    tmp_path: Path, what: str, on: str, request: pytest.FixtureRequest
) -> None:
    url = ""
    if on == "postgresql":
        new: Callable[[], str] = request.getfixturevalue("new_database")
        url = new()
    folder, file, text = _mill(tmp_path, url), tmp_path / f"{what}.csv", FEW[what]
    rows = text.count("\n") - 1

    def sent(text: str, correct: str | None = None) -> tuple[int, int, int, int]:
        file.write_text(text)
        (made,) = import_files(folder, [file], correct).files
        return made.accepted, made.unchanged, made.corrected, len(made.refused)

    assert sent(text) == (rows, 0, 0, 0)
    assert sent(text) == (0, rows, 0, 0)
    other = text.replace(",60000,", ",60001,").replace("612000", "612001")
    assert sent(other) == (0, rows - 1, 0, 1)
    assert sent(other, "read again") == (0, rows - 1, 1, 0)
    with open_mill(folder) as opened:
        assert opened.store.verify() == []


def test_a_later_plan_stands_beside_the_first(tmp_path: Path) -> None:
    """Two plans of one date are refused, week by week; the first is there for ever."""
    folder = _mill(tmp_path)
    first, later, more = (tmp_path / f"{n}.csv" for n in ("first", "later", "more"))
    first.write_text(FEW["plan"])
    later.write_text(f"{HEAD},made\n2031-06-16,50000,,,,,,,,,,,,2031-06-12\n")
    more.write_text(f"{HEAD},made\n2031-06-23,50000,,,,,,,,,,,,2031-06-08\n")
    *good, bad = import_files(folder, [first, later, more]).files
    assert [f.accepted for f in good] == [2, 1] and bad.accepted == 0
    (line,) = bad.refused
    assert "a plan of 2031-06-08 without this week stands in first.csv" in line.reason
    with open_mill(folder) as opened:
        weeks = [(str(w.made), str(w.week), w.cane) for w in plan_weeks(opened)]
        assert weeks == [("2031-06-08", "2031-06-09", 60000.0), ("2031-06-08", "2031-06-16", None),
                         ("2031-06-12", "2031-06-16", 50000.0)]  # fmt: skip
        found = planned_for(opened, date(2031, 6, 16), date(2031, 6, 22))
        assert found is not None and found.made == date(2031, 6, 12)
    assert import_files(folder, [more], "it belongs to it").files[0].accepted == 1


def test_a_mill_file_without_seasons_takes_weeks_whole(tmp_path: Path) -> None:
    """Nobody said when the season began, so no week is cut short by its beginning."""
    folder, file = _mill(tmp_path), tmp_path / "plan.csv"
    text = mill_text().replace("season_start = 2031-06-10", "")
    (folder / "mill.toml").write_text(text.replace("earlier_seasons = [2030-06-11]", ""))
    file.write_text(f"{HEAD}\n2031-06-11,70000,,,,,,,,,,,\n")
    assert not import_files(folder, [file]).refused
    with open_mill(folder) as opened:
        part = planned_for(opened, date(2031, 6, 11), date(2031, 6, 13))
        whole = season_plan(opened, date(2031, 6, 13))
    assert part is not None and part.cane == pytest.approx(30_000)
    assert whole is not None and whole.cane == 70_000


BAD = [
    ("plan", ",13,15,", ",0.13,15,"), ("plan", ",96,89,", ",0.96,89,"), ("plan", "60000", "-1"),
    ("plan", ",7400,", ",74000,"), ("plan", "142.9", "170"), ("plan", "2031-06-11", "2031-06-31"),
    ("plan", "2031-06-11", "2031-06-11T06:00"), ("costs", "612000", "much"),
    ("costs", "612000", ""), ("costs", "wages", ""), ("costs", "wages", "w" * 61),
    ("costs", "money/t", "kg"), ("costs", ",money,", ",€,"),
    ("costs", "2031-06-16", ""), ("costs", "612000", "1e13"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "old", "new"), BAD)
def test_a_row_that_cannot_be_is_refused_and_not_stored(
    tmp_path: Path, what: str, old: str, new: str
) -> None:
    file, text = tmp_path / f"{what}.csv", FEW[what]
    assert old in text
    file.write_text(text.replace(old, new, 1))
    (made,) = import_files(_mill(tmp_path / "mill"), [file]).files
    assert len(made.refused) == 1 and "\n" not in made.refused[0].reason
    assert made.accepted == 0  # half a plan would mislead


def test_damaged_files_are_told_in_one_line_each_and_store_what_they_say(tmp_path: Path) -> None:
    """Letters changed, lost and doubled anywhere: rows accepted are what stands, nothing more."""
    dice, folder = random.Random(20310520), _mill(tmp_path / "mill")
    files = []
    for n in range(40):
        text = list(FEW["plan" if n % 2 else "costs"])
        for _ in range(dice.randint(1, 6) if n else 0):  # the first stays whole
            at = dice.randrange(len(text))
            text[at] = dice.choice(["", text[at] * 2, ",", "\n", "-", "9", "\x00", "é", '"'])
        files.append(tmp_path / f"damaged-{n}.csv")
        files[-1].write_text("".join(text), encoding="utf-8")
    report = import_files(folder, files)
    lines = [*report.errors, *(r.reason for f in report.files for r in f.refused)]
    assert lines and all(line and "\n" not in line for line in lines)
    assert all(not f.accepted for f in report.files if f.error)
    with open_mill(folder) as opened:
        held = [opened.store.ask(stored.records, kind) for kind in ("plan week", "cost")]
        assert sum(map(len, held)) == sum(f.accepted for f in report.files) > 0
        assert opened.store.verify() == []


def test_the_demonstrations_plan_and_costs(tmp_path: Path) -> None:
    """Two plans of the season; costs of whole weeks alone, the first short by the season."""
    folder = _mill(tmp_path / "mill")
    (folder / "input").mkdir()
    days = [date(2031, 6, 10) + timedelta(days=n) for n in range(20)]
    write_budget(folder, dict.fromkeys(days, 9000.0), 2031)
    report = import_files(folder, sorted((folder / "input").iterdir()))
    assert not report.errors and not report.refused
    with open_mill(folder) as opened:
        assert {w.made for w in plan_weeks(opened)} == {MADE, AGAIN}
        season = season_plan(opened, days[-1])
        assert season is not None and season.made == MADE
        assert season.cane == pytest.approx(1.3e6, rel=1e-3)
        assert season.recovery == pytest.approx(88.6)
        assert [len(rows) for rows in booked(opened, days[0], days[-1]).values()] == [4, 4, 4]
        assert len(booked(opened, days[1], days[-1])) == 2  # the first week is not whole then


KEYS = {"plan", "from", "to", "currency", "sugar", "money", "steps", "costs"}
FIRST, LAST = date(2031, 6, 10), date(2031, 6, 12)


@pytest.fixture(scope="module")
def mill(invented_days: Callable[[int], Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three days of the invented mill, with its plan and a week's costs, nothing accounted."""
    folder = tmp_path_factory.mktemp("planned") / "mill"
    made = invented_days(3)
    (folder / "input").mkdir(parents=True)
    shutil.copy(made / "mill.toml", folder)
    files = [f for f in sorted((made / "input").iterdir())
             if any(kind in f.name for kind in ("readings", "stops", "plan"))]  # fmt: skip
    report = import_files(folder, files)
    assert not report.refused and not report.errors
    return folder


def test_the_answer_has_the_contracts_keys_and_adds_up(mill: Path) -> None:
    with open_mill(mill) as opened:
        made = bridge_of(opened)
        told: dict[str, Any] = json.loads(json.dumps(to_json(made.bridge)))
        assert kept_bridge(opened, FIRST, LAST) == made == bridge_of(opened, FIRST, LAST)
    assert set(told) == KEYS == set(schema(Bridge)["properties"])
    assert (told["from"], told["to"], told["plan"]) == (str(FIRST), str(LAST), str(MADE))
    for of in ("sugar", "money"):
        assert set(told[of]) == {"plan", "actual", "forecast"}
        assert sum(s[of] for s in told["steps"]) == told[of]["actual"] - told[of]["plan"]
    assert (
        sum(s["shapley"] for s in told["steps"]) == told["money"]["actual"] - told["money"]["plan"]
    )
    assert {frozenset(s) for s in told["steps"]} == {
        frozenset({"cause", "sugar", "money", "sigma", "shapley"})
    }
    assert {frozenset(c) for c in told["costs"]} == {
        frozenset({"account", "plan", "actual", "per_t_cane"})
    }
    causes = [s["cause"] for s in told["steps"]]
    assert causes.index("rate") < causes.index("CCS") < causes.index("extraction")
    assert {"loss: molasses", "loss: undetermined", "price of sugar"} < set(causes)
    assert all(s["sigma"] > 0.0 for s in told["steps"] if s["cause"] in ("CCS", "extraction"))
    assert made.words[1].startswith("no costs are booked")
    with open_mill(mill) as opened:
        weeks = [w for w in plan_weeks(opened) if w.made == MADE]
    assert made.season.money == pytest.approx(sum(
        (w.sugar or 0) * (w.sugar_price or 0) - (w.cane or 0) * (w.cane_price or 0)
        - (w.other_cost or 0) for w in weeks), rel=1e-9)  # fmt: skip


def test_costs_come_in_and_the_bridge_is_made_anew(mill: Path, tmp_path: Path) -> None:
    """A week that is not over is not booked; per tonne of cane by what was crushed."""
    file = tmp_path / "costs.csv"
    file.write_text(FEW["costs"])
    assert not import_files(mill, [file]).refused
    with open_mill(mill) as opened:
        assert kept_bridge(opened, FIRST, LAST) is None
        assert [c.account for c in bridge_of(opened).bridge.costs] == ["cane", "all other cost"]


def test_the_sheet_has_the_plan_beside_week_and_season(mill: Path) -> None:
    with open_mill(mill) as opened:
        told = ahead_of_day(opened, LAST, {"week": str(FIRST), "season": str(FIRST)})
        assert told is not None and told.plan is not None and told.finish is None
        assert told.plan.week == told.plan.season
        assert told.plan.week["account.cane"] == pytest.approx(54549 / 2)
        assert ahead_of_day(opened, date(2030, 7, 1), {"week": "2030-07-01"}) is None
        morning = opened.mill.calendar.period(date(2030, 7, 2))
        cases = [{"case": "rain", "burn": "low", "lasts": 0.9}]
        kept = {"store": {"value": 5000.0, "sigma": 300.0}, "cases": cases}
        opened.store.add_result("fuel", morning, "", {}, kept)
        told = ahead_of_day(opened, date(2030, 7, 1), {"week": "2030-07-01"})
        assert told is not None and told.fuel.endswith(
            "chance that it lasts the next wet spell 90 %"
        )


@pytest.mark.parametrize(("first", "last", "words"), [
    (date(2031, 6, 12), date(2031, 6, 11), "ends before it begins"),
    (None, date(2031, 6, 13), "nothing is on record yet"),
    (date(2030, 6, 12), LAST, "two seasons"),
    (date(2030, 6, 12), date(2030, 6, 13), "no readings and no stop"),
])  # fmt: skip
def test_a_span_that_cannot_be_is_refused_in_one_line(
    mill: Path, first: date | None, last: date, words: str
) -> None:
    with open_mill(mill) as opened, pytest.raises(RatoonError) as refused:
        bridge_of(opened, first, last)
    assert words in str(refused.value) and "\n" not in str(refused.value)


def test_without_a_plan_it_says_what_to_do(
    invented_days: Callable[[int], Path], tmp_path: Path
) -> None:
    folder = _mill(tmp_path / "mill")
    with open_mill(folder, create=True) as opened, pytest.raises(RatoonError, match="no mill day"):
        bridge_of(opened)
    import_files(folder, [invented_days(3) / "input" / f"{FIRST}-stops.csv"])
    with open_mill(folder) as opened, pytest.raises(RatoonError, match="no plan has a day of it"):
        bridge_of(opened)


def test_a_span_whose_sugar_nobody_knows_is_no_bridge_to_zero(tmp_path: Path) -> None:
    folder = _mill(tmp_path / "mill")
    plan, read = tmp_path / "plan.csv", tmp_path / "read.csv"
    plan.write_text(FEW["plan"])
    read.write_text("address,start,end,value,unit,sigma,source,note\n"
                    "limed_juice.ph,2031-06-11,,7.6,pH,0.1,,\n")  # fmt: skip
    report = import_files(folder, [plan, read])
    assert not report.refused and not report.errors
    with open_mill(folder) as opened, pytest.raises(RatoonError) as refused:
        bridge_of(opened)
    assert "do not determine cane and sugar" in str(refused.value)
    assert "\n" not in str(refused.value)
