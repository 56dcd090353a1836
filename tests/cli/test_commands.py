"""Every command: usage, JSON, exit codes, one clear line, never a traceback."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import text

from ratoon.cli.app import run
from ratoon.cli.days import parse_changes
from ratoon.store import Store, engine, locate

from .conftest import Typed

COMMANDS = ("demo", "serve", "import", "day", "try", "addresses", "check", "work", "doctor")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_takes_mill_and_refuses_what_it_does_not_know(
    typed: Typed, command: str
) -> None:
    shown = typed(command, "--help", mill=False)
    assert shown.code == 0 and "--mill" in shown.out
    answer = typed(command, "--nonsense", mill=False)
    assert answer.code == 2
    assert len(answer.lines) == 1 and "nonsense" in answer.err


def test_no_command_and_unknown_command_are_wrong_usage(typed: Typed) -> None:
    assert typed(mill=False).code == 2
    answer = typed("importt", mill=False)
    assert answer.code == 2 and "importt" in answer.err


def test_version(typed: Typed) -> None:
    from ratoon import __version__

    assert typed("--version", mill=False).out == f"ratoon {__version__}\n"


def test_addresses(typed: Typed) -> None:
    rows = typed("addresses", "--json").json
    assert all(list(row) == ["address", "name", "unit", "kind", "low", "high"] for row in rows)
    names = [row["address"] for row in rows]
    assert len(names) == len(set(names)) > 100
    assert {"cane.weight", "bagasse.pol", "account.extraction"} <= set(names)
    found = typed("addresses", "bagasse.pol").out
    assert "bagasse.pol" in found and "cane.weight" not in found


def test_doctor_is_clean_before_and_after_an_import(typed: Typed, day_file: Path) -> None:
    assert typed("doctor").code == 0
    typed("import", day_file)
    answer = typed("doctor", "--json")
    assert answer.code == 0 and answer.json["sound"] is True and answer.err == ""
    assert {f["what"] for f in answer.json["findings"]} == {
        "mill file", "database", "folder", "machine",
    }  # fmt: skip


def test_doctor_names_what_was_changed_behind_our_back(
    typed: Typed, day_file: Path, mill_dir: Path
) -> None:
    typed("import", day_file)
    with Store.open(locate(mill_dir)) as store, engine.writing(store._engine) as connection:
        connection.execute(text("UPDATE readings SET value = 2 * value"))
    answer = typed("doctor", "--json")
    assert answer.code == 1 and answer.json["sound"] is False
    assert len(answer.lines) == 1 and "day.csv: its stored rows were changed" in answer.err


def test_doctor_names_a_damaged_database_and_a_missing_mill_file(
    typed: Typed, mill_dir: Path
) -> None:
    (mill_dir / "ratoon.db").write_bytes(b"no database" * 999)
    (mill_dir / "mill.toml").unlink()
    answer = typed("doctor")
    assert answer.code == 1
    assert [line.split(":")[1].strip() for line in answer.lines] == ["mill file", "database"]


def test_doctor_of_no_folder(typed: Typed) -> None:
    answer = typed("doctor", "--mill", "/no/such/folder", mill=False)
    assert answer.code == 1 and "no such folder" in answer.err


def test_work_gives_one_figure_with_its_unit(typed: Typed) -> None:
    assert typed("work", "pol_of_juice", "brix=18", "reading=65").out == "15.7781 %\n"
    told = typed("work", "sugar_at_96", "quantity=1000", "pol=98.9", "--json").json
    assert told["value"] == pytest.approx(1036.5) and told["unit"] == "t"
    refused = typed("work", "density", "brix=99", "t_C=20")
    assert refused.code == 1 and "0 to 0.85" in refused.err


def test_check_of_formulas_and_of_no_table(typed: Typed) -> None:
    assert typed("check", "--formulas", "--json").json
    assert "[" in typed("check", "--formulas").out
    assert typed("check", "--table", "/no/such.csv").code == 1


def test_date_that_two_people_read_differently_is_refused(typed: Typed) -> None:
    answer = typed("day", "03/04/2031")
    assert answer.code == 1
    assert "2031-04-03 or 2031-03-04" in answer.err and len(answer.lines) == 1
    assert typed("try", "--from", "1/2/31", "--set", "a.b=1").code == 1


@pytest.mark.parametrize(
    "change", ["imbibition.flow", "=3", "a.b=three", "a.b=nan", "a.b=1e999", "a.b=1_0"]
)
def test_try_refuses_what_is_no_change(typed: Typed, change: str) -> None:
    answer = typed("try", "--from", "2031-08-14", "--set", change)
    assert answer.code == 2 and len(answer.lines) == 1


def test_changes_are_read() -> None:
    assert parse_changes(["a.b=1.5", " c.d = -2"]) == {"a.b": 1.5, "c.d": -2.0}


def test_a_fault_of_ours_is_one_line_too(
    typed: Typed, monkeypatch: pytest.MonkeyPatch, day_file: Path
) -> None:
    from ratoon.jobs.files import imports

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("two\nlines")

    monkeypatch.setattr(imports, "import_files", broken)
    answer = typed("import", day_file)
    assert answer.code == 1 and len(answer.lines) == 1
    assert "a fault of the program" in answer.err


def test_ctrl_c_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    from ratoon.cli import app

    def stopped(**_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(app, "commands", lambda asked: stopped)
    assert run(["doctor"]) == 130


def test_the_program_itself(mill_dir: Path, day_file: Path) -> None:
    program = Path(sys.executable).with_name("ratoon")
    done = subprocess.run(
        [program, "import", day_file, "--json"],
        cwd=mill_dir, capture_output=True, text=True, timeout=60, env=os.environ | {"LANG": "C"},
    )  # fmt: skip
    assert done.returncode == 3
    assert done.stdout.startswith("{") and "Traceback" not in done.stderr
    reader = subprocess.run(
        f"{program} addresses --mill {mill_dir} | head -1",
        shell=True, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert "Traceback" not in reader.stderr and "Exception" not in reader.stderr


def test_doctor_names_readings_the_mill_file_no_longer_knows(
    typed: Typed, day_file: Path, mill_dir: Path
) -> None:
    from datetime import UTC, datetime

    from ratoon.base.records import Reading

    with Store.open(locate(mill_dir)) as store:
        at = datetime(2031, 8, 14, tzinfo=UTC)
        store.add_readings([Reading("old.meter", 1.0, None, start=at, unit="t", given=1.0)])
    answer = typed("doctor")
    assert answer.code == 1 and "old.meter" in answer.err


def test_a_demo_where_no_folder_can_be_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["demo", "/proc/nowhere", "--no-serve"]) == 1
    line = capsys.readouterr().err
    assert line.count("\n") == 1 and "/proc/nowhere: cannot be made" in line
