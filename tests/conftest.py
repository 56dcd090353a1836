"""What all tests share: a throw-away PostgreSQL, where a database may be, a mill without one."""

import fcntl
import gc
import os
import shutil
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Callable, Iterator
from functools import cached_property
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import ratoon  # noqa: F401  first: it keeps the linear algebra to one thread, as in the program

if TYPE_CHECKING:
    from ratoon.checks.run import CheckRow
    from ratoon.plant.plant import Plant

# Tests and the processes that they start find `trials` and `ledger` there.
sys.path.insert(0, str(Path(__file__).parent))
# Debian keeps it where a short PATH does not look.
RUNUSER = shutil.which("runuser", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin") or "runuser"


gc.disable()  # until all tests are collected: what was loaded stays
PLANTS_HELD = 16
"""Plants that a test process keeps for other tests: each takes some 15 MB."""


DEAREST = tuple(f"tests/{name}" for name in (
    "store/test_kill.py", "laws/test_honest_account.py", "stations/test_other_plants.py",
    "web/test_pages_browser.py", "docs/test_tutorial.py", "docs/test_wheel.py",
    "store/test_backup.py", "web/test_serve.py", "contract/", "ledger/", "web/test_try.py",
))  # fmt: skip
"""What takes longest: begun first, so that two processes end together."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not item.nodeid.startswith(DEAREST))


def pytest_collection_finish() -> None:
    """Let collections of garbage pass over what was loaded, and come seldom.

    A tenth of the run's time went into going again and again through modules that stay.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 10, 20)
    gc.enable()


def pytest_sessionfinish() -> None:
    """As it was before the tests: what is left at the end is still looked for."""
    gc.unfreeze()


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


@pytest.fixture
def new_database(postgresql: str) -> Callable[[], str]:
    """Makes fresh, empty databases on PostgreSQL; gives their URLs."""
    import psycopg

    def make() -> str:
        name = "t" + uuid.uuid4().hex[:12]
        where = f"host={postgresql} user=postgres dbname=postgres"
        with psycopg.connect(where, autocommit=True) as server:
            server.execute(f"CREATE DATABASE {name}")
        return f"postgresql://postgres@/{name}?host={postgresql}"

    return make


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a fresh, empty database is: a path, or a URL."""
    if request.param == "sqlite":
        return str(tmp_path / "ratoon.db")
    return str(request.getfixturevalue("new_database")())


@pytest.fixture(scope="session", autouse=True)
def plants_made_once() -> Iterator[None]:
    """Mills described alike share one plant in a process: it takes half a second, and its first
    solve another."""
    from ratoon.account.mill import Mill

    held: dict[str, Plant] = {}
    make = Mill.__dict__["plant"].func

    def plant(mill: Mill) -> "Plant":
        described = repr(mill.settings)
        made: Plant = held.pop(described, None) or make(mill)
        held[described] = made  # the last asked for stands last
        if len(held) > PLANTS_HELD:
            del held[next(iter(held))]
        return made

    shared = cached_property(plant)
    shared.__set_name__(Mill, "plant")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Mill, "plant", shared)
        yield


Made = Callable[[str, Callable[[Path], object]], Path]


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Gives a copy of a folder by its name; the first of all test processes that asks makes it."""
    root = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        root = root.parent

    def copy_of(name: str, make: Callable[[Path], object]) -> Path:
        folder, part = root / name, root / f"{name}.part"
        with (root / f"{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not folder.exists():
                shutil.rmtree(part, ignore_errors=True)
                part.mkdir()
                make(part)
                part.rename(folder)
        return Path(shutil.copytree(folder, tmp_path_factory.mktemp(name) / "mill"))

    return copy_of


@pytest.fixture(scope="session")
def invented_days(made_once: Made) -> Callable[[int], Path]:
    """Gives a folder with the files of the invented mill's first days, to do with as one likes."""

    def files_of(days: int) -> Path:
        from ratoon.demo.write import write_demo

        def write(folder: Path) -> None:
            write_demo(folder, days=days)

        return made_once(f"invented-{days}", write)

    return files_of


@pytest.fixture(scope="session")
def accounted_days(made_once: Made) -> Callable[[int], Path]:
    """Gives a folder of the invented mill with its first days imported and accounted."""

    def accounted(days: int) -> Path:
        from ratoon.demo.write import write_demo
        from ratoon.jobs.files.imports import import_files
        from ratoon.jobs.mills import in_mill
        from ratoon.jobs.sheet.day import account_all

        def make(folder: Path) -> None:
            write_demo(folder, days=days)
            import_files(folder, sorted((folder / "input").iterdir()))
            in_mill(folder, account_all)

        return made_once(f"accounted-{days}", make)

    return accounted


@pytest.fixture(scope="session")
def check_rows() -> "dict[str, CheckRow]":
    """Every row of the published checks' tables by its id, worked once."""
    from ratoon.checks.run import run_checks

    return {row.id: row for row in run_checks()}


@pytest.fixture
def mill_dir(tmp_path: Path) -> Path:
    """A folder with the invented mill's mill file and no database."""
    folder = tmp_path / "mill"
    folder.mkdir()
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    return folder
