"""A backup made while others write comes back on an empty machine, to the last figure."""

import json
import shutil
import threading
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from ratoon.base.errors import BadInput, RatoonError, StoreError
from ratoon.jobs.door import people as people_jobs
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.keep.backup import MANIFEST, backup
from ratoon.jobs.keep.restore import _is_ours, restore
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import account_day
from ratoon.store import Store
from ratoon.store.chain import events as chain

from .conftest import entries, input_file, reading

DAY = date(2031, 6, 12)


@pytest.fixture(scope="module")
def invented(invented_days: Callable[[int], Path]) -> Path:
    return invented_days(3)


@pytest.fixture
def mill(invented: Path, tmp_path: Path, database: str) -> Path:
    """Three days of the invented mill with people, on SQLite or PostgreSQL."""
    folder = Path(shutil.copytree(invented, tmp_path / "mill"))
    if database.startswith("postgresql"):
        (folder / "database.url").write_text(database + "\n")
    import_files(folder, sorted((folder / "input").glob("*-readings*")))
    with store_of(folder) as store:
        people_jobs.add_person(store, "anna", "Anna Reed", ["manager"])
    return folder


def test_it_comes_back_and_accounts_the_same(mill: Path, tmp_path: Path) -> None:
    first = in_mill(mill, account_day, DAY)
    with store_of(mill) as store:
        head, contents = store.ask(chain.head), store.contents_digest()
    made = backup(mill, tmp_path / "a.backup")
    assert made.head == head
    shutil.rmtree(mill)  # the machine is lost
    back = tmp_path / "elsewhere" / "mill"
    restored = restore(tmp_path / "a.backup", back)
    assert (restored.head, restored.digest, restored.rows) == (made.head, made.digest, made.rows)
    with store_of(back) as store:
        assert store.contents_digest() == contents
        assert head in [event.hash for event in store.ask(chain.read)]
        assert [p.login for p in store.people.all()] == ["anna"]
        assert store.people.sessions() == []
    again = in_mill(back, account_day, DAY)
    assert again.inputs_digest == first.inputs_digest
    for address, figure in first.figures.items():
        if figure.value is not None:
            assert again.figures[address].value == pytest.approx(figure.value, rel=1e-8)
    # the counting of rows goes on where it stood
    with store_of(back) as store:
        store.add_file(input_file(), entries(reading("cane.weight", 20, 1e6)))
        assert store.verify() == []


def test_from_one_database_to_the_other(
    mill: Path, tmp_path: Path, new_database: Callable[[], str]
) -> None:
    another = new_database()
    with store_of(mill) as store:
        contents = store.contents_digest()
    backup(mill, tmp_path / "a.backup")
    there = restore(tmp_path / "a.backup", tmp_path / "b", another)
    with Store.open(another) as store:
        assert store.contents_digest() == contents
        store.add_file(input_file(), entries(reading("cane.weight", 20, 1e6)))
        assert store.verify() == []
    assert there.rows > 100
    with pytest.raises(StoreError, match="not empty"):
        restore(tmp_path / "a.backup", tmp_path / "c", another)
    assert not (tmp_path / "c").exists()
    assert not list(tmp_path.glob("*.part"))


def test_it_is_whole_while_others_write(mill: Path, tmp_path: Path) -> None:
    stop, days = threading.Event(), iter(range(1, 28))

    def write() -> None:
        with store_of(mill) as store:
            while not stop.is_set():
                day = next(days, None)
                if day is None:
                    return
                rows = (reading(f"a.b{n}", day, 1.0) for n in range(200))
                store.add_file(input_file(f"{day}.csv"), entries(*rows))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made = [backup(mill, tmp_path / f"{n}.backup") for n in range(3)]
    finally:
        stop.set()
        writer.join()
    assert len({one.head for one in made}) == 3
    for n, one in enumerate(made):
        assert restore(tmp_path / f"{n}.backup", tmp_path / f"back{n}").head == one.head
    with store_of(mill) as store:
        assert store.verify() == []
        assert {one.head for one in made} <= {event.hash for event in store.ask(chain.read)}


