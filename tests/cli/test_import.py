"""`ratoon import`: JSON, exit codes, corrections, files refused whole, the mill file kept."""

from datetime import date
from pathlib import Path

import pytest

from ratoon.jobs.mills import mill_of
from ratoon.store import Store, locate
from ratoon.store.answers import settings_on
from ratoon.store.chain import events as chain

from .conftest import HEADER, Typed

KEYS = ["file", "rows", "accepted", "unchanged", "corrected", "refused"]


def test_report_has_the_keys_of_the_contract(typed: Typed, day_file: Path) -> None:
    answer = typed("import", day_file, "--json")
    assert answer.code == 3
    (file,) = answer.json["files"]
    assert list(file) == KEYS
    assert (file["rows"], file["accepted"], file["unchanged"], file["corrected"]) == (4, 2, 0, 0)
    assert [(r["row"], r["column"], r["value"]) for r in file["refused"]] == [
        (4, "address", "bagasse.poll"),
        (5, "value", "n/a"),
    ]
    assert all(list(r) == ["sheet", "row", "column", "value", "reason"] for r in file["refused"])
    assert "Did you mean bagasse.pol" in file["refused"][0]["reason"]


def test_importing_twice_changes_nothing(typed: Typed, day_file: Path, mill_dir: Path) -> None:
    typed("import", day_file)
    with Store.open(locate(mill_dir)) as store:
        before = (store.contents_digest(), store.ask(chain.head))
    (file,) = typed("import", day_file, "--json").json["files"]
    assert (file["accepted"], file["unchanged"]) == (0, 2)
    with Store.open(locate(mill_dir)) as store:
        assert (store.contents_digest(), store.ask(chain.head)) == before


def test_other_value_is_refused_unless_a_reason_is_given(
    typed: Typed, day_file: Path, tmp_path: Path
) -> None:
    typed("import", day_file)
    other = tmp_path / "other.csv"
    other.write_text(f"{HEADER}\ncane.weight,2031-08-14,,10175,t,,,\n")
    answer = typed("import", other, "--json")
    assert answer.code == 3
    (refused,) = answer.json["files"][0]["refused"]
    assert refused["column"] == "value" and refused["value"] == "10175"
    assert "10199 t in day.csv row 2" in refused["reason"]
    answer = typed("import", other, "--json", "--correct", "a truck weighed twice")
    assert answer.code == 0
    assert answer.json["files"][0]["corrected"] == 1
    assert typed("import", other, "--correct", " ").code == 1


def test_all_accepted_is_exit_0_and_says_so(typed: Typed, tmp_path: Path) -> None:
    path = tmp_path / "stops.csv"
    path.write_text("start,end,station,cause,note\n2031-08-14T09:10,2031-08-14T10:10,mill,rain,\n")
    answer = typed("import", path)
    assert answer.code == 0
    assert "1 rows, 1 accepted, 0 unchanged, 0 refused" in answer.out


@pytest.mark.parametrize(
    ("content", "told"),
    [(b"", "the file is empty"), (b"\0\1\2" * 999, "binary"), (b"adress,start\n1,2\n", "address")],
)
def test_file_refused_whole_is_exit_1_with_one_line_and_others_go_in(
    typed: Typed, tmp_path: Path, day_file: Path, content: bytes, told: str
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_bytes(content)
    answer = typed("import", bad, "--json")
    assert answer.code == 1
    assert len(answer.lines) == 1 and told in answer.err and "bad.csv" in answer.err
    assert answer.json["files"][0]["accepted"] == 0
    both = typed("import", bad, day_file, "--json")
    assert both.code == 1
    assert [file["accepted"] for file in both.json["files"]] == [0, 2]


def test_missing_file_and_no_file(typed: Typed) -> None:
    assert "no such file" in typed("import", "nowhere.csv").err
    assert typed("import").code == 2


def test_mill_file_with_a_misspelt_key_stores_nothing(
    typed: Typed, mill_dir: Path, day_file: Path
) -> None:
    path = mill_dir / "mill.toml"
    path.write_text(path.read_text().replace("season_start", "seson_start", 1))
    answer = typed("import", day_file, "--json")
    assert answer.code == 1 and answer.out == ""
    assert len(answer.lines) == 1 and "season_start" in answer.err
    assert not (mill_dir / "ratoon.db").exists()


def test_layouts(typed: Typed) -> None:
    text = typed("import", "--layouts").out
    assert HEADER in text and "start,end,station,cause,note" in text and "kPa vac" in text
    known = typed("import", "--layouts", "--json").json
    names = [layout["layout"] for layout in known]
    assert names[:2] == ["readings", "stops"]
    assert {"bins", "consignments", "tips", "speeds", "samples", "near_infrared"} <= set(names)


def test_reading_without_any_sigma_is_kept_and_said(typed: Typed, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text(
        f"{HEADER}\naddress.here,2031-08-14,,5,t/h,,,\nvent.flow,2031-08-14,,5,t/h,,,\n"
    )
    answer = typed("import", path)
    assert "kept and not used: vent.flow" in answer.err


def test_mill_file_is_kept_with_the_day_from_which_it_holds(
    typed: Typed, mill_dir: Path, tmp_path: Path
) -> None:
    def bring(day: int) -> None:
        path = tmp_path / f"{day}.csv"
        path.write_text(f"{HEADER}\nbagasse.pol,2031-08-{day},,1.9,%,,,\n")
        assert typed("import", path).code == 0

    def note(text: str) -> None:
        path = mill_dir / "mill.toml"
        path.write_text(path.read_text() + f"\n# {text}\n")

    bring(12)
    bring(13)
    note("new quartz plate")
    bring(14)
    with Store.open(locate(mill_dir)) as store:
        held = {day: store.ask(settings_on, date(2031, 8, day)) for day in (12, 13, 14, 20)}
        first = store.ask(settings_on, date(2031, 1, 1))
        assert store.verify() == []
    assert first is not None and first.holds_from == mill_of(mill_dir).calendar.season_start
    assert [bool(s and "new quartz plate" in s.text) for s in held.values()] == [
        False,
        False,
        True,
        True,
    ]
