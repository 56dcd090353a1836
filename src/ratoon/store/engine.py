"""Opening a database: SQLite by path, PostgreSQL by URL, and who may write when.

Every writing transaction waits for the one before it, on both databases: SQLite by BEGIN
IMMEDIATE, PostgreSQL by an advisory lock held until the commit. SQLAlchemy's own way with SQLite
begins too late: between reading the end of the event chain and writing to it, another process
may append, and the chain forks.
"""

from __future__ import annotations

import os
import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

from ratoon.base.errors import StoreError
from ratoon.store.packed import UNPACKED, unpack

WAIT_SECONDS = 60
"""How long a writer waits for the writer before it [s]."""

_LOOK_AGAIN_MS = 20
_LOCK_NUMBER = 7_202_868
"""Our advisory lock on PostgreSQL: any fixed number, the same in every program version."""

_NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ncpfs", "fuse.sshfs", "fuse.rclone"}


def is_url(where: str) -> bool:
    """True for a database URL, False for a path."""
    return "://" in where


def open_engine(where: str | Path) -> Engine:
    """An engine for a path (SQLite) or a URL (``postgresql://...``).

    Raises
    ------
    StoreError : a network share for SQLite, a folder that is not there, another kind of database.
    """
    if is_url(str(where)):
        return _open_postgresql(str(where))
    return _open_sqlite(Path(where))


def _open_sqlite(path: Path) -> Engine:
    path = path.resolve()
    if not path.parent.is_dir():
        raise StoreError("no such folder", where=str(path.parent))
    if path.is_dir():
        raise StoreError("a folder stands where the database should be", where=str(path))
    kind = file_system(path)
    if kind in _NETWORK:
        raise StoreError(
            f"the database would lie on a network share ({kind}), where its locks do not hold",
            where=str(path),
            todo="Keep the mill's folder on a local disk, or use PostgreSQL",
        )
    # from its first byte on for its owner alone; its log is made with the same rights
    with suppress(OSError):
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    writable = may_write(path)
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        creator=partial(_connected, str(path) if writable else _only_read(path), not writable),
    )

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, _: Any) -> None:
        connection.isolation_level = None  # no BEGIN but ours
        connection.create_function(UNPACKED, 1, unpack, deterministic=True)
        wal = ("journal_mode=WAL",) if writable else ()
        for pragma in (*wal, "foreign_keys=ON", "synchronous=FULL"):
            _patiently(partial(connection.execute, f"PRAGMA {pragma}"), path)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        plain = connection.connection.driver_connection
        if plain is None:
            return
        options = connection.get_execution_options()
        if options.get("writes", False):
            _begin_writing(plain, options["patience"], path)
        else:
            plain.execute("BEGIN")

    return engine


def may_write(path: Path) -> bool:
    """Whether a database and the files beside it may be written."""
    return os.access(path.parent, os.W_OK) and os.access(path, os.W_OK)


def _connected(database: str, uri: bool) -> sqlite3.Connection:
    # the pool lends a connection to one thread at a time
    return sqlite3.connect(database, timeout=WAIT_SECONDS, check_same_thread=False, uri=uri)


def _only_read(path: Path) -> str:
    """The address of a database on a disk that cannot be written.

    Its log is read where others have it open; without one nobody writes, and SQLite is told so,
    since it could make no lock.
    """
    lying = "" if path.with_name(path.name + "-wal").exists() else "&immutable=1"
    return f"file:{quote(str(path))}?mode=ro{lying}"


def _begin_writing(connection: Any, patience: float, path: Path) -> None:
    """BEGIN IMMEDIATE, asked for anew every few milliseconds until the writer before is done.

    SQLite's own waiting looks less and less often, so that one process could wait for ever
    beside three busy ones.
    """
    connection.execute(f"PRAGMA busy_timeout={_LOOK_AGAIN_MS}")
    try:
        _patiently(lambda: connection.execute("BEGIN IMMEDIATE"), path, patience)
    finally:
        connection.execute(f"PRAGMA busy_timeout={WAIT_SECONDS * 1000}")


def _patiently(act: Callable[[], object], path: Path, patience: float = WAIT_SECONDS) -> None:
    """Do `act`, again while the database is locked: setting WAL does not wait by itself."""
    until, looked = time.monotonic() + patience, False
    while True:
        try:
            act()
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            if not looked:
                _look_for_locks(path)
                looked = True
            time.sleep(random.uniform(0.0, 0.003))


