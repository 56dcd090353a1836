"""Backup: a mill's folder and records in one file, which `restore` brings back elsewhere.

The file is a ZIP: `manifest.json`, the rows of every table, and the files of the mill's folder. The
manifest holds the digest of each of them and the head of the event chain, which the command
prints: written down beside the backup, it shows later that this is the backup that was made.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Any

from ratoon.base.errors import BadInput
from ratoon.jobs.mills import KEPT_PAGES
from ratoon.store.chain.anchors import FILE as ANCHORS
from ratoon.store.chain.anchors import SECOND
from ratoon.store.room import URL_FILE

FORMAT = "ratoon backup 1"
MANIFEST = "manifest.json"
TABLES, FOLDER = "tables/", "mill/"
# the database itself, copies of it, where it is, what is half written, and other backups; the
# anchors come by themselves, up to the head that the backup holds
LEFT_OUT = ("ratoon*.db", "ratoon*.db-*", URL_FILE, ANCHORS, SECOND, "*.part", "*.backup")
PIECE = 1 << 20


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
                if len(held) >= PIECE:
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
                    count += writer.add(f"{TABLES}{name}.jsonl", lines)
            for path in _files_of(mill_dir, {file.resolve(), part.resolve()}):
                writer.add(FOLDER + path.relative_to(mill_dir).as_posix(), _pieces(path))
            if store.anchors and (anchored := store.anchors.upto(event)):
                writer.add(FOLDER + ANCHORS, [anchored])
            made = datetime.now(UTC).isoformat(timespec="seconds")
            about = {"store": named, "event": event, "head": head, "file": file.name, "made": made}
            manifest = _manifest(about, SCHEMA_VERSION, writer.members)
            book.writestr(MANIFEST, manifest, zipfile.ZIP_DEFLATED)
        digest = hashlib.sha256(manifest).hexdigest()
        if noted := store.writable:
            with store.writing() as transaction:
                transaction.add_event("backup", {"file": file.name, "head": head, "digest": digest})
    size, files = file.stat().st_size, sum(n.startswith(FOLDER) for n in writer.members)
    return Backup(str(file), head, digest, count, files, size, named, event, file.name, made,
                  noted=noted)  # fmt: skip


def _manifest(about: dict[str, Any], version: int, members: dict[str, dict[str, Any]]) -> bytes:
    from ratoon import __version__

    manifest = {"format": FORMAT, "program": __version__, "tables": version, **about,
            "members": members}  # fmt: skip
    return json.dumps(manifest, indent=1, ensure_ascii=False).encode()


@contextmanager
def _new_file(file: Path) -> Iterator[Path]:
    """A file to write, in its place only when whole; for the owner's eyes only."""
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
            out = any(PurePosixPath(name).match(pattern) for pattern in LEFT_OUT)
            if not out and path.is_file() and not path.is_symlink() and path.resolve() not in but:
                found.append(path)
    return found


def _pieces(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as file:
            while piece := file.read(PIECE):
                yield piece
    except OSError as error:
        raise BadInput(f"cannot be read: {error.strerror}", where=str(path),
                       todo="No backup was made") from None  # fmt: skip
