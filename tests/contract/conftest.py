"""A short season of the invented mill, and the program typed at a shell: what an outsider sees."""

import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from ratoon.cli.app import run

HERE = Path(__file__).parents[2]
PROGRAM = Path(sys.executable).with_name("ratoon")
FIRST, DAY, NO_CRUSH, PARTIAL = "2031-06-10", "2031-06-11", "2031-06-12", "2031-06-13"
WRONG = "2031-06-14"


@dataclass(frozen=True)
class Answer:
    """What a command gave: exit code and both streams."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Stdout as one JSON value; NaN, Infinity and anything before or after it are refused."""
        return json.loads(self.out, parse_constant=_refuse)

    @property
    def lines(self) -> list[str]:
        return self.err.splitlines()


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} is not JSON")


Typed = Callable[..., Answer]


def type_(*words: object, where: Path, program: object = PROGRAM) -> Answer:
    """Run the program as a process of its own, standing in a folder."""
    done = subprocess.run(
        [str(program), *map(str, words)],
        cwd=where, capture_output=True, text=True, timeout=120, env=os.environ | {"LANG": "C"},
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr
    return Answer(done.returncode, done.stdout, done.stderr)


def _unusual_days(folder: Path) -> None:
    """A day on which no cane came, one half read, one with the mixed juice read 8 % high."""
    stand = folder / "input" / f"{NO_CRUSH}-stops.csv"
    head = stand.read_text(encoding="utf-8").splitlines()[0]
    stand.write_text(f"{head}\n{NO_CRUSH}T06:00,2031-06-13T06:00,mills,wet weather,\n")
    half = folder / "input" / f"{PARTIAL}-readings.csv"
    lines = half.read_text(encoding="utf-8").splitlines(keepends=True)
    half.write_text(lines[0] + "".join(lines[1::2]), encoding="utf-8")
    wrong = folder / "input" / f"{WRONG}-readings.csv"
    head, *rows = wrong.read_text(encoding="utf-8").splitlines()
    at = head.split(",").index("value")
    for n, row in enumerate(rows):
        cells = row.split(",")
        if cells[0] == "mixed_juice.flow":
            cells[at] = str(1.08 * float(cells[at]))
            rows[n] = ",".join(cells)
    wrong.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")


@pytest.fixture(scope="session")
def files(invented_days: Callable[[int], Path]) -> Path:
    """A folder with a mill file and five days of input files, and nothing imported."""
    folder = invented_days(5)
    shutil.rmtree(folder / "truth")
    _unusual_days(folder)
    return folder


@pytest.fixture(scope="session")
def mill_dir(files: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same, imported; the tests only read it, or put back what they change."""
    folder = Path(shutil.copytree(files, tmp_path_factory.mktemp("contract") / "mill"))
    done = type_("import", "--mill", folder, *sorted((folder / "input").iterdir()), where=folder)
    assert done.code == 0, done.err
    return folder


def called(*words: object, where: Path) -> Answer:
    """What the program calls, in this process: Python need not start and plants are made once."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(where), redirect_stdout(out), redirect_stderr(err):
        code = run([str(word) for word in words])
    assert "Traceback" not in out.getvalue() + err.getvalue()
    return Answer(code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="session")
def typed(mill_dir: Path) -> Typed:
    """Gives a command standing in the mill's folder; see `at_shell`."""
    return partial(called, where=mill_dir)


@pytest.fixture(scope="session")
def at_shell(mill_dir: Path) -> Typed:
    """Types it as a process of its own: some command of each kind, and one that is refused."""
    return partial(type_, where=mill_dir)
