"""Restore: a mill's folder and records made anew from a backup, after all of it was checked."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from pathlib import Path, PurePosixPath
from typing import Any

from ratoon.base.errors import BadInput, StoreError
from ratoon.jobs.keep.backup import FOLDER, FORMAT, LEFT_OUT, MANIFEST, PIECE, TABLES, Backup
from ratoon.jobs.mills import KEPT_PAGES
from ratoon.store.chain.anchors import FILE as ANCHORS

_MOST_MANIFEST = 50_000_000


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
    files = sum(name.startswith(FOLDER) for name in manifest["members"])
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
            while piece := member.read(PIECE):
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
    if name.startswith(TABLES):
        known = {f"{TABLES}{table}.jsonl" for table in metadata.tables if table not in LEFT_BEHIND}
        return name in known
    inside = path.parts[1:]
    if not name.startswith(FOLDER) or not inside or ".." in inside or KEPT_PAGES in inside[:-1]:
        return False
    if any(part.startswith(".") for part in inside[:-1]):
        return False
    plain = PurePosixPath(inside[-1].lower())  # a disk may take capitals for small letters
    return name == FOLDER + ANCHORS or not any(plain.match(one) for one in LEFT_OUT)


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
        if name.startswith(FOLDER):
            path = part / PurePosixPath(name).relative_to(FOLDER)
            path.parent.mkdir(parents=True, exist_ok=True)
            with book.open(name) as member, path.open("xb") as written:
                shutil.copyfileobj(member, written, PIECE)
    count = 0
    with ExitStack() as opened:  # a load that fails leaves its member half read

        def lines(name: str) -> Iterator[str]:
            nonlocal count
            member = opened.enter_context(book.open(name))
            text = opened.enter_context(io.TextIOWrapper(member, encoding="utf-8", newline="\n"))
            for line in text:
                count += 1
                yield line

        names = [name for name in manifest["members"] if name.startswith(TABLES)]
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
