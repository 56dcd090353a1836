"""Backup, restore, change of tables and posts of the pages killed at any moment, on each database.

A few kills run always; ``RATOON_KILLS=100 pytest tests/store/test_kill_copies.py`` makes as many as
one likes of each.
"""

import multiprocessing
import os
import random
import shutil
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from ratoon.base.records import Period, Reading
from ratoon.demo import write as demo_write
from ratoon.jobs.keep.restore import restore
from ratoon.jobs.mills import store_of
from ratoon.store import Store
from ratoon.store.chain import events as chain
from ratoon.store.tables import SCHEMA_VERSION
from ratoon.store.written import notes_in

from .conftest import at

sys.path.insert(0, str(Path(__file__).parent))  # the processes look for the works there
import killing
import killing_copies
from killing import Mill
from killing_copies import BACKUP, NEW, TOLD

KILLS = int(os.environ.get("RATOON_KILLS", "2"))
MILL = Path(demo_write.__file__).parent / "data" / "mill.toml"
ON = ["sqlite", "postgresql"] if KILLS >= 10 else ["sqlite"]
"""A few kills always on SQLite; on PostgreSQL too where many are asked for."""


@pytest.fixture(params=ON)
def mill(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Mill:
    """A mill with some thousand readings; its works are killed."""
    monkeypatch.setattr(killing, "forked", lambda: multiprocessing.get_context("spawn"))
    on_server = request.param == "postgresql"
    server = str(request.getfixturevalue("postgresql")) if on_server else ""
    one = Mill(tmp_path / "mill", server, killing_copies.work)
    one.folder.mkdir()
    shutil.copy(MILL, one.folder)
    if server:
        (one.folder / "database.url").write_text(one.url)
    one.empty()
    times = [at(14) + timedelta(minutes=n) for n in range(2 * 24 * 60)]
    with store_of(one.folder, create=True) as store:
        store.add_readings([Reading("mixed_juice.brix", 15.0 + n / 1e4, 0.1, start=t, unit="%",
                                    end=t + timedelta(minutes=1), given=15.0)
                            for n, t in enumerate(times)])  # fmt: skip
    one.remember("imported")
    return one


def _rows(folder: Path) -> str:
    """Digest of what is stored but for what a backup, a restore or a change of tables adds."""
    with store_of(folder) as store:
        assert store.verify() == []
        return store.contents_digest()


def _killed(mill: Mill, name: str, before: Callable[[], None], after: Callable[[], None]) -> None:
    """Kill a work so many times, each from where `before` leaves all; `after` looks."""
    before()
    reach, code = mill.run(name)
    assert code == 0
    dice, killed = random.Random(7), 0
    for _ in range(3 * KILLS + 30):
        if killed >= KILLS:
            break
        before()
        code = mill.run(name, dice.uniform(0.0, reach))[1]
        killed += code == -9
        reach *= 0.85 if code == 0 else 1.03
        after()
    assert killed >= KILLS


def test_a_backup_is_whole_or_not_there(mill: Mill, tmp_path: Path) -> None:
    rows, file = _rows(mill.folder), tmp_path / BACKUP

    def look() -> None:
        assert _rows(mill.folder) == rows
        if not file.exists():
            assert mill.run("backup")[1] == 0  # what was half written is in nobody's way
        shutil.rmtree(tmp_path / NEW, ignore_errors=True)
        restore(file, tmp_path / NEW)
        assert _rows(tmp_path / NEW) == rows

    _killed(mill, "backup", lambda: file.unlink(missing_ok=True), look)


def test_a_restore_is_whole_or_can_be_made_again(mill: Mill, tmp_path: Path) -> None:
    assert mill.run("backup")[1] == 0
    rows, new = _rows(mill.folder), tmp_path / NEW
    other = Mill(tmp_path / "unused", mill.server, killing_copies.work)
    if mill.server:
        (tmp_path / "restored.url").write_text(other.url)

    def empty() -> None:
        for left in (new, tmp_path / f"{NEW}.part"):
            shutil.rmtree(left, ignore_errors=True)
        if mill.server:
            other.empty()

    def look() -> None:
        if new.exists():
            assert _rows(new) == rows
            return
        empty()
        assert mill.run("restore")[1] == 0
        assert _rows(new) == rows

    _killed(mill, "restore", empty, look)


def test_older_tables_are_brought_up_to_date_or_stay_as_they_were(mill: Mill) -> None:
    rows = _rows(mill.folder)
    killing_copies.make_old(mill.url or str(mill.folder / "ratoon.db"))
    mill.remember("old")

    def old() -> None:
        mill.go_back("old")
        for left in mill.folder.glob("ratoon-tables-*"):
            left.unlink()

    def look() -> None:
        with Store.open(mill.url or mill.folder / "ratoon.db") as store:
            changed = [e.detail["to"] for e in store.ask(chain.read) if e.what == "tables changed"]
        assert changed == [SCHEMA_VERSION]  # once, whenever it was killed
        assert _rows(mill.folder) == rows

    _killed(mill, "migrate", old, look)


def test_no_post_that_was_answered_is_lost_and_none_counts_twice(mill: Mill) -> None:
    def look() -> None:
        told = (mill.folder / TOLD).read_text().split() if (mill.folder / TOLD).exists() else []
        with store_of(mill.folder) as store:
            assert store.verify() == []
            kept = [note.text for note in store.ask(notes_in, Period(at(13), at(17)))]
        assert len(kept) in (len(told), len(told) + 1)  # one may be stored and not answered yet
        assert sorted(kept) == sorted(f"note {n}" for n in range(len(kept)))

    def before() -> None:
        mill.go_back("imported")
        (mill.folder / TOLD).unlink(missing_ok=True)

    dice, posted = random.Random(3), 0
    for turn in range(KILLS + 20):
        if turn >= KILLS and posted:
            break
        before()
        assert mill.run("post", dice.uniform(0.2, 1.5))[1] == -9
        look()
        posted += bool((mill.folder / TOLD).read_text())
    assert posted
