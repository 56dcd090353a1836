"""Learning by command: a person approves, comments stay, and no day is judged by what it taught."""

import json
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ratoon.base.errors import BadInput
from ratoon.cli.app import run
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, open_mill
from ratoon.jobs.sheet.day import account_all, account_day
from ratoon.jobs.sheet.learn import learn_usual

LAST = date(2031, 6, 13)
KEYS = {"address", "unit", "before", "sigma_before", "after", "sigma", "source"}
REMARK = (
    '# our own: set on the first day\n"mills.mixing" = { value = 0.5, sigma = 0.07 } # to see\n'
)


@pytest.fixture(scope="module")
def season(invented_days: Callable[[int], Path]) -> Path:
    """Four accounted days."""
    folder = invented_days(4)
    path = folder / "mill.toml"
    path.write_text(path.read_text(encoding="utf-8") + f"\n[assumed]\n{REMARK}", encoding="utf-8")
    own = [p for kind in ("readings", "stops") for p in (folder / "input").glob(f"*-{kind}.csv")]
    import_files(folder, sorted(own))
    in_mill(folder, account_all)
    return folder


@pytest.fixture
def mill_dir(season: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(season, tmp_path / "mill"))


def test_nothing_changes_until_a_person_approves(
    mill_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (mill_dir / "mill.toml").read_bytes()
    assert run(["learn", "--mill", str(mill_dir), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["days"] == len(told["dates"]) >= 3
    assert told["changes"] and all(set(c) == KEYS for c in told["changes"])
    assert all(f"learnt from {told['days']} days to 2031-06-13" == c["source"]
               for c in told["changes"])  # fmt: skip
    assert (mill_dir / "mill.toml").read_bytes() == before
    assert run(["learn", "--mill", str(mill_dir)]) == 0
    assert "Nothing is changed" in capsys.readouterr().out


def test_approved_figures_hold_for_the_days_after(mill_dir: Path) -> None:
    made = in_mill(mill_dir, account_day, LAST)
    learnt = in_mill(mill_dir, learn_usual, None, LAST, True)
    assert learnt.changes
    text = (mill_dir / "mill.toml").read_text(encoding="utf-8")
    assert "# our own: set on the first day" in text and "# to see" in text
    with open_mill(mill_dir) as opened:
        rows = opened.mill_on(date(2031, 6, 14)).settings.assumed
        for c in learnt.changes:
            assert (rows[c.address].value, rows[c.address].sigma) == (c.after, c.sigma)
            assert rows[c.address].stated == (c.before, c.sigma_before)
            assert rows[c.address].learnt == LAST
        old = opened.mill_on(LAST).settings.assumed
        assert "mills.mixing" in old and not any(row.stated for row in old.values())
        again = account_day(opened, LAST, again=True)
        assert again.figures == made.figures  # the day that taught keeps its own mill file
        assert not any("learnt from" in n for n in again.words.notes)
        # the same words from the same days are one witness: what is proposed stays
        second = {c.address: c for c in learn_usual(opened, None, LAST).changes}
        for c in learnt.changes:
            assert abs(second[c.address].after - c.after) < 0.3 * c.sigma
            assert second[c.address].sigma == pytest.approx(c.sigma, rel=0.1)


def test_a_file_that_waits_for_its_day_is_not_taken_back(mill_dir: Path) -> None:
    """Readings that come in again for the newest day do not let the new file hold on it."""
    in_mill(mill_dir, learn_usual, None, LAST, True)
    text = (mill_dir / "mill.toml").read_text(encoding="utf-8")
    import_files(mill_dir, sorted((mill_dir / "input").glob("2031-06-13-readings.csv")))
    with open_mill(mill_dir) as opened:
        assert opened.mill_on(date(2031, 6, 14)).settings.text == text
        assert opened.mill_on(LAST).settings.text != text


def test_days_that_are_not_there_are_refused(mill_dir: Path) -> None:
    with pytest.raises(BadInput, match="no accounted mill day there"):
        in_mill(mill_dir, learn_usual, date(2031, 7, 1), date(2031, 7, 9))
    with pytest.raises(BadInput, match="too few"):
        in_mill(mill_dir, learn_usual, LAST, LAST)
