"""`ratoon people` as it is typed, and serving beyond this machine."""

import re
from pathlib import Path

import pytest

from ratoon.cli.app import run
from ratoon.store import Store
from ratoon.store.chain import events as chain

from .conftest import Typed


def test_people_are_added_changed_and_shown_out(typed: Typed, mill_dir: Path) -> None:
    assert "ratoon people add" in typed("people").err
    first = typed("people", "add", "anna", "--json").json
    assert re.fullmatch(r"([a-z2-9]{4}-){3}[a-z2-9]{4}", first["one_time_password"])
    assert "one-time" in typed("people", "add", "bert", "--name", "Bert Fell").out.lower()
    assert typed("people", "roles", "bert", "laboratory", "cane-office").code == 0
    rows = {r["login"]: r for r in typed("people", "--json").json}
    assert rows["anna"]["roles"] == ["manager"]
    assert rows["bert"]["roles"] == ["laboratory", "cane office"]
    again = typed("people", "password", "anna", "--json").json
    assert again["one_time_password"] != first["one_time_password"]
    assert "0 sessions ended" in typed("people", "sign-out", "anna").out
    assert "disabled" in typed("people", "disable", "bert").out
    assert "may sign in again" in typed("people", "enable", "bert").out
    assert "Bert Fell" in typed("people").out
    with Store.open(mill_dir / "ratoon.db", create=False) as store:
        assert store.verify() == []
        told = str([event.detail for event in store.ask(chain.read)])
        assert again["one_time_password"] not in told
        assert "argon2" not in told


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["add", "bert", "--role", "viewer"], "first person must be a manager"),
        (["add", "B!", "--role", "manager"], "not a login"),
        (["roles", "nobody", "viewer"], "Import the mill's readings first"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(typed: Typed, words: list[str], told: str) -> None:
    answer = typed("people", *words)
    assert answer.code == 1
    assert told in answer.err
    assert len(answer.lines) == 1


def test_options_before_the_word_are_refused(mill_dir: Path, typed: Typed) -> None:
    answer = typed("people", "--mill", mill_dir, "add", "anna", mill=False)
    assert answer.code == 1
    assert "options come after" in answer.err


def test_a_person_changed_behind_our_back_is_named(typed: Typed, mill_dir: Path) -> None:
    import sqlite3

    typed("people", "add", "anna")
    typed("people", "add", "bert")
    with sqlite3.connect(mill_dir / "ratoon.db") as plain:
        plain.execute("UPDATE roles SET role = 'manager' WHERE person = 2")
    plain.close()
    answer = typed("doctor")
    assert answer.code == 1
    assert "person bert: was changed afterwards" in answer.out + answer.err


def test_beyond_this_machine_a_manager_is_made_first(
    mill_dir: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    served: list[dict[str, object]] = []
    monkeypatch.setattr("ratoon.web.serve.serve", lambda mill, **more: served.append(more))
    words = ["serve", "--mill", str(mill_dir), "--name", "mill.example", "--port", "0"]
    assert run(words) == 0
    told = capsys.readouterr().err
    assert "login manager may sign in with the one-time password" in told
    assert "TLS" in told
    assert served[0]["names"] == ("mill.example",)
    assert run(words) == 0
    assert "one-time" not in capsys.readouterr().err
    assert run(["serve", "--mill", str(mill_dir), "--host", "0.0.0.0"]) == 1
    assert "--name" in capsys.readouterr().err
    assert len(served) == 2


@pytest.mark.parametrize(
    ("host", "told"),
    [("", "an address is wanted"), ("203.0.113.9", "cannot listen"), ("no host", "cannot listen")],
)
def test_an_address_of_no_machine_or_of_all_is_refused_and_nobody_is_made(
    mill_dir: Path,
    host: str,
    told: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("ratoon.web.serve.serve", lambda mill, **more: pytest.fail("served"))
    words = ["serve", "--mill", str(mill_dir), "--host", host, "--name", "mill.example"]
    assert run([*words, "--port", "0"]) == 1
    line = capsys.readouterr().err
    assert line.count("\n") == 1 and f"host: {told}" in line
    assert not (mill_dir / "ratoon.db").exists()


@pytest.mark.parametrize(
    "name", ["https://mill.example", "mill.example:443", "mill.example/", "m\u00fchle.example", ""]
)
def test_a_name_that_nobody_could_ask_under_is_refused(
    mill_dir: Path, name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("ratoon.web.serve.serve", lambda mill, **more: pytest.fail("served"))
    assert run(["serve", "--mill", str(mill_dir), "--name", name]) == 1
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and "is not a host name" in told


def test_backup_and_restore_say_the_same_head(typed: Typed, day_file: Path, tmp_path: Path) -> None:
    typed("import", day_file)
    made = typed("backup", tmp_path / "a.backup", "--json").json
    told = typed("backup", tmp_path / "b.backup")
    assert "head of the event chain" in told.out
    back = typed("restore", tmp_path / "a.backup", tmp_path / "back", mill=False)
    assert back.code == 0
    assert made["head"] in back.out
    again = typed("restore", tmp_path / "a.backup", tmp_path / "back", mill=False)
    assert again.code == 1
    assert "not empty" in again.err
