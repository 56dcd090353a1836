"""The tutorial's commands and files, in order as a new user would type them."""

import contextlib
import io
import json
import re
import shlex
import shutil
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from ratoon.cli.app import run
from ratoon.documents.worked_day import invented_day, worked_day

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "tutorial.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+) ?(\S*)\n(.*?)```", TEXT, flags=re.DOTALL)


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """A folder in which everything was done in order, and what the commands printed."""
    here = tmp_path_factory.mktemp("tutorial")
    shutil.copytree(ROOT / "src/ratoon/demo/data", here / "src/ratoon/demo/data")
    printed = []
    for kind, name, text in BLOCKS:
        if kind == "csv":
            (here / name).write_text(text, encoding="utf-8")
            continue
        for line in filter(None, text.splitlines()):
            begun, *words = shlex.split(line)
            out, err = io.StringIO(), io.StringIO()
            with contextlib.chdir(here), redirect_stdout(out), redirect_stderr(err):
                code = run(words)
            assert (begun, code) == ("./run", 0), f"{line}: {err.getvalue()}"
            printed.append(out.getvalue())
    return here, printed


def test_it_ends_with_a_morning_sheet_of_ones_own_mill(done: tuple[Path, list[str]]) -> None:
    here, printed = done
    folder = here / "our-mill" / "sheets" / "2031-08-13"
    assert {p.suffix for p in folder.iterdir()} == {".html", ".pdf", ".json", ""}  # and the digests
    sheet = json.loads((folder / "morning.json").read_text(encoding="utf-8"))
    assert (sheet["mill_name"], sheet["invented"]) == ("Our Mill", False)
    values = {row["address"]: row["day"]["value"] for row in sheet["key"]}
    assert values["account.cane"] and values["account.overall_recovery"]
    assert "refused" in "".join(printed) and " 0 refused" in "".join(printed)


def test_other_commands_on_the_page_exist() -> None:
    commands = set(re.findall(r"^ *\./run (\w+)", TEXT, flags=re.MULTILINE))
    assert commands >= {"demo", "serve", "day", "import", "try", "doctor", "addresses"}
    for command in ("demo", "serve"):
        program = str(Path(sys.executable).with_name("ratoon"))
        given = subprocess.run([program, command, "--help"], capture_output=True, timeout=60)
        assert given.returncode == 0


def test_the_worked_day_is_what_the_program_writes() -> None:
    page = (ROOT / "docs" / "explanations" / "worked-day.md").read_text(encoding="utf-8")
    made = worked_day(invented_day())
    assert page == made, "stale: run python -m ratoon.documents.worked_day"
