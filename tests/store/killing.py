"""What is killed: a mill's folder with a database of its own, and works done in other processes.

Works are forked from a server that has everything loaded, so that kills fall into the work and not
into the start of Python.
"""

from __future__ import annotations

import multiprocessing
import os
import shutil
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from multiprocessing import connection, forkserver
from pathlib import Path
from typing import Any

from ratoon.base.records import Period, Reading
from ratoon.store.chain.anchors import FILE as ANCHORS

PRELOAD = [
    "killing", "killing_warm", "ratoon.cli.app", "ratoon.jobs.files.imports", "ratoon.store.room",
    "psycopg",
]  # fmt: skip
"""What the fork server loads once for all processes."""


@cache
def forked() -> Any:
    """The fork server's context, the server started with everything loaded.

    The server does not take over the path of the process that starts it, and passes over
    what it does not find without a word: the path goes in by the environment.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOAD)
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = str(Path(__file__).parent)
    try:
        forkserver.ensure_running()
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before
    return context


@dataclass
class Mill:
    """A mill's folder with a database of its own, and copies of that database to go back to.

    `server`: socket folder of a PostgreSQL, "" for SQLite. `work`: does one of its works by name.
    """

    folder: Path
    server: str
    work: Callable[..., None]
    name: str = field(default_factory=lambda: f"k{uuid.uuid4().hex[:12]}")

    @property
    def url(self) -> str:
        return f"postgresql://postgres@/{self.name}?host={self.server}" if self.server else ""

    def empty(self) -> None:
        """Begin with no database, or with an empty one."""
        self._put("")

    def remember(self, what: str) -> None:
        """Keep the database with its anchors as it is now."""
        if self.server:
            self._ask(f"CREATE DATABASE {self.name}_{what} TEMPLATE {self.name}")
        else:
            shutil.copy(self.folder / "ratoon.db", self.folder / f"{what}.db")
        shutil.copy(self.folder / ANCHORS, self.folder / f"{what}.txt")

    def go_back(self, what: str) -> None:
        """The database as it was remembered."""
        self._put(what)
        shutil.copy(self.folder / f"{what}.txt", self.folder / ANCHORS)

    def _put(self, what: str) -> None:
        for path in (*self.folder.glob("ratoon.db*"), *self.folder.glob(ANCHORS)):
            path.unlink()
        if self.server:
            copied = f" TEMPLATE {self.name}_{what} STRATEGY FILE_COPY" if what else ""
            self._ask(f"DROP DATABASE IF EXISTS {self.name} WITH (FORCE)",
                      f"CREATE DATABASE {self.name}{copied}")  # fmt: skip
        elif what:
            shutil.copy(self.folder / f"{what}.db", self.folder / "ratoon.db")

    def _ask(self, *orders: str) -> None:
        import psycopg

        where = f"host={self.server} user=postgres dbname=postgres"
        with psycopg.connect(where, autocommit=True) as server:
            for order in orders:
                server.execute(order)  # type: ignore[call-overload]

    def run(self, name: str, kill_after: float | None = None) -> tuple[float, int | None]:
        """Do a work in a process of its own, killed some time after it began: time, exit code."""
        began = self.folder / "began"
        began.unlink(missing_ok=True)
        process = forked().Process(target=self.work, args=(name, str(self.folder), str(began)))
        process.start()
        while not began.exists() and not connection.wait([process.sentinel], 0.001):
            pass
        start = time.perf_counter()
        connection.wait([process.sentinel], kill_after)
        if process.is_alive():
            process.kill()
        process.join()
        return time.perf_counter() - start, process.exitcode


def append_for(where: str, me: int, seconds: float, counts: str) -> None:
    """Append readings of its own and ones everybody appends, and write down how many were new."""
    from ratoon.store import Store

    until = time.monotonic() + seconds
    own = shared = turns = 0
    with Store.open(where) as store:
        while time.monotonic() < until:
            at = datetime(2031, 8, 1, tzinfo=UTC) + timedelta(minutes=turns)
            period = Period(at, at + timedelta(minutes=1))
            own += store.add_readings([_reading(f"own.{me}", period)], f"process {me}").accepted
            shared += store.add_readings([_reading("shared.one", period)], "all").accepted
            turns += 1
    Path(counts).write_text(f"{own} {shared} {turns}")


def _reading(address: str, period: Period) -> Reading:
    return Reading(address, 1.0, 0.1, start=period.start, end=period.end, unit="t/h", given=1.0)
