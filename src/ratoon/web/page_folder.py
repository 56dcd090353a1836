"""Pages kept in a folder of the mill, so that a server that starts again need not make them again.

A page stands in a file of its own, under the state of the records, the mill file and the program
that made it, and under who may see it; what is kept under anything else is not found. Each file
carries a digest of all it holds: one that is damaged, cut short or not ours counts as not there.
Nothing rests on the folder but the time: where it cannot be read or written, pages are made.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import shutil
import stat
import sys
import threading
import time
from base64 import b64decode, b64encode
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from importlib import metadata
from pathlib import Path

import ratoon
from ratoon.jobs.mills import KEPT_PAGES, MILL_FILE
from ratoon.web.pieces import Kept, Piece, Pieces
from ratoon.web.shelf import MOST_OF_ONE

MOST_ON_DISK = 200_000_000
"""Most that the folder takes [B]."""
REST_AFTER_FAULT = 300.0
"""How long nothing is written after a fault, such as a full disk [s]."""
_HALF_WRITTEN = 60.0  # a file that is being written is not older [s]
_FIRST_LINE = b"ratoon page 1\n"
_STATE = re.compile("[0-9a-f]{40}")
_BLOCK = 4096  # what the smallest file takes on a disk [B]


@cache
def program_digest() -> str:
    """Another text for another program: its code, templates and tables, and what it rests on."""
    seen = hashlib.sha256(sys.version.encode())
    root = Path(ratoon.__file__).parent
    for path in sorted(p for p in root.rglob("*") if p.is_file() and p.suffix != ".pyc"):
        content = path.read_bytes()
        seen.update(f"{path.relative_to(root)} {len(content)} ".encode() + content)
    for name in sorted(metadata.requires("ratoon") or ()):
        needed = re.split(r"[^A-Za-z0-9._-]", name, maxsplit=1)[0]
        try:
            seen.update(f"{needed} {metadata.version(needed)}\n".encode())
        except metadata.PackageNotFoundError:
            continue  # wanted by developers alone
    return seen.hexdigest()


class PageFolder:
    """The pages kept on disk for one mill; safe to ask from several threads and servers.

    Parameters
    ----------
    program : tells one version of the program from another.
    most : most that the folder takes [B].
    """

    def __init__(
        self,
        mill_dir: Path,
        program: Callable[[], str] = program_digest,
        most: int = MOST_ON_DISK,
    ) -> None:
        self._root, self._mill_file = mill_dir / KEPT_PAGES, mill_dir / MILL_FILE
        self._program, self._most = program, most
        self._lock = threading.Lock()
        self._state, self._here, self._size = "", "", 0
        self._before: deque[str] = deque(maxlen=50)
        self._said, self._rests_until = False, 0.0

    def get(self, state: str, key: str) -> Kept | None:
        """A page of this state of the records, or None."""
        try:
            path = self._path(state, key)
            if path is None or path.stat().st_size > MOST_OF_ONE:
                return None
            return _read(path.read_bytes(), key)
        except FileNotFoundError:
            return None
        except OSError as error:
            self._say(error)
            return None

    def has(self, state: str, key: str) -> bool:
        """Whether there is a file for a page; whether it is sound shows when it is read."""
        try:
            path = self._path(state, key)
            return path is not None and path.is_file()
        except OSError:
            return False

    def put(self, state: str, key: str, page: Kept) -> bool:
        """Keep a page; False when it could not be, which is said once."""
        try:
            path, text = self._path(state, key), _written(page, key)
            if path is None or time.monotonic() < self._rests_until:
                return False
            with self._lock:
                if self._size + _on_disk(len(text)) > self._most:
                    return False
                self._size += _on_disk(len(text))
            _make(self._root)
            _make(path.parent)
            part = path.with_name(f"{secrets.token_hex(8)}.part")
            try:
                handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
                with os.fdopen(handle, "wb") as file:
                    file.write(text)
                part.replace(path)  # whole or not at all, whoever else writes the same
            finally:
                part.unlink(missing_ok=True)
        except FileNotFoundError:
            return False  # another server has just taken the folder of this state away
        except OSError as error:
            self._rests_until = time.monotonic() + REST_AFTER_FAULT
            self._say(error)
            return False
        return True

    def _path(self, state: str, key: str) -> Path | None:
        """Where a page stands once its state's folder is known; None where it may not be used."""
        with self._lock:
            if state in self._before:  # somebody who asked before the records changed
                return None
            old = self._open(state) if state != self._state else []
            here = self._here
        for folder in old:  # others need not wait for it
            shutil.rmtree(folder, ignore_errors=True)
        name = hashlib.sha256(key.encode()).hexdigest()[:40]
        return self._root / here / f"{name}.page" if here else None

    def _open(self, state: str) -> list[str]:
        """Take up another state; gives the folders of all others, to be taken away."""
        self._before.append(self._state)
        self._state, self._here, self._size = state, "", 0
        text = self._mill_file.read_bytes()
        told = json.dumps([state, hashlib.sha256(text).hexdigest(), self._program()])
        here = hashlib.sha256(told.encode()).hexdigest()[:40]
        old = []
        if self._root.exists() or self._root.is_symlink():
            _make(self._root)
            for one in list(os.scandir(self._root)):
                if one.name == here:
                    self._size = _tidied(Path(one.path))
                elif _STATE.fullmatch(one.name) and one.is_dir(follow_symlinks=False):
                    old.append(one.path)
        self._here = here
        return old

    def _say(self, error: OSError) -> None:
        if not self._said:
            self._said = True
            line = f"ratoon: pages are not kept on disk: {self._root}: {error.strerror or error}"
            print(line, file=sys.stderr, flush=True)


