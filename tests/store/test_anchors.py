"""Heads outside the database: a lost, emptied, older, foreign or rewritten database shows."""

import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from ratoon.base.errors import BadInput, RatoonError, StoreError
from ratoon.base.records import Period
from ratoon.demo import write as demo_write
from ratoon.jobs.keep import doctor
from ratoon.jobs.keep.backup import backup
from ratoon.jobs.keep.restore import restore
from ratoon.jobs.mills import store_of
from ratoon.store import NoRecordsYet, Store
from ratoon.store.chain import events as chain
from ratoon.store.chain.anchors import FILE, SECOND, Anchors, RecordsLost
from ratoon.web.door.visit import Door

from .conftest import at, entries, input_file, reading

MILL = Path(demo_write.__file__).parent / "data" / "mill.toml"


@pytest.fixture
def mill(tmp_path: Path) -> Path:
    folder = tmp_path / "mill"
    folder.mkdir()
    shutil.copy(MILL, folder / "mill.toml")
    with store_of(folder, create=True) as store:
        _work(store, 14)
    return folder


def _work(store: Store, day: int) -> None:
    store.add_file(input_file(f"{day}.csv"), entries(reading("cane.weight", day, 1e6)))
    store.add_result("day", Period(at(day), at(day + 1)), "d" * 64, {}, {"figure": 1.0})


def _lines(mill: Path) -> list[str]:
    return (mill / FILE).read_text().splitlines()


def _take(mill: Path, to: Path) -> None:
    """Copy the database as it is, closed."""
    to.mkdir()
    shutil.copy(mill / "ratoon.db", to / "ratoon.db")


def test_each_writing_is_anchored_once_it_is_stored(mill: Path) -> None:
    with store_of(mill) as store:
        events = store.ask(chain.read)
        assert [line.split(" ")[0] for line in _lines(mill)] == ["1", "2", "3"]
        assert [line.split(" ")[1] for line in _lines(mill)] == [e.hash for e in events]
        assert store.identity() == events[0].hash
        assert store.verify() == []
    assert (mill / FILE).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("how", ["gone", "empty", "no tables"])
def test_lost_records_are_refused_and_none_are_begun(mill: Path, how: str) -> None:
    database = mill / "ratoon.db"
    database.unlink()
    if how == "empty":
        database.touch()
    if how == "no tables":
        with closing(sqlite3.connect(database)) as plain:
            plain.execute("PRAGMA user_version = 1")
    for create in (False, True):
        with pytest.raises(RecordsLost, match=r"records are gone.*event 3.*restore the newest"):
            store_of(mill, create=create)
    door = Door(mill)
    with pytest.raises(RecordsLost):  # the page People is open to nobody
        door.visitor_of("", near=True)
    found = [f for f in doctor.examine(mill) if f.what == "database"]
    assert not found[0].sound and "records are gone" in found[0].line


def test_an_older_database_is_refused(mill: Path, tmp_path: Path) -> None:
    _take(mill, tmp_path / "older")
    with store_of(mill) as store:
        _work(store, 15)
    shutil.copy(tmp_path / "older" / "ratoon.db", mill / "ratoon.db")
    for name in ("ratoon.db-wal", "ratoon.db-shm"):
        (mill / name).unlink(missing_ok=True)
    with pytest.raises(RecordsLost, match=r"records are older: they end at event 3.*of event 5"):
        store_of(mill)


