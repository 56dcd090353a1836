"""A kept day is shown without its season where it surely stands; else its digest is asked."""

import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import OpenMill, in_mill, open_mill
from ratoon.jobs.sheet import to_date as job
from ratoon.jobs.sheet.day import KIND, account_day, decide
from ratoon.jobs.sheet.day_points import POINTS
from ratoon.store.answers import newest_result

DAY = date(2031, 6, 12)
BEFORE = DAY - timedelta(days=1)
READING = "address,start,end,value,unit,sigma,source,note\n{},{},,101.0,degC,0.5,,\n"
STRIKE = "strike,pan,grade,event,time,quantity,value,unit,sigma,note\n"


@pytest.fixture(scope="module")
def season(accounted_days: Callable[[int], Path]) -> Path:
    return accounted_days(4)


@pytest.fixture
def mill(season: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(season, tmp_path / "mill"))


def told(opened: OpenMill) -> tuple[bool, bool]:
    """Whether the kept day surely stands, and whether its digest is the same."""
    kept = opened.store.ask(newest_result, KIND, opened.mill.calendar.period(DAY))
    assert kept is not None
    season = job.load(opened, DAY)
    season.look_back(opened.store, DAY)
    return job.stands(opened, kept, DAY), kept.inputs_digest == job.inputs_digest(season, DAY)


def sent(opened: OpenMill, text: str) -> None:
    path = opened.folder / "more.csv"
    path.write_text(text)
    done = import_files(opened.folder, [path])
    assert not done.errors and not done.refused


def reading_of_the_day(opened: OpenMill) -> None:
    sent(opened, READING.format("effect.2.temperature", "2031-06-12"))


def reading_before_it(opened: OpenMill) -> None:
    sent(opened, READING.format("effect.2.temperature", "2031-06-11"))


def word_on_a_day_before(opened: OpenMill) -> None:
    decide(opened, BEFORE, "bagasse.pol", True, "the bottle broke", "chemist")


def drift_seen_before(opened: OpenMill) -> None:
    alarm = {"address": "clear_juice.brix", "size": 0.5, "unit": "%"}
    period = opened.mill.calendar.period(BEFORE)
    told = {"alarms": [alarm], "date": BEFORE.isoformat()}
    opened.store.add_result("week", period, "", {}, told)


def day_before_accounted_otherwise(opened: OpenMill) -> None:
    period = opened.mill.calendar.period(BEFORE)
    opened.store.add_result(POINTS, period, "otherwise", {}, {"aside": {}})


def strike_dropped_the_morning_after(opened: OpenMill) -> None:
    sent(opened, STRIKE + "S1,A1,A,start,2031-06-12T23:00,volume,14,m3,,\n"
         "S1,A1,A,drop,2031-06-13T09:00,volume,40,m3,,\n")  # fmt: skip


@pytest.mark.parametrize("change", [
    reading_of_the_day, reading_before_it, word_on_a_day_before, drift_seen_before,
    day_before_accounted_otherwise, strike_dropped_the_morning_after,
])  # fmt: skip
def test_what_changes_its_digest_is_never_said_to_stand(
    mill: Path, change: Callable[[OpenMill], None]
) -> None:
    with open_mill(mill) as opened:
        assert told(opened) == (True, True)
        change(opened)
        assert told(opened) == (False, False)


def test_another_program_or_other_tables_let_no_kept_day_stand(
    season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_mill(season) as opened:
        for name, other in (("__version__", "0.0.9"), ("tables_digest", lambda: "others")):
            with monkeypatch.context() as patch:
                patch.setattr(job, name, other)
                assert told(opened) == (False, False)


def test_a_day_beside_changes_nothing_and_the_digest_tells_where_it_is_not_sure(
    mill: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A later day's reading touches nothing; an earlier day accounted again leaves the digest."""
    with open_mill(mill) as opened:
        sent(opened, READING.format("effect.2.temperature", "2031-06-13"))
        assert told(opened) == (True, True)
        kept = account_day(opened, DAY)
        account_day(opened, BEFORE, again=True)
        assert told(opened) == (False, True)
        assert account_day(opened, DAY).chain_head == kept.chain_head
        reading_of_the_day(opened)
        assert account_day(opened, DAY).inputs_digest != kept.inputs_digest


def test_a_kept_day_is_shown_without_reading_its_season(
    season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("the season was read")

    from ratoon.jobs.sheet import day

    monkeypatch.setattr(day, "load", refuse)
    assert in_mill(season, account_day, DAY).date == DAY.isoformat()


def test_a_kept_day_loads_no_plant_and_no_solver(season: Path) -> None:
    heavy = {"casadi", "scipy", "jinja2", "typst", "openpyxl", "ratoon.plant", "ratoon.equations"}
    code = (
        "import sys; from ratoon.cli.app import run;"
        f" run(['day', '{DAY}', '--json', '--mill', '{season}']);"
        f" sys.stderr.write(', '.join({heavy} & sys.modules.keys()))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert f'"date": "{DAY}"' in done.stdout
    assert not done.stderr
