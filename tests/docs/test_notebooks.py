"""Every notebook of the documentation runs from top to bottom and says something."""

from __future__ import annotations

import runpy
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from ratoon.jobs.cane.days import cane_of_all
from ratoon.jobs.mills import in_mill

FOLDER = Path(__file__).parents[2] / "docs" / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.py"))


def test_there_are_notebooks() -> None:
    assert len(NOTEBOOKS) >= 6


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_it_runs(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    accounted_days: Callable[[int], Path], tmp_path: Path,
) -> None:  # fmt: skip
    """A notebook holds its own checks; what it prints is for people."""
    if "RATOON_MILL" in path.read_text(encoding="utf-8"):
        monkeypatch.setenv("RATOON_MILL", str(accounted_days(4)))
    if "consignments()" in path.read_text(encoding="utf-8"):
        subprocess.run(["cp", "-r", str(accounted_days(4)), str(tmp_path / "mill")], check=True)
        in_mill(tmp_path / "mill", cane_of_all)
        monkeypatch.setenv("RATOON_MILL", str(tmp_path / "mill"))
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# %% [markdown]\n# # ")
    runpy.run_path(str(path))
    assert len(capsys.readouterr().out.splitlines()) >= 4


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_the_map_leads_to_it(path: Path) -> None:
    where = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert f"]({path.name})" in where
