"""The command line as it is typed: exit code, stdout, stderr; on the invented mill's mill file."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ratoon.cli.app import run

HEADER = "address,start,end,value,unit,sigma,source,note"


@dataclass(frozen=True)
class Answer:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        def refuse(word: str) -> None:
            raise AssertionError(f"{word} is not JSON")

        return json.loads(self.out, parse_constant=refuse)

    @property
    def lines(self) -> list[str]:
        return self.err.splitlines()


Typed = Callable[..., Answer]


@pytest.fixture
def typed(mill_dir: Path, capsys: pytest.CaptureFixture[str]) -> Typed:
    """Types a command; ``--mill`` is added."""

    def type_(*arguments: object, mill: bool = True) -> Answer:
        words = [str(argument) for argument in arguments]
        code = run([*words, "--mill", str(mill_dir)] if mill else words)
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return Answer(code, out, err)

    return type_


@pytest.fixture
def day_file(tmp_path: Path) -> Path:
    """Two good readings, one in kg, and two that are refused."""
    path = tmp_path / "day.csv"
    path.write_text(
        f"{HEADER}\n"
        "cane.weight,2031-08-14,,10199,t,,weighbridge,\n"
        "bagasse.pol,2031-08-14,,1.91,%,0.07,,\n"
        "bagasse.poll,2031-08-14,,1.91,%,,,\n"
        "bagasse.moisture,2031-08-14,,n/a,%,,,\n"
    )
    return path
