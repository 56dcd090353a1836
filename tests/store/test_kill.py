"""Killed at any moment, the store is whole; four writers at once lose and double nothing.

The killed process runs the real import, forked from one that has its modules loaded, so that the
kills fall into the work and not into the start of Python.
"""

import random
import sys
from pathlib import Path

import pytest

from ratoon.base.records import Period
from ratoon.jobs import doctor, imports, mills
from ratoon.store import Store, locate
from ratoon.store.anchors import FILE as ANCHORS

from .conftest import at

sys.path.insert(0, str(Path(__file__).parent))  # the fork server looks for `killing` there
import killing

from ratoon.store.answers import newest_results
from ratoon.store.entries import readings_in

KILLS = 50
APPENDING_SECONDS = 10.0
"""How long four processes append."""


@pytest.fixture
def small_mill(monkeypatch: pytest.MonkeyPatch) -> None:
    mill = killing.small_mill()
    monkeypatch.setattr(mills, "mill_of", lambda folder: mill)


def _empty(folder: Path) -> None:
    """Take away a mill's database and its anchors, so that the next run starts from nothing."""
    where = str(locate(folder))
    for path in (*folder.glob("ratoon.db*"), *folder.glob(ANCHORS)):
        path.unlink()
    if "://" not in where:
        return
    import psycopg

    with psycopg.connect(where, autocommit=True) as server:
        server.execute("DROP SCHEMA public CASCADE")
        server.execute("CREATE SCHEMA public")


def _run(name: str, folder: Path, kill_after: float | None = None) -> tuple[float, int | None]:
    """Do a work in a process of its own, killed some time after it began; time taken, exit code."""
    return killing.run(killing.work, name, folder, kill_after)


def test_import_killed_at_any_moment_is_whole_when_done_again(
    database: str, tmp_path: Path, small_mill: None
) -> None:
    folder = tmp_path / "mill"
    url = database if "://" in database else ""
    files = killing.make_folder(folder, url)
    seconds, code = _run("import", folder)
    assert code == 0
    with mills.store_of(folder) as store:
        undisturbed = store.contents_digest()
    # the first run pays for cold files: kills are aimed at what a run takes after it
    for _ in range(3):
        _empty(folder)
        seconds = min(seconds, _run("import", folder)[0])
    killed = half_way = 0
    dice = random.Random(20310814)
    for _ in range(3 * KILLS):
        if killed == KILLS:
            break
        _empty(folder)
        _, code = _run("import", folder, kill_after=dice.uniform(0.0, seconds))
        killed += code == -9
        findings = [finding for finding in doctor._database(folder, None) if not finding.sound]
        assert findings == []
        report = imports.import_files(folder, files)
        fresh = [file.accepted for file in report.files]
        assert all(count in (0, 180) for count in fresh), "a file was stored half"
        half_way += 0 < fresh.count(0) < len(files)
        # the aim follows the pace of the machine, which others load and leave
        seconds *= 0.85 if code == 0 else 1.0 if 0 in fresh else 1.2
        assert [len(file.refused) for file in report.files] == [1] * len(files)
        with mills.store_of(folder) as store:
            assert store.verify() == []
            assert store.contents_digest() == undisturbed
    # the kills must have fallen into the work, or this shows nothing
    assert killed == KILLS
    assert half_way >= 3


def test_answers_killed_at_any_moment_are_whole(
    database: str, tmp_path: Path, small_mill: None
) -> None:
    folder = tmp_path / "mill"
    killing.make_folder(folder, database if "://" in database else "")
    seconds, _ = _run("answers", folder)
    dice = random.Random(3)
    for _ in range(10):
        _empty(folder)
        _run("answers", folder, kill_after=dice.uniform(0.05, 1.0) * seconds)
        with mills.store_of(folder, create=True) as store:
            assert store.verify() == []
            assert all(
                len(one.answer["figures"]) == 400 for one in store.ask(newest_results, "day")
            )


def test_four_processes_appending_lose_and_double_nothing(database: str, tmp_path: Path) -> None:
    counts = [tmp_path / f"counts-{n}" for n in range(4)]
    processes = [
        killing.forked().Process(
            target=killing.append_for, args=(database, n, APPENDING_SECONDS, str(counts[n]))
        )
        for n in range(4)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join(60)
        assert process.exitcode == 0
    told = [[int(part) for part in path.read_text().split()] for path in counts]
    assert all(own == turns > 0 for own, _, turns in told)
    with Store.open(database) as store:
        held = [reading.address for reading in store.ask(readings_in, Period(at(1, 0), at(30)))]
        for n in range(4):
            assert held.count(f"own.{n}") == told[n][0]
        # every process offers the same shared readings: each is new to exactly one of them
        assert held.count("shared.one") == sum(shared for _, shared, _ in told)
        assert held.count("shared.one") == max(turns for *_, turns in told)
        assert store.verify() == []
