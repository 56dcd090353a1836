"""No file's name steers the terminal that its name is shown on."""

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