def _rewritten(file: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    with zipfile.ZipFile(file) as book:
        held = {name: book.read(name) for name in book.namelist()}
    change(held)
    other = file.with_name("other.backup")
    with zipfile.ZipFile(other, "w", zipfile.ZIP_DEFLATED) as book:
        for name, data in held.items():
            book.writestr(name, data)
    return other


def _name(held: dict[str, bytes], name: str, data: bytes) -> None:
    """Puts a member in, and the manifest right: all of it is somebody's who means harm."""
    import hashlib

    told = json.loads(held[MANIFEST])
    told["members"][name] = {"size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
    held[name], held[MANIFEST] = data, json.dumps(told).encode()


def _raise_version(held: dict[str, bytes]) -> None:
    held[MANIFEST] = json.dumps(json.loads(held[MANIFEST]) | {"tables": 99}).encode()


def _other_value(held: dict[str, bytes]) -> None:
    name = "tables/readings.jsonl"
    _name(held, name, held[name].replace(b'"note":""', b'"note":"x"', 1))


def _cut_chain(held: dict[str, bytes]) -> None:
    name = "tables/events.jsonl"
    _name(held, name, b"".join(held[name].splitlines(keepends=True)[:-1]))


CHANGES: list[tuple[Callable[[dict[str, bytes]], None], str]] = [
    (lambda held: held.update({"mill/mill.toml": b"x" * len(held["mill/mill.toml"])}), "changed"),
    (lambda held: held.update({"mill/mill.toml": b"x"}), "another size"),
    (lambda held: held.update({"mill/more": b"x"}), "members are missing, or more"),
    (lambda held: held.pop("mill/mill.toml"), "members are missing"),  # type: ignore[arg-type,return-value]
    (lambda held: held.pop(MANIFEST), "not a backup of ours"),  # type: ignore[arg-type,return-value]
    (lambda held: held.update({MANIFEST: b"[]"}), "not a backup of ours"),
    (lambda held: _name(held, "mill/../../evil", b"x"), "no backup writes"),
    (lambda held: _name(held, "/etc/evil", b"x"), "no backup writes"),
    (lambda held: _name(held, "mill/a\\..\\b", b"x"), "no backup writes"),
    (lambda held: _name(held, "tables/sqlite_master.jsonl", b"{}\n"), "no backup writes"),
    (lambda held: _name(held, "tables/sessions.jsonl", b"{}\n"), "no backup writes"),
    (lambda held: _name(held, "mill/database.url", b"postgresql://evil/x\n"), "no backup writes"),
    (lambda held: _name(held, "mill/anchors.txt", b"1 " + b"0" * 64 + b" x y\n"), "another store"),
    (lambda held: _name(held, "tables/readings.jsonl", b'{"x":1}\n'), "not a row"),
    (_raise_version, "newer ratoon"),
    (_other_value, "not sound: file .* stored rows were changed"),
    (_cut_chain, "ends elsewhere"),
]


@pytest.mark.parametrize(("change", "told"), CHANGES)
def test_what_was_changed_is_refused_and_nothing_is_left(
    invented: Path, tmp_path: Path, change: Callable[[dict[str, bytes]], None], told: str
) -> None:
    folder = Path(shutil.copytree(invented, tmp_path / "mill"))
    import_files(folder, sorted((folder / "input").glob("*-readings*"))[:2])
    backup(folder, tmp_path / "a.backup")
    other = _rewritten(tmp_path / "a.backup", change)
    with pytest.raises(RatoonError, match=told) as refused:
        restore(other, tmp_path / "back")
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "back").exists()
    assert not list(tmp_path.glob("*.part"))


@pytest.mark.parametrize("name", [
    "mill/DATABASE.URL", "mill/ratoon.db", "mill/ratoon-tables-1.db", "mill/ratoon.db-wal",
    "mill/anchors.second", "mill/.ssh/keys", "mill/a/.git/hooks", "mill/kept-pages/x",
    "mill/sheets/./x", "mill/sheets//x", "mill/", "mill", "tables/../x", "tables/x/y.jsonl",
    "tables/sessions.jsonl", "other/x", "mill/x\n", "mill/c:x", "mill/half.part",
])  # fmt: skip
def test_only_names_that_a_backup_writes_are_taken(name: str) -> None:
    assert not _is_ours(name)
    assert _is_ours("mill/sheets/2031-08-14/morning.pdf") and _is_ours("tables/events.jsonl")
    assert _is_ours("mill/anchors.txt") and _is_ours("mill/mill.toml")


def test_places_that_cannot_be_are_refused(invented: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(invented, tmp_path / "mill"))
    import_files(folder, sorted((folder / "input").glob("*-readings*"))[:2])
    file = tmp_path / "a.backup"
    backup(folder, file)
    assert file.stat().st_mode & 0o077 == 0
    with pytest.raises(BadInput, match="stands already"):
        backup(folder, file)
    with pytest.raises(BadInput, match="no such folder"):
        backup(folder, tmp_path / "none" / "a.backup")
    with pytest.raises(BadInput, match="folder is not empty"):
        restore(file, folder)
    with pytest.raises(BadInput, match="none: no such file"):
        restore(tmp_path / "none", tmp_path / "back")
    with pytest.raises(BadInput, match="not the URL of a database"):
        restore(file, tmp_path / "back", "nonsense")
    assert not Path("nonsense").exists()  # where the records would have gone
    with pytest.raises(BadInput, match=r"back\.part: cannot be restored: Not a directory"):
        (tmp_path / "text").write_text("no folder")
        restore(file, tmp_path / "text" / "back")
    (tmp_path / "text").write_text("no backup")
    with pytest.raises(BadInput, match="not a sound backup"):
        restore(tmp_path / "text", tmp_path / "back")
    cut = tmp_path / "cut"
    cut.write_bytes(file.read_bytes()[:-4000])
    with pytest.raises(BadInput, match="not a sound backup"):
        restore(cut, tmp_path / "back")
    assert not (tmp_path / "back").exists()


def test_a_file_that_cannot_be_read_is_named_and_no_backup_is_made(
    invented: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(invented, tmp_path / "mill"))
    import_files(folder, sorted((folder / "input").glob("*-readings*"))[:1])
    opened = Path.open

    def refuse(path: Path, *how: Any, **more: Any) -> Any:
        if path.name.endswith("-stops.csv"):
            raise PermissionError(13, "Permission denied")
        return opened(path, *how, **more)

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(BadInput, match=r"stops\.csv: cannot be read: Permission denied"):
        backup(folder, tmp_path / "a.backup")
    assert not list(tmp_path.glob("a.backup*"))


def test_an_older_backup_is_brought_up_to_date(
    invented: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(invented, tmp_path / "mill"))
    import_files(folder, sorted((folder / "input").glob("*-readings*"))[:2])
    backup(folder, tmp_path / "a.backup")

    def older(held: dict[str, bytes]) -> None:
        told = json.loads(held[MANIFEST])
        for name in [n for n in held if n.startswith("tables/")]:
            if name[7:-6] not in {"meta", "files", "readings", "stops", "settings", "events"}:
                del held[name], told["members"][name]
        held[MANIFEST] = json.dumps(told | {"tables": 1}).encode()
        _name(held, "tables/meta.jsonl", b'{"key":"schema","value":"1"}\n')

    restore(_rewritten(tmp_path / "a.backup", older), tmp_path / "back")
    with store_of(tmp_path / "back") as store:
        assert "tables changed" in [event.what for event in store.ask(chain.read)]
        assert store.verify() == []
