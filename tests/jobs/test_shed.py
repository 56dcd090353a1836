"""``ratoon shed`` on the demonstration's own sugar: what was planted is named, and nothing else."""

from __future__ import annotations

import json
import sqlite3
import subprocess
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from ratoon.base.as_json import schema, to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.demo import season
from ratoon.demo.sugar_store import DOWN, EXCHANGED, HEADS, HOT, write_sugar
from ratoon.demo.write import mill_text
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import open_mill
from ratoon.jobs.season.ahead import ahead_of_day
from ratoon.jobs.sugar import refinery
from ratoon.jobs.sugar.refinery import case_of, keep_sugar, kept_refinery, refinery_of
from ratoon.jobs.sugar.shed import kept_shed, shed_of
from ratoon.plans.refinery.result import RefineryAnswer
from ratoon.plans.shed.answer import ShedAnswer

AT = season.FIRST + timedelta(days=season.DAYS)
CELL = {"cell", "t", "oldest_days", "lots", "pol", "safety_factor", "caution"}
SHED = {"shed", "book", "stock", "survey", "cells", "path", "full", "empty", "cover_days"}
ZONES = "zone,as_of,area,estimate,sigma,area_cut,cut\nTern,2031-06-01,15000,1300000,8,,\n"


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A mill whose sugar alone is on record, with its days in short form."""
    folder = tmp_path_factory.mktemp("sugar")
    (folder / "mill.toml").write_text(mill_text(), encoding="utf-8")
    (folder / "input").mkdir()
    days = {season.FIRST + timedelta(days=n): 0.0 if n in (13, 14, 41, 42) else 1120.0
            for n in range(season.DAYS)}  # fmt: skip
    told = write_sugar(folder, days, 2031)
    (folder / "told.json").write_text(json.dumps(told))
    rows = "\n".join(f"{d},0,{8.1 * t:.0f},14.0,{t:.0f},0,{0 if t else 20},1"
                     for d, t in days.items())  # fmt: skip
    (folder / "input" / "earlier-days.csv").write_text(
        f"date,rain,cane,ccs,sugar,planned,rain_lost,no_cane\n{rows}\n"
    )
    (folder / "input" / "zones.csv").write_text(ZONES)
    report = import_files(folder, sorted((folder / "input").glob("*.csv")))
    assert not report.refused and not report.errors
    return folder


@pytest.fixture(scope="module")
def answer(stored: Path) -> ShedAnswer:
    with open_mill(stored) as opened:
        return shed_of(opened, AT, 400)


def test_the_keys_and_the_form_of_the_answer(answer: ShedAnswer) -> None:
    told: Any = to_json(answer)
    assert set(told) >= {"from", "sheds", "advice"}
    for one in told["sheds"]:
        assert set(one) >= SHED
        assert set(one["stock"]) == {"value", "sigma"}
        assert all(set(c) >= CELL for c in one["cells"])
        assert all(set(p) == {"lot", "t"} for c in one["cells"] for p in c["lots"])
        assert all(set(w) == {"week", "q05", "q25", "q50", "q75", "q95"} for w in one["path"])
        assert set(one["full"]) == {"chance", "date"} == set(one["empty"])
        assert sum(c["t"] for c in one["cells"]) == pytest.approx(one["book"], abs=1e-6)
        assert all(w["q05"] <= w["q50"] <= w["q95"] <= one["room"] * 1.2 for w in one["path"])
    assert all(set(a) == {"what", "gain", "sigma", "caution"} for a in told["advice"])
    assert "sheds" in schema(ShedAnswer)["properties"]
    assert answer.held == ()


def test_what_was_planted_is_named(stored: Path, answer: ShedAnswer) -> None:
    north = answer.sheds[0]
    assert north.survey is not None and north.survey.significant
    assert -5500.0 < north.survey.difference < -3500.0
    true = json.loads((stored / "told.json").read_text())[-1]
    for one in answer.sheds:
        assert abs(one.stock.value - true[one.shed]) < 3.0 * one.stock.sigma
    hot, *others = answer.advice
    (swapped,) = [a for a in others if "exchanged" in a.caution]
    assert f"lot K{HOT[0]:%m%d}{HOT[1] + 1} went in at 53.4 °C" in hot.caution
    assert "North/" in hot.caution and hot.gain is None  # before money
    assert all(f"{name}{EXCHANGED:%m%d}" in swapped.caution for name in "KH")
    gains = [a.gain for a in answer.advice if a.gain is not None]
    assert gains and min(gains) > 0.0
    assert [a.gain is None for a in answer.advice] == sorted(
        [a.gain is None for a in answer.advice], reverse=True
    )
    mill, week = DOWN
    rows = (stored / "input" / "mill-weeks.csv").read_text().splitlines()
    assert [row for row in rows if row.endswith(",0,")] == [f"{mill},{week},Brand 1,0,"]
    with open_mill(stored) as opened:
        earlier = shed_of(opened, date(2031, 7, 20), 200).sheds[0].survey
    assert earlier is not None and not earlier.significant
    assert -1500.0 < earlier.difference < -500.0


def test_the_line_of_the_morning_and_what_is_kept(stored: Path, answer: ShedAnswer) -> None:
    day = AT - timedelta(days=1)
    with open_mill(stored) as opened:
        assert kept_shed(opened, AT) == answer
        ahead = ahead_of_day(opened, day, {})
    assert ahead is not None and ahead.shed == answer.line
    assert "53.4 °C" in ahead.shed and "chance of full" in ahead.shed


def test_sheds_are_kept_for_who_looks_first_and_a_mill_without_a_refinery_is_no_fault(
    stored: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, other = tmp_path / "here", AT - timedelta(days=2)
    subprocess.run(["cp", "-r", str(stored), str(here)], check=True)
    asked = []

    def none(_: Any, at: date) -> None:
        asked.append(at)
        raise BadInput("no refinery")

    monkeypatch.setattr(refinery, "make_refinery", none)
    with open_mill(here) as opened:
        assert kept_shed(opened, other) is None
        keep_sugar(opened, other - timedelta(days=1))
        assert kept_shed(opened, other) is not None and asked == [other]


def test_the_refinerys_year_by_the_contract(stored: Path) -> None:
    with open_mill(stored) as opened:
        told: Any = to_json(refinery_of(opened, AT, prices=False))
        assert kept_refinery(opened, AT) is None  # a year without its prices is not kept
    assert {"from", "status", "money", "weeks", "limits", "rule", "chance", "spill", "shortage",
            "why_not"} <= set(told) == set(schema(RefineryAnswer)["properties"])  # fmt: skip
    assert told["status"] == "best" and told["from"] == AT.isoformat()
    first, mills = told["weeks"][0], {"Kestrel Point", "Bittern Creek", "Saltpan", "Heron Bar"}
    assert set(first) == {"start", "make", "haul", "melt", "pack", "sell", "short", "stock"}
    assert set(first["make"]) == mills and set(first["stock"]) == {"North", "South", "refinery"}
    assert set(first["haul"][0]) == {"from", "to", "brand", "t"}
    assert set(told["rule"][0]) == {"week", "buyer", "plan", "answer"}
    assert set(told["chance"]) == {"full", "empty", "short"}
    assert set(told["spill"]) == {"q05", "q25", "q50", "q75", "q95"} == set(told["shortage"])
    lacking = "\n".join(told["lacking"])
    for what in ("orders from", "spill_cost", "left_value", "packed at the start", "sister mill"):
        assert what in lacking


def test_a_sister_mill_can_be_told_by_its_own_folder(stored: Path, tmp_path: Path) -> None:
    """Its own forecast comes in; a folder without a mill is one line."""
    lots = tmp_path / "lots.csv"
    lots.write_text(",".join(HEADS["lots"]) + "\nL1,2031-06-12T06:00,2031-06-12T14:00,,B,400,98.9,"
                    ",,,North,7\n")  # fmt: skip
    for folder, right in ((stored, True), (tmp_path, False)):
        here = tmp_path / str(right)
        here.mkdir()
        of = folder if right else folder / "gone"
        text = mill_text().replace('name = "Saltpan"', f'name = "Saltpan"\nfolder = "{of}"')
        (here / "mill.toml").write_text(text, encoding="utf-8")
        import_files(here, [lots])
        with open_mill(here) as opened:
            if not right:
                with pytest.raises(BadInput, match=r"sister_mills Saltpan, folder.*no such folder"):
                    case_of(opened, AT)
                continue
            case = case_of(opened, AT)
        mill = case.mills["Saltpan"]
        assert mill.futures is not None and mill.make["Brand 1"][0] > 1000.0
        assert not case.mills["Heron Bar"].make["VHP"].any()
        assert "Heron Bar" in "\n".join(case.lacking)


@pytest.mark.parametrize(("more", "words"), [(1, "newer ratoon"), (-1, "not looked at")])
def test_a_sister_mill_s_records_of_another_version_are_one_line(
    stored: Path, tmp_path: Path, more: int, words: str
) -> None:
    """They are looked at, never brought up to date from here."""
    sister = tmp_path / "sister"
    subprocess.run(["cp", "-r", str(stored), str(sister)], check=True)
    with sqlite3.connect(sister / "ratoon.db") as base:
        base.execute("update meta set value = value + ? where key = 'schema'", (more,))
        base.execute("update alembic_version set version_num = version_num + ?", (more,))
    base.close()
    before = (sister / "ratoon.db").read_bytes()
    here = tmp_path / "here"
    here.mkdir()
    text = mill_text().replace('name = "Saltpan"', f'name = "Saltpan"\nfolder = "{sister}"')
    (here / "mill.toml").write_text(text, encoding="utf-8")
    lots = tmp_path / "lots.csv"
    lots.write_text(",".join(HEADS["lots"]) + "\nL1,2031-06-12T06:00,2031-06-12T14:00,,B,400,98.9,"
                    ",,,North,7\n")  # fmt: skip
    import_files(here, [lots])
    with open_mill(here) as opened, pytest.raises(BadInput) as refused:
        case_of(opened, AT)
    assert "sister_mills Saltpan, folder" in str(refused.value) and words in str(refused.value)
    assert "\n" not in refused.value.line()
    assert (sister / "ratoon.db").read_bytes() == before


def test_a_refinery_without_records_is_one_line(tmp_path: Path) -> None:
    text = mill_text()
    cut = text.index("[refinery]"), text.index("[[spread_products]]")
    (tmp_path / "mill.toml").write_text(text[: cut[0]] + text[cut[1] :], encoding="utf-8")
    with open_mill(tmp_path, create=True) as opened:
        with pytest.raises(BadInput, match="no refinery"):
            refinery_of(opened, AT)
        with pytest.raises(RatoonError, match="no records yet"):
            refinery_of(opened)


def test_little_on_record_is_said_and_widens(tmp_path: Path) -> None:
    text = mill_text()
    first, last = text.index("[[sheds]]"), text.index("[[sister_mills]]")
    bare = text[:first] + '[[sheds]]\nname = "A"\n\n' + text[last:]
    (tmp_path / "mill.toml").write_text(bare, encoding="utf-8")
    lots = tmp_path / "lots.csv"
    lots.write_text(",".join(HEADS["lots"]) + "\nL1,2031-06-12T06:00,2031-06-12T14:00,,B,400,,,,,"
                    "A,7\n")  # fmt: skip
    moves = tmp_path / "movements.csv"
    moves.write_text(",".join(HEADS["movements"])
                     + "\nM9,2031-06-13T06:00,melt,A/7,refinery,401,,\n")  # fmt: skip
    # more than its cell holds: kept as it was written, named, and moves nothing
    assert [f.accepted for f in import_files(tmp_path, [lots, moves]).files] == [1, 1]
    with open_mill(tmp_path) as opened:
        told = shed_of(opened, date(2031, 6, 20), 100)
    (one,) = told.sheds
    assert told.held == ("movement M9 takes 401.0 t from A/7, which holds 400.0 t: it is held",)
    assert one.book == 400.0 and one.survey is None and one.full.chance == 0.0
    assert one.cells[0].pol is None and one.cells[0].oldest_days == pytest.approx(7.67, abs=0.01)
    lacking = "\n".join(told.lacking)
    for what in ("taken as never full", "the season's forecast", "keeping: pol", "movements"):
        assert what in lacking
    other = tmp_path / "other"
    other.mkdir()
    (other / "mill.toml").write_text(text[:first] + text[last:], encoding="utf-8")
    with open_mill(other, create=True) as opened, pytest.raises(BadInput, match="no shed"):
        shed_of(opened, date(2031, 6, 20), 100)
