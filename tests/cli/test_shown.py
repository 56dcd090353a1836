"""No file's name steers the terminal that its name is shown on."""

import json

import pytest

from ratoon.cli import say


def test_what_steers_a_terminal_is_shown_as_its_code(capsys: pytest.CaptureFixture[str]) -> None:
    say.tell("bad \x1b[2J name \u202egpj.exe")
    say.answer(["a\x07b\x9b\u2066c"])
    out, err = capsys.readouterr()
    assert err == "ratoon: bad \\x1b[2J name \\u202egpj.exe\n"
    assert out == "a\\x07b\\x9b\\u2066c\n"


def test_letters_of_any_language_stay(capsys: pytest.CaptureFixture[str]) -> None:
    say.answer(["azúcar 糖 شكر – ½"])
    assert capsys.readouterr().out == "azúcar 糖 شكر – ½\n"


def test_json_shows_them_by_its_own_codes(capsys):
    told = {"file": "bad \x1b[2J \u202egpj.exe \x9b\n", "word": "Zucker, \u7cd6"}
    say.answer_json(told)
    out = capsys.readouterr().out
    assert "\x1b" not in out and "\u202e" not in out and "\x9b" not in out
    assert "\u7cd6" in out and json.loads(out) == told
