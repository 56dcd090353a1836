"""Backup and restore: a mill's folder and records in one file, and back on an empty machine.

The file is a ZIP: `manifest.json`, the rows of every table, and the files of the mill's folder. The
manifest holds the digest of each of them and the head of the event chain, which the command
prints: written down beside the backup, it shows later that this is the backup that was made.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Any

from ratoon.base.errors import BadInput, StoreError
from ratoon.jobs.mills import KEPT_PAGES
from ratoon.store.anchors import FILE as ANCHORS
from ratoon.store.anchors import SECOND
from ratoon.store.room import URL_FILE

FORMAT = "ratoon backup 1"
MANIFEST = "manifest.json"
_TABLES, _FOLDER = "tables/", "mill/"
# the database itself, copies of it, where it is, what is half written, and other backups; the
# anchors come by themselves, up to the head that the backup holds
_LEFT_OUT = ("ratoon*.db", "ratoon*.db-*", URL_FILE, ANCHORS, SECOND, "*.part", "*.backup")
_PIECE = 1 << 20
_MOST_MANIFEST = 50_000_000


@dataclass(frozen=True, slots=True)
class Backup:
    """What was backed up or restored: whose records, up to which event, and how much there is.

    Attributes
    ----------
    store : what names the records, the same in every backup of them. event, head : the newest.
    written_as, made : name of the file when it was written, and when [ISO, UTC].
    later : events that the anchors know beyond this backup's; None where no anchors were named.
    noted : whether the records tell of this backup; a disk that is read alone keeps no event.
    """

    file: str
    head: str
    digest: str
    rows: int
    files: int
    size: int
    store: str = ""
    event: int = 0
    written_as: str = ""
    made: str = ""
    later: int | None = None
    noted: bool = True


class _Writer:
    """Members into the ZIP, with their digests into the manifest."""

    def __init__(self, book: zipfile.ZipFile) -> None:
        self._book = book
        self.members: dict[str, dict[str, Any]] = {}

    def add(self, name: str, pieces: Iterable[bytes]) -> int:
        mark, size, count = hashlib.sha256(), 0, 0
        info = zipfile.ZipInfo(name, datetime.now(UTC).timetuple()[:6])
        info.compress_type = zipfile.ZIP_DEFLATED
        with self._book.open(info, "w", force_zip64=True) as member:
            held = bytearray()  # a table's rows are short: many are written at once
            for piece in pieces:
                held += piece
                count += 1
                if len(held) >= _PIECE:
                    size += _written(member, mark, held)
            size += _written(member, mark, held)
        self.members[name] = {"size": size, "sha256": mark.hexdigest()}
        return count


def _written(member: Any, mark: Any, held: bytearray) -> int:
    """Write what is held, and hold nothing more; gives how much it was."""
    size = len(held)
    mark.update(held)
    member.write(bytes(held))
    held.clear()
    return size


def backup(mill_dir: Path, file: Path) -> Backup:
    """Write a mill's folder and records to a new file; the server may run meanwhile.

    Raises
    ------
    BadInput : no such mill, or the file stands already.
    """
    from ratoon.jobs.mills import mill_of, store_of
    from ratoon.store import rows
    from ratoon.store.tables import SCHEMA_VERSION

    mill_of(mill_dir)
    with store_of(mill_dir) as store, _new_file(file) as part:
        with zipfile.ZipFile(part, "w") as book:
            writer, count = _Writer(book), 0
            with rows.snapshot(store) as shot:
                head, event, named = shot.head, shot.event, shot.store
                for name in shot.names():
                    lines = (line.encode() for line in shot.lines(name))
                    count += writer.add(f"{_TABLES}{name}.jsonl", lines)
            for path in _files_of(mill_dir, {file.resolve(), part.resolve()}):
                writer.add(_FOLDER + path.relative_to(mill_dir).as_posix(), _pieces(path))
            if store.anchors and (anchored := store.anchors.upto(event)):
                writer.add(_FOLDER + ANCHORS, [anchored])
            made = datetime.now(UTC).isoformat(timespec="seconds")
            about = {"store": named, "event": event, "head": head, "file": file.name, "made": made}
            manifest = _manifest(about, SCHEMA_VERSION, writer.members)
            book.writestr(MANIFEST, manifest, zipfile.ZIP_DEFLATED)
        digest = hashlib.sha256(manifest).hexdigest()
        if noted := store.writable:
            with store.writing() as transaction:
                transaction.add_event("backup", {"file": file.name, "head": head, "digest": digest})
    size, files = file.stat().st_size, sum(n.startswith(_FOLDER) for n in writer.members)
    return Backup(str(file), head, digest, count, files, size, named, event, file.name, made,
                  noted=noted)  # fmt: skip


def _manifest(about: dict[str, Any], version: int, members: dict[str, dict[str, Any]]) -> bytes:
    from ratoon import __version__

    manifest = {"format": FORMAT, "program": __version__, "tables": version, **about,
            "members": members}  # fmt: skip
    return json.dumps(manifest, indent=1, ensure_ascii=False).encode()


@contextmanager
def _new_file(file: Path) -> Iterator[Path]:
    """A file to write, in its place only when whole; for nobody's eyes but the owner's."""
    if file.exists():
        raise BadInput("stands already", where=str(file), todo="Name a new file for the backup")
    if not file.parent.is_dir():
        raise BadInput("no such folder", where=str(file.parent))
    part = file.with_name(file.name + ".part")
    try:
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600))
        yield part
        with part.open("rb") as written:
            os.fsync(written.fileno())
        part.replace(file)
    except OSError as error:
        raise BadInput(f"cannot be written: {error.strerror}", where=str(file)) from None
    finally:
        part.unlink(missing_ok=True)


def _files_of(mill_dir: Path, but: set[Path]) -> list[Path]:
    """The files of a mill's folder but for pages that can be made anew; links are left out, since
    they may lead anywhere.
    """
    found = []
    for root, folders, names in os.walk(mill_dir):
        folders[:] = sorted(f for f in folders if not f.startswith(".") and f != KEPT_PAGES)
        for name in sorted(names):
            path = Path(root) / name
            out = any(PurePosixPath(name).match(pattern) for pattern in _LEFT_OUT)
            if not out and path.is_file() and not path.is_symlink() and path.resolve() not in but:
                found.append(path)
    return found


def _pieces(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as file:
            while piece := file.read(_PIECE):
                yield piece
    except OSError as error:
        raise BadInput(f"cannot be read: {error.strerror}", where=str(path),
                       todo="No backup was made") from None  # fmt: skip


def restore(file: Path, mill_dir: Path, database: str = "", anchors: Path | None = None) -> Backup:
    """Make a mill's folder and records anew from a backup, after all of it was checked.

    Parameters
    ----------
    mill_dir : a folder that is not there yet, or is empty.
    database : URL of an empty PostgreSQL database; without it the records go into the folder.
    anchors : file of anchors kept elsewhere, with which the backup is compared.

    Raises
    ------
    BadInput : no backup of ours, a damaged one, or a folder that is not empty; nothing is left.
    StoreError : the records are not the ones that the manifest's head or the anchors cover.
    """
    from ratoon.store import engine

    mill_dir = mill_dir.resolve()
    if mill_dir.exists() and (not mill_dir.is_dir() or any(mill_dir.iterdir())):
        raise BadInput("the folder is not empty", where=str(mill_dir),
                       todo="Restore into a new folder: nothing there was changed")  # fmt: skip
    part = mill_dir.with_name(mill_dir.name + ".part")
    for named in (file, anchors):
        if named is not None and not named.is_file():
            raise BadInput("no such file", where=str(named))
    if database and not engine.is_url(database):
        raise BadInput("not the URL of a database", where="--database", value=database,
                       allowed="postgresql://USER@HOST/NAME")  # fmt: skip
    if part.exists():
        raise BadInput("an unfinished restore lies there", where=str(part), todo="Take it away")
    later = None
    try:
        with zipfile.ZipFile(file) as book, ExitStack() as undone:
            manifest, digest = _checked(book, file)
            if anchors is not None:
                later = _compared(manifest, digest, file, anchors)
            _room_for(manifest, mill_dir)
            _make_folder(part, undone)
            count = _unpack(book, manifest, part, database)
            if database:
                undone.callback(_take_away, database)
            _look_again(part, manifest["head"], anchors)
            if mill_dir.exists():
                mill_dir.rmdir()
            part.replace(mill_dir)
            undone.pop_all()  # all is in its place
    except OSError as error:
        raise BadInput(f"cannot be restored: {error.strerror or error}",
                       where=str(error.filename or mill_dir)) from None  # fmt: skip
    except (zipfile.BadZipFile, zlib.error, EOFError, UnicodeDecodeError) as error:
        raise BadInput(f"not a sound backup: {error}", where=str(file)) from None
    files = sum(name.startswith(_FOLDER) for name in manifest["members"])
    return Backup(str(file), manifest["head"], digest, count, files, file.stat().st_size,
                  manifest.get("store", ""), manifest.get("event", 0), manifest.get("file", ""),
                  manifest.get("made", ""), later)  # fmt: skip


def _make_folder(part: Path, undone: ExitStack) -> None:
    """Make a folder and those above it; a restore that fails takes all of them away."""
    above = [p for p in part.parents if not p.exists()]
    for folder in reversed(above):
        folder.mkdir()
        undone.callback(_rmdir, folder)
    part.mkdir()
    undone.callback(shutil.rmtree, part, ignore_errors=True)


def _rmdir(folder: Path) -> None:
    with suppress(OSError):
        folder.rmdir()


def _take_away(database: str) -> None:
    from ratoon.store import rows

    with suppress(StoreError):
        rows.take_away(database)


def _compared(manifest: dict[str, Any], digest: str, file: Path, anchors: Path) -> int:
    """How many events the anchors know beyond a backup, once it is one that they know.

    Raises
    ------
    BadInput : a backup of other records, or not the one that was written under its name.
    """
    lines = anchors.read_text(encoding="utf-8", errors="replace").splitlines()
    words = [line.split(" ") for line in lines if line[:1].isdigit()]
    wrong = "compare the head that was written down when it was made"
    if not words or words[0][1:2] != [manifest.get("store")]:
        raise BadInput(f"is a backup of other records than {anchors} knows", where=str(file),
                       todo=wrong)  # fmt: skip
    for one in words:
        if one[3:4] == ["backup"] and one[4:-1] == [file.name] and one[-1] != digest:
            raise BadInput(
                f"is not the backup that was written under this name on {one[2][:10]}",
                where=str(file), todo=wrong,
                value=f"written as {manifest.get('file')} at {manifest.get('made')}",
            )  # fmt: skip
        if one[0] == str(manifest.get("event")) and one[1:2] != [manifest["head"]]:
            raise BadInput(f"event {one[0]} is another than {anchors} knows", where=str(file),
                           todo=wrong)  # fmt: skip
    newest = max(int(one[0]) for one in words if one[0].isdigit())
    return max(0, newest - int(manifest.get("event", 0)))


def _checked(book: zipfile.ZipFile, file: Path) -> tuple[dict[str, Any], str]:
    """The manifest, once every member is what it says."""
    wrong = BadInput("not a backup of ours", where=str(file))
    if MANIFEST not in book.namelist() or book.getinfo(MANIFEST).file_size > _MOST_MANIFEST:
        raise wrong
    text = book.read(MANIFEST)
    try:
        manifest: dict[str, Any] = json.loads(text)
        members: dict[str, dict[str, Any]] = manifest["members"]
        known = manifest["format"] == FORMAT and isinstance(manifest["tables"], int)
    except (ValueError, KeyError, TypeError):
        raise wrong from None
    if not known:
        raise wrong
    names = [name for name in book.namelist() if name != MANIFEST]
    if sorted(names) != sorted(members):
        raise BadInput("members are missing, or more than the manifest names", where=str(file))
    for name in names:
        if not _is_ours(name):
            raise BadInput("holds a member that no backup writes", where=str(file), value=name)
        if book.getinfo(name).file_size != members[name]["size"]:
            raise BadInput("a member has another size than the manifest says",
                           where=str(file), value=name)  # fmt: skip
        mark = hashlib.sha256()
        with book.open(name) as member:
            while piece := member.read(_PIECE):
                mark.update(piece)
        if mark.hexdigest() != members[name]["sha256"]:
            raise BadInput("a member was changed afterwards", where=str(file), value=name)
    return manifest, hashlib.sha256(text).hexdigest()


def _is_ours(name: str) -> bool:
    """Whether a backup writes a member of this name: nothing else is taken out of one."""
    from ratoon.store.rows import LEFT_BEHIND
    from ratoon.store.tables import metadata

    path = PurePosixPath(name)
    if "\\" in name or ":" in name or not name.isprintable() or str(path) != name:
        return False
    if name.startswith(_TABLES):
        known = {f"{_TABLES}{table}.jsonl" for table in metadata.tables if table not in LEFT_BEHIND}
        return name in known
    inside = path.parts[1:]
    if not name.startswith(_FOLDER) or not inside or ".." in inside or KEPT_PAGES in inside[:-1]:
        return False
    if any(part.startswith(".") for part in inside[:-1]):
        return False
    plain = PurePosixPath(inside[-1].lower())  # a disk may take capitals for small letters
    return name == _FOLDER + ANCHORS or not any(plain.match(one) for one in _LEFT_OUT)


def _room_for(manifest: dict[str, Any], mill_dir: Path) -> None:
    wanted = sum(member["size"] for member in manifest["members"].values())
    there = next(p for p in mill_dir.resolve().parents if p.is_dir())
    free = shutil.disk_usage(there).free
    if wanted * 2 > free:  # rows take about twice their text in the database
        raise BadInput(f"{wanted * 2 / 1e9:.1f} GB are wanted, {free / 1e9:.1f} GB free",
                       where=str(there))  # fmt: skip


def _unpack(book: zipfile.ZipFile, manifest: dict[str, Any], part: Path, database: str) -> int:
    from ratoon.store import rows
    from ratoon.store.room import DATABASE, URL_FILE

    for name in manifest["members"]:
        if name.startswith(_FOLDER):
            path = part / PurePosixPath(name).relative_to(_FOLDER)
            path.parent.mkdir(parents=True, exist_ok=True)
            with book.open(name) as member, path.open("xb") as written:
                shutil.copyfileobj(member, written, _PIECE)
    count = 0
    with ExitStack() as opened:  # a load that fails leaves its member half read

        def lines(name: str) -> Iterator[str]:
            nonlocal count
            member = opened.enter_context(book.open(name))
            text = opened.enter_context(io.TextIOWrapper(member, encoding="utf-8", newline="\n"))
            for line in text:
                count += 1
                yield line

        names = [name for name in manifest["members"] if name.startswith(_TABLES)]
        tables = ((PurePosixPath(name).stem, lines(name)) for name in names)
        rows.fill(database or str(part / DATABASE), manifest["tables"], tables, manifest["head"])
    if database:
        (part / URL_FILE).write_text(database + "\n", encoding="utf-8")
    return count


def _look_again(mill_dir: Path, head: str, anchors: Path | None) -> None:
    """Opens what was restored, as every command will: an older version is brought up to date."""
    from ratoon.jobs.mills import store_of

    with store_of(mill_dir) as store:
        faults = store.verify() + (store.known_to(anchors) if anchors else [])
        if faults:
            raise StoreError(f"the restored records are not sound: {faults[0]}", where=store.where)
        with store.writing() as transaction:
            transaction.add_event("restored", {"head": head})