def _look_for_locks(path: Path) -> None:
    """Refuse a disk that gives no locks, which SQLite cannot tell from a lock of somebody else.

    Asked of a file of its own: to close one of the database's would let its locks go.
    """
    with suppress(ImportError), tempfile.TemporaryFile(dir=path.parent) as probe:
        import fcntl

        try:
            fcntl.lockf(probe, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise StoreError(
                f"this disk gives no locks: {error.strerror}", where=str(path),
                todo="Keep the mill's folder on a local disk, or use PostgreSQL",
            ) from None  # fmt: skip


def _open_postgresql(where: str) -> Engine:
    try:
        url = make_url(where)
    except ArgumentError:
        raise StoreError("not a database URL", allowed="postgresql://USER@HOST/NAME") from None
    if url.get_backend_name() not in ("postgresql", "postgres"):
        raise StoreError(
            f"no support for {url.get_backend_name()}",
            allowed="a path (SQLite) or postgresql://USER@HOST/NAME",
        )
    return create_engine(
        url.set(drivername="postgresql+psycopg"),
        pool_pre_ping=True,
        connect_args={"connect_timeout": 10, "application_name": "ratoon"},
    )


def place(engine: Engine) -> str:
    """Where the database is, fit for a message: never with its password."""
    if engine.dialect.name == "sqlite":
        return str(engine.url.database)
    return engine.url.set(drivername="postgresql").render_as_string(hide_password=True)


def file_system(path: Path) -> str:
    """The kind of file system a path lies on; empty where it cannot be told."""
    if sys.platform == "win32":  # pragma: no cover - not tried on Windows
        import ctypes

        anchor = path.anchor
        remote = anchor.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(anchor) == 4
        return "cifs" if remote else ""
    return _mounted(path, Path("/proc/mounts"))


def _mounted(path: Path, mounts: Path) -> str:
    """The kind of the innermost mount that holds `path`, by the system's list of mounts."""
    try:
        lines = mounts.read_text(errors="replace").splitlines()
    except OSError:
        return ""
    best, kind = -1, ""
    for line in lines:
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        point = Path(fields[1].replace("\\040", " "))
        if path.is_relative_to(point) and len(point.parts) >= best:
            best, kind = len(point.parts), fields[2]
    return kind


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A transaction that sees the database as it stood when it began."""
    with plain_errors(engine), engine.connect() as connection:
        if engine.dialect.name == "postgresql":
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection


@contextmanager
def writing(engine: Engine, patience: float = WAIT_SECONDS) -> Iterator[Connection]:
    """The writing transaction: whole or not at all, one writer at a time.

    Parameters
    ----------
    patience : how long to wait for the writer before [s].
    """
    with plain_errors(engine), engine.connect() as connection:
        connection = connection.execution_options(writes=True, patience=patience)
        with connection.begin():
            if engine.dialect.name == "postgresql":
                connection.execute(text(f"SET LOCAL lock_timeout = '{int(patience * 1000)}ms'"))
                connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK_NUMBER})"))
            yield connection


@contextmanager
def plain_errors(engine: Engine) -> Iterator[None]:
    """Turns what the database says into one clear line of ours."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error) as error:
        cause = str(error.orig) if isinstance(error, DBAPIError) else str(error)
        first = cause.strip().splitlines()[0] if cause.strip() else type(error).__name__
        raise StoreError(
            f"the database refused: {first}", where=place(engine), todo=_remedy(first)
        ) from error


def _remedy(cause: str) -> str:
    words = cause.lower()
    if "not a database" in words or "malformed" in words:
        return "The file is damaged or is no database: restore a backup, or move it away and import"
    if "locked" in words or "timeout" in words:
        return "Another program is writing: try again when it has finished"
    if "disk i/o" in words:
        return "The disk may be full or failing: look at its free space, then do it again"
    if "full" in words:
        return "Free some space on the disk, then do it again: nothing was stored half"
    if "readonly" in words or "unable to open" in words or "permission" in words:
        return "Check that you may write to the file and its folder"
    if "connect" in words:
        return "Is PostgreSQL running there, and may this user come in?"
    return ""