def _make(folder: Path) -> None:
    """A folder for nobody's eyes but the owner's, made where there is none.

    Raises
    ------
    OSError : it is a link, or somebody else's: what stands there may not be shown as ours.
    """
    with suppress(FileExistsError):
        folder.mkdir(0o700)
    told = folder.lstat()
    owner = getattr(os, "geteuid", lambda: told.st_uid)()
    if not stat.S_ISDIR(told.st_mode) or told.st_uid != owner:
        raise OSError("not a folder of whoever runs this program")
    if stat.S_IMODE(told.st_mode) & 0o077:
        folder.chmod(0o700)


def _tidied(folder: Path) -> int:
    """The size of the pages in a folder [B]; what was left half written is taken away."""
    size = 0
    with suppress(FileNotFoundError):  # another server may take it away
        for one in list(os.scandir(folder)):
            told = one.stat(follow_symlinks=False)
            if one.name.endswith(".part") and time.time() - told.st_mtime > _HALF_WRITTEN:
                Path(one.path).unlink(missing_ok=True)
            else:
                size += _on_disk(told.st_size)
    return size


def _on_disk(size: int) -> int:
    return -(-size // _BLOCK) * _BLOCK


def _written(page: Kept, key: str) -> bytes:
    told = {
        "key": key,
        "headers": [[b64encode(part).decode() for part in pair] for pair in page.headers],
        "gaps": page.body.gaps,
        "digest": page.body.digest,
        "parts": [[len(p.zipped), p.size, p.check] for p in page.body.parts],
    }
    body = json.dumps(told).encode() + b"\n" + b"".join(p.zipped for p in page.body.parts)
    return _FIRST_LINE + hashlib.sha256(body).digest() + body


def _read(text: bytes, key: str) -> Kept | None:
    """The page in a file's bytes; None unless they are whole and of this key."""
    mark, body = text[len(_FIRST_LINE) :][:32], text[len(_FIRST_LINE) + 32 :]
    if not text.startswith(_FIRST_LINE) or hashlib.sha256(body).digest() != mark:
        return None
    line, _, zipped = body.partition(b"\n")
    try:
        told = json.loads(line)
        if told["key"] != key:
            return None
        parts, at = [], 0
        for length, size, check in told["parts"]:
            parts.append(Piece(zipped[at : at + length], size, check))
            at += length
        headers = tuple((b64decode(name), b64decode(value)) for name, value in told["headers"])
        return Kept(headers, Pieces(tuple(parts), tuple(told["gaps"]), told["digest"]))
    except (ValueError, KeyError, TypeError):
        return None