def test_a_foreign_database_is_refused(mill: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with store_of(other, create=True) as store:
        for day in range(14, 18):
            _work(store, day)
    shutil.copy(other / "ratoon.db", mill / "ratoon.db")
    with pytest.raises(RecordsLost, match="of another store"):
        store_of(mill)


def test_rows_and_events_cut_together_are_found(mill: Path) -> None:
    """All that hangs on the chain's end goes: without an anchor it was called sound."""
    with closing(sqlite3.connect(mill / "ratoon.db")) as plain:
        plain.execute("DELETE FROM results")
        plain.execute("DELETE FROM events WHERE number = 3")
        plain.commit()
    found = [f.line for f in doctor.examine(mill) if f.what == "database"]
    assert "end at event 2" in found[0]


def test_a_log_cut_short_is_found(mill: Path) -> None:
    log = mill / "ratoon.db-wal"
    with store_of(mill) as store:
        _work(store, 15)
        whole = log.read_bytes()
        shutil.copy(mill / "ratoon.db", mill / "kept.db")
    shutil.move(mill / "kept.db", mill / "ratoon.db")
    log.write_bytes(whole[: len(whole) * 3 // 10])
    with pytest.raises(RecordsLost, match="records are older"):
        store_of(mill)


def test_a_database_killed_before_its_anchor_is_taken_up(mill: Path) -> None:
    kept = _lines(mill)
    (mill / FILE).write_text("\n".join(kept[:2]) + "\n" + kept[2][:50])  # unfinished, as by a crash
    with store_of(mill) as store:
        assert store.verify() == []
        _work(store, 15)
        assert store.verify() == []
    assert _lines(mill)[-1].split(" ")[0] == "5"


@pytest.mark.parametrize("left", ["nothing", "an empty file"])
def test_a_store_killed_before_its_first_anchor_is_taken_up(tmp_path: Path, left: str) -> None:
    """Ended after the tables were stored, or between the making of the file and its first line."""
    store_of(tmp_path, create=True).close()
    (tmp_path / FILE).unlink()
    if left == "an empty file":
        (tmp_path / FILE).touch()
    # before anybody has opened it again, which begins the file, there is nothing amiss either
    assert [f for f in doctor._database(tmp_path, None) if not f.sound] == []
    assert left != "nothing" or not (tmp_path / FILE).exists()
    with store_of(tmp_path) as store:
        assert store.verify() == []
        _work(store, 14)
        assert store.verify() == []
    assert [line.split(" ")[0] for line in _lines(tmp_path)] == ["1", "2", "3"]


@pytest.mark.parametrize("letters", [1, 20])
def test_a_full_disk_that_cut_the_very_first_line_is_taken_up(mill: Path, letters: int) -> None:
    (mill / FILE).write_text(_lines(mill)[0][:letters])
    with store_of(mill) as store:
        _work(store, 15)
        assert store.verify() == []
        assert [line.split(" ")[0] for line in _lines(mill)] == ["1", "4", "5"]
    (mill / FILE).write_text("2 " + _lines(mill)[1][2:20])  # not the beginning of that line
    with store_of(mill) as store:
        _work(store, 16)
        assert store.verify() != []


def test_a_mill_that_cannot_be_written_is_read_and_backed_up(mill, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("ratoon.store.engine.may_write", lambda _: False)
    with store_of(mill) as store:
        assert store.verify() == [] and not store.writable
        with pytest.raises(StoreError, match=r"readonly.*may write"):
            _work(store, 15)
    made = backup(mill, tmp_path / "a.backup")
    assert not made.noted and made.event == 3
    assert all(f.sound for f in doctor.examine(mill) if f.what != "machine")
    monkeypatch.undo()
    assert restore(tmp_path / "a.backup", tmp_path / "new").head == made.head


def test_every_letter_of_the_anchors_counts(mill: Path) -> None:
    whole = (mill / FILE).read_text()
    with store_of(mill) as store:
        for place in range(0, len(whole) - 1, 17):
            other = "x" if whole[place] != "x" else "y"
            (mill / FILE).write_text(whole[:place] + other + whole[place + 1 :])
            assert store.verify() != [], place


@pytest.mark.parametrize("how", ["gone", "empty"])
def test_anchors_taken_away_are_missed(mill: Path, how: str) -> None:
    (mill / FILE).unlink()
    if how == "empty":
        (mill / FILE).touch()
    with store_of(mill) as store:
        _work(store, 15)  # goes on, and does not begin them in silence
        assert not (mill / FILE).exists() or not _lines(mill)
        (fault,) = store.verify()
        assert fault.startswith(f"{FILE}: is {how}; put it back from the second place")
    doctor.begin_anchors(mill)
    with store_of(mill) as store:
        assert store.verify() == []
        assert store.ask(chain.read)[-1].what == "anchors begun"
    with pytest.raises(BadInput, match="anchors are there"):
        doctor.begin_anchors(mill)


def test_writers_that_end_together_append_once_to_the_second_place(tmp_path: Path) -> None:
    share, mill = tmp_path / "share", tmp_path / "mill"
    share.mkdir()
    mill.mkdir()
    (mill / SECOND).write_text(f"{share}\n")
    anchors = Anchors(mill / FILE)
    for turn in range(40):
        with (mill / FILE).open("a") as opened:
            opened.write(f"{turn}\n" * 1000)
        with ThreadPoolExecutor(8) as writers:
            answers = list(writers.map(lambda _: anchors.to_second_place(), range(8)))
        assert answers == [""] * 8
        assert (share / FILE).read_bytes() == (mill / FILE).read_bytes()


def test_a_second_place_is_written_and_compared(mill: Path, tmp_path: Path) -> None:
    share = tmp_path / "share"
    (mill / SECOND).write_text(f"{share}\n")
    with store_of(mill) as store:
        _work(store, 15)  # a share that is away holds up nothing
        assert any("is not there" in fault for fault in store.verify())
        share.mkdir()
        _work(store, 16)
        assert (share / FILE).read_text() == (mill / FILE).read_text()
        assert store.verify() == []
    # somebody puts an older folder back, anchors and all
    second = (share / FILE).read_text()
    (mill / FILE).write_text("".join(line + "\n" for line in _lines(mill)[:-2]))
    with closing(sqlite3.connect(mill / "ratoon.db")) as plain:
        plain.execute("DELETE FROM results WHERE id = 3")
        plain.execute("DELETE FROM readings WHERE file = 3")
        plain.execute("DELETE FROM files WHERE id = 3")
        plain.execute("DELETE FROM events WHERE number > 5")
        plain.commit()
    with store_of(mill) as store:
        assert any("second place" in f and "knows of event 6" in f for f in store.verify())
    assert (share / FILE).read_text() == second
    (mill / SECOND).write_text("not/whole\n")
    with store_of(mill) as store:
        assert any("whole path" in fault for fault in store.verify())


def test_sheets_without_records_are_no_new_mill(tmp_path: Path) -> None:
    shutil.copy(MILL, tmp_path / "mill.toml")
    assert {f.sound for f in doctor.examine(tmp_path) if f.what == "database"} == {True}
    sheet = tmp_path / "sheets" / "2031-08-14" / "morning.json"
    sheet.parent.mkdir(parents=True)
    sheet.write_text('{"foot": []}')
    found = [f for f in doctor.examine(tmp_path) if f.what == "database"]
    assert not found[0].sound and "taken away" in found[0].line


def test_two_exchanged_backups_are_told_apart(mill: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "monday.backup", tmp_path / "tuesday.backup"
    made = backup(mill, first)
    with store_of(mill) as store:
        _work(store, 15)
    backup(mill, second)
    kept = tmp_path / "kept.txt"
    shutil.copy(mill / FILE, kept)
    first.rename(tmp_path / "x")
    second.rename(first)
    (tmp_path / "x").rename(second)
    for name in (first, second):
        with pytest.raises(BadInput, match=r"not the backup that was written under this name"):
            restore(name, tmp_path / "a", anchors=kept)
    back = restore(second, tmp_path / "b")
    assert (back.written_as, back.event, back.store) == (first.name, made.event, made.store)
    # without exchange the older one is told to be older
    second.rename(tmp_path / "x")
    first.rename(second)
    (tmp_path / "x").rename(first)
    assert restore(first, tmp_path / "c", anchors=kept).later == 4
    with store_of(tmp_path / "c") as store:
        assert store.verify() == []


def test_a_backup_of_other_records_is_refused_by_the_anchors(mill: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    shutil.copy(MILL, other / "mill.toml")
    with store_of(other, create=True) as store:
        _work(store, 14)
    backup(other, tmp_path / "other.backup")
    with pytest.raises(BadInput, match="a backup of other records"):
        restore(tmp_path / "other.backup", tmp_path / "new", anchors=mill / FILE)
    assert not (tmp_path / "new").exists()


def test_a_folder_without_anchors_or_records_is_a_new_mill(tmp_path: Path) -> None:
    with pytest.raises(NoRecordsYet):
        store_of(tmp_path)
    with store_of(tmp_path, create=True) as store:
        store.keep_settings("x = 1", date(2031, 6, 10))
    assert len(_lines(tmp_path)) == 2


def test_anchors_that_cannot_be_read_are_said(mill: Path) -> None:
    (mill / FILE).unlink()
    (mill / FILE).mkdir()
    with pytest.raises(StoreError, match=r"anchors\.txt: cannot be read") as refused:
        store_of(mill)
    assert isinstance(refused.value, RatoonError)
