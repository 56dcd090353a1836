"""Strikes from files and back: kept once, corrected with a reason, refused row by row, told."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ratoon.base.as_json import to_json
from ratoon.cli.app import run
from ratoon.demo.write import mill_text
from ratoon.jobs.files.imports import FileReport, import_files
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.to_date import load
from ratoon.jobs.strikes.records import strike_of, strikes_of_day
from ratoon.store.cane import kept as cane
from ratoon.store.chain.reach import newest_event

HEADER = "strike,pan,grade,event,time,quantity,value,unit,sigma,note\n"
ROWS = """\
S1,A1,A,start,2031-08-14T04:00,volume,35,m3,1,
S1,A1,A,footing,2031-08-14T04:00,volume,8,m3,,from=magma
S1,A1,A,feed,2031-08-14T04:05,flow,36,t/h,,of=liquor
S1,A1,A,set,2031-08-14T04:05,pressure,14,kPa,,
S1,A1,A,slide,2031-08-14T05:00,ma,0.61,mm,,basis=mass
S1,A1,A,drop,2031-08-14T07:10,volume,91,m3,2,to=receiver-A
S1,A1,A,drop,2031-08-14T07:10,brix,91.2,%,,to=receiver-A
S1,A1,A,drop,2031-08-14T07:10,purity,87.1,%,0.4,to=receiver-A
S1,A1,A,nutsch,2031-08-14T07:20,purity,70.1,%,,
S1,A1,A,sieve,2031-08-14T07:50,retained@0.85,52,%,,
S1,A1,A,sieve,2031-08-14T07:50,retained@0.60,85,%,,
S1,A1,A,cure,2031-08-14T08:00,cycles,12,,,machine=1
S2,B1,B,start,2031-08-14T06:30,volume,28,m3,,
"""
TRACE = """\
strike,time,level[L],brix,pressure (kPa a),temperature
S1,2031-08-14T05:00,52000,87.0,14,63.0
S1,2031-08-14T06:00,75000,89.0,14,63.5
"""
DAY = date(2031, 8, 14)
Sent = Callable[..., FileReport]


@pytest.fixture
def sent(tmp_path: Path) -> Sent:
    """Imports a text into a new mill, with a reason or without."""
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")

    def send(text: str, correct: str | None = None, name: str = "strikes.csv") -> FileReport:
        file = tmp_path / name
        file.write_text(text)
        (made,) = import_files(tmp_path, [file], correct).files
        return made

    return send


def told(folder: Path) -> list[dict[str, object]]:
    with open_mill(folder) as opened:
        found: list[dict[str, object]] = json.loads(
            json.dumps(to_json(strikes_of_day(opened, DAY)))
        )
    return found


@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_rows_come_in_once_and_change_with_a_reason_alone(
    sent: Sent, tmp_path: Path, on: str, request: pytest.FixtureRequest
) -> None:
    if on == "postgresql":
        new: Callable[[], str] = request.getfixturevalue("new_database")
        (tmp_path / "database.url").write_text(new())
    text, rows = HEADER + ROWS, ROWS.count("\n")
    assert (made := sent(text)).accepted == rows and not made.refused
    assert sent(text).unchanged == rows
    later = text.replace("07:10,volume,91", "07:25,volume,92")
    (refused,) = sent(later).refused
    assert "S1 drop volume" in refused.reason and "--correct" in refused.reason
    assert sent(later, "clock read wrong").corrected == 1
    assert sent(TRACE, name="traces.csv").accepted == 2
    with open_mill(tmp_path) as opened:
        assert opened.store.verify() == []
        # one row of the drop was moved, two were not: it is marked and used for nothing
        first = next(s for s in strikes_of_day(opened, DAY) if s.id == "S1")
        assert first.status == "contradictory" and "two times of its drop" in first.notes[0]


def test_a_day_and_a_strike_are_told_by_their_contract(
    sent: Sent, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sent(HEADER + ROWS)
    sent(TRACE, name="traces.csv")
    assert run(["strikes", "2031-08-14", "--mill", str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found == told(tmp_path)
    one, two = found
    assert {*one} == {"id", "pan", "grade", "start", "drop", "status", "volume", "brix", "purity",
                      "crystal", "ma", "cv", "fines", "notes"}  # fmt: skip
    assert (one["start"], one["drop"]) == ("2031-08-14T04:00+10:00", "2031-08-14T07:10+10:00")
    assert one["volume"] == {"value": 91.0, "sigma": 2.0, "unit": "m3", "kind": "measured"}
    assert one["brix"]["sigma"] == pytest.approx(0.4)  # the mill file's
    assert one["crystal"]["kind"] == "found" and one["crystal"]["value"] == pytest.approx(
        51.85, 1e-3
    )
    assert one["ma"]["value"] == pytest.approx(0.862, abs=1e-3) and one["fines"] is None
    assert (two["status"], two["drop"], two["volume"]) == ("running", None, None)
    assert run(["strike", "S1", "--mill", str(tmp_path), "--json"]) == 0
    detail = json.loads(capsys.readouterr().out)
    assert {*detail} == {*one, "trace", "fit", "expected_drop", "false_grain"}
    assert {*detail["trace"][0]} == {
        "time", "supersaturation", "crystal", "ma", "cv", "mother_liquor_purity", "brix", "level",
        "evaporation"}  # fmt: skip
    first = detail["trace"][0]
    assert first["level"]["value"] == pytest.approx(52.0) and first["ma"]["value"] == 0.61
    assert {*first["supersaturation"]} >= {"value", "sigma", "low", "high"}
    assert run(["strike", "S9", "--mill", str(tmp_path)]) == 1
    assert capsys.readouterr().err == "ratoon: unknown strike 'S9'\n"
    assert run(["strikes", "2031-02-01", "--mill", str(tmp_path)]) == 0
    assert "No strike on 2031-02-01" in capsys.readouterr().out


BAD = [
    ("S1,A1,A,start", "S1,A9,A,start", "pan", "allowed: A1, A2, A3, B1, B2, C1, C2"),
    ("S1,A1,A,start", "S1,A1,D,start", "grade", "allowed: A, B, C"),
    ("S1,A1,A,start", "S 1,A1,A,start", "strike", "without spaces"),
    (",start,2031-08-14T04:00", ",stat,2031-08-14T04:00", "event", "Did you mean start?"),
    ("volume,35", "volum,35", "quantity", "Did you mean volume?"),
    ("retained@0.85", "retained@x", "quantity", "retained@0.85"),
    ("volume,35,m3", "volume,35,m2", "unit", "allowed: m3"),
    ("volume,35,m3", "volume,35,mm3", "unit", "Did you mean"),
    ("volume,35,m3", "volume,-35,m3", "value", "allowed: 0 to 1000 m3"),
    ("volume,35,m3,1", "volume,35,m3,0", "sigma", "above zero"),
    ("2031-08-14T04:05,flow", "2031-08-14,flow", "time", "a time is wanted"),
    ("2031-08-14T04:05,flow", "04:05,flow", "time", "YYYY-MM-DD"),
    ("feed,2031-08-14T04:05,flow", "feed,2031-08-14T08:05,flow", "event", "was dropped before"),
    ("of=liquor", "of=syrup", "note", "allowed: liquor, water, A, B, C"),
]


@pytest.mark.parametrize(("old", "new", "column", "words"), BAD)
def test_a_row_that_cannot_be_is_refused_and_not_stored(
    sent: Sent, old: str, new: str, column: str, words: str
) -> None:
    assert old in ROWS
    made = sent(HEADER + ROWS.replace(old, new, 1))
    (refused,) = made.refused
    assert (refused.column, made.accepted) == (column, ROWS.count("\n") - 1)
    assert words in refused.reason and "\n" not in refused.reason


def test_traces_are_of_strikes_on_record_in_units_that_are_known(sent: Sent) -> None:
    (refused, _) = sent(TRACE, name="traces.csv").refused
    assert "on no record" in refused.reason
    sent(HEADER + ROWS)
    bad = TRACE.replace("[L]", "[degC]")
    assert "is no unit of level" in sent(bad, name="traces.csv").refused[0].reason
    error = sent(TRACE.replace("level[L]", "leval[L]"), name="traces.csv").error
    assert "unknown column 'leval[L]'" in error


def test_a_workbook_holds_strikes_and_their_traces(sent: Sent, tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "floor.xlsx"
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    book = xlsxwriter.Workbook(str(path))
    for name, text in (("strikes", HEADER + ROWS), ("traces", TRACE)):
        sheet = book.add_worksheet(name)
        for r, line in enumerate(text.splitlines()):
            for c, cell in enumerate(line.split(",")):
                try:
                    sheet.write_number(r, c, float(cell))
                except ValueError:
                    sheet.write_string(r, c, cell)
    book.close()
    (made,) = import_files(tmp_path, [path]).files
    assert made.refused == [] and made.accepted == ROWS.count("\n") + 2
    with open_mill(tmp_path) as opened:
        assert len(strike_of(opened, "S1").trace) == 2


def test_a_day_takes_from_strikes_what_nobody_read(sent: Sent, tmp_path: Path) -> None:
    rows = ""
    for k in range(7):  # one pan after the other, over both changes of day
        begin, end = (f"2031-08-{14 + h // 24:02d}T{h % 24:02d}:00" for h in (4 + 4 * k, 8 + 4 * k))
        head = f"S{k},A1,A"
        rows += f"{head},start,{begin},volume,30,m3,1,\n{head},drop,{end},volume,90,m3,2,\n"
        rows += f"{head},drop,{end},brix,92.4,%,0.5,\n"
    assert not sent(HEADER + rows).refused
    columns = "address,start,end,value,unit,sigma,source,note\n"
    read = "cane.weight,2031-08-14,,10199,t,,,\n"
    sent(columns + read, name="day.csv")

    def used() -> dict[str, str]:
        with open_mill(tmp_path) as opened:
            found = load(opened, DAY).readings
        return {r.address: r.source for r in found if r.address.startswith("pan.")}

    by = {"pan.A.massecuite.volume": "7 strikes", "pan.A.massecuite.brix": "7 strikes"}
    assert used() == by
    sent(columns + "pan.A.massecuite.brix,2031-08-14,,92.6,%,,lab,\n", name="later.csv")
    assert used() == by | {"pan.A.massecuite.brix": "later.csv row 2, lab"}
    with open_mill(tmp_path) as opened:
        (seen, _) = opened.store.ask(newest_event)
        period = opened.mill.calendar.period(DAY)
        assert not opened.store.ask(cane.appended, ["strike"], seen, period)
    sent(HEADER + "S9,B1,B,start,2031-08-14T06:30,volume,28,m3,,\n", name="more.csv")
    with open_mill(tmp_path) as opened:
        assert opened.store.ask(cane.appended, ["strike"], seen, period)
