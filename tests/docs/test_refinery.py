"""The case worked by hand in the how-to on the refinery's year has the answer printed there."""

import re
from pathlib import Path

import pytest

from ratoon.cli.app import run

PAGE = Path(__file__).parents[2] / "docs/how-to/refinery.md"


def test_the_case_of_the_page_has_its_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = PAGE.read_text(encoding="utf-8")
    case, plan = re.findall(r"```(?:json|text)\n(.*?)```", text, re.DOTALL)
    file = tmp_path / "case.json"
    file.write_text(case)
    assert run(["refinery", "--case", str(file)]) == 0
    assert plan in capsys.readouterr().out
    file.write_text(case.replace('"heel": 100, "in_rate"', '"heel": 1001, "in_rate"'))
    assert run(["refinery", "--case", str(file)]) == 1
    assert "sheds.North.heel: above sheds.North.tonnes" in capsys.readouterr().err
