"""The case worked by hand in the how-to on planning the pans has the answer printed there."""

import re
from pathlib import Path

import pytest

from ratoon.cli.app import run

PAGE = Path(__file__).parents[2] / "docs/how-to/plan-the-pans.md"


def test_the_case_of_the_page_has_its_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = PAGE.read_text(encoding="utf-8")
    case, plan, limits = re.findall(r"```(?:toml|text)\n(.*?)```", text, re.DOTALL)
    file = tmp_path / "case.toml"
    file.write_text(case)
    assert run(["floor", "--case", str(file)]) == 0
    assert plan in capsys.readouterr().out
    file.write_text(case.replace("max = 60", "max = 59"))
    assert run(["floor", "--case", str(file)]) == 1
    assert capsys.readouterr().out.endswith(f"there would be one: {limits}")
