"""Every store test runs twice: on SQLite, and on a throw-away PostgreSQL made for the run."""

import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ratoon.base.records import Reading, Stop
from ratoon.store import Entry, InputFile, Store

# Debian keeps it where a short PATH does not look.
RUNUSER = shutil.which("runuser", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin") or "runuser"


def _server_programs() -> Path | None:
    """The folder of the newest installed PostgreSQL server, or None."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """Socket folder of a PostgreSQL that nobody else can reach; no port, so none collides."""
    programs = _server_programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is not installed, and CI skips nothing")
        pytest.skip("PostgreSQL is not installed: apt-get install postgresql")
    folder = Path(tempfile.mkdtemp(prefix="pg"))  # short: a socket's path has 107 letters at most
    as_postgres: list[str] = []
    if os.geteuid() == 0:  # the server refuses to run as root
        shutil.chown(folder, "postgres")
        as_postgres = [RUNUSER, "-u", "postgres", "--"]

    def run(program: str, *args: str) -> None:
        done = subprocess.run(
            [*as_postgres, str(programs / program), *args],
            capture_output=True, text=True, timeout=120, cwd="/",
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr

    data = ["-D", str(folder / "data")]
    run("initdb", *data, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--locale=C", "--no-sync")
    options = f"-k {folder} -c listen_addresses='' -c fsync=off"
    run("pg_ctl", *data, "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield str(folder)
    finally:
        run("pg_ctl", *data, "-m", "immediate", "stop")
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a fresh, empty database is: a path, or a URL."""
    if request.param == "sqlite":
        return str(tmp_path / "ratoon.db")
    folder = request.getfixturevalue("postgresql")
    name = "t" + uuid.uuid4().hex[:12]
    import psycopg

    with psycopg.connect(f"host={folder} user=postgres dbname=postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
    return f"postgresql://postgres@/{name}?host={folder}"


@pytest.fixture
def store(database: str) -> Iterator[Store]:
    with Store.open(database) as opened:
        yield opened


def at(day: int, hour: int = 6) -> datetime:
    return datetime(2031, 8, day, hour, tzinfo=UTC)


def reading(address: str, day: int, value: float, **more: object) -> Reading:
    """A reading of a whole August day of 2031, in t unless said otherwise."""
    given = {"unit": "t", "given": value / 1000.0, "sigma": 5.0, "end": at(day + 1)} | more
    return Reading(address, value, start=at(day), **given)  # type: ignore[arg-type]


def stop(day: int, hours: int, cause: str = "no cane") -> Stop:
    return Stop(at(day, 8), at(day, 8 + hours), "mill", cause)


def entries(*records: Reading | Stop) -> list[Entry]:
    return [Entry(record, row) for row, record in enumerate(records, start=2)]


def input_file(name: str = "day.csv") -> InputFile:
    return InputFile(name, "0" * 64, 100, "readings")
