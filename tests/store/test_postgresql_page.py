"""The page about PostgreSQL, followed on a throw-away server: rights, loss, recovery, a restart."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psycopg
import pytest
from fastapi.testclient import TestClient

from ratoon.base.errors import StoreError
from ratoon.jobs.door import people
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import store_of
from ratoon.store.chain import events as chain
from ratoon.store.chain.anchors import RecordsLost

PAGE = Path(__file__).parents[2] / "docs" / "how-to" / "postgresql.md"
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)
ROLES, RIGHTS = (text for kind, text in BLOCKS if kind == "sql")
ARCHIVING, RECOVERING = (text for kind, text in BLOCKS if kind == "ini")
BRING, GO_ON, BASE, SIGNAL = (text for kind, text in BLOCKS if kind == "sh")
PROGRAM = Path(sys.executable).with_name("ratoon")
HEAD = "address,start,end,value,unit,sigma,source,note\n"


@dataclass(frozen=True)
class Server:
    """A PostgreSQL of one's own, whose data folder and archive may be lost."""

    folder: Path
    programs: Path

    def as_postgres(self, *words: object) -> None:
        """Run a program as the person who looks after the server."""
        runuser = shutil.which("runuser", path="/usr/sbin:/sbin:/usr/bin:/bin")
        before = [runuser, "-u", "postgres", "--"] if os.geteuid() == 0 else []
        done = subprocess.run(
            [*before, *map(str, words)], capture_output=True, text=True, timeout=120, cwd="/",
            env=os.environ | {"PGHOST": str(self.folder), "PGUSER": "postgres"},
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr

    def start(self, data: str = "data") -> None:
        self.as_postgres(
            self.programs / "pg_ctl", "-D", self.folder / data, "-w", "-l", self.folder / "log",
            "-o", f"-k {self.folder} -c listen_addresses='' -c fsync=off", "start",
        )  # fmt: skip

    def stop(self, data: str = "data") -> None:
        """As if the machine had failed."""
        self.as_postgres(
            self.programs / "pg_ctl", "-D", self.folder / data, "-m", "immediate", "stop"
        )

    def typed(self, text: str, kind: str, where: Path) -> None:
        """A block of the page as it stands, but for the names of folders and of the machine."""
        for theirs, ours in (
            ("NEWDIR", "new"), ("DIR", "old"), ("db.mill.example", ""),
            ("/archive", f"{self.folder}/archive"), ("/backups", f"{self.folder}"),
            ("ratoon ", f"{PROGRAM} "),
        ):  # fmt: skip
            text = text.replace(theirs, ours) if kind == "sh" or "/" in theirs else text
        if kind == "sql":
            script = self.folder / "block.sql"
            script.write_text(text, encoding="utf-8")
            script.chmod(0o644)
            self.as_postgres(self.programs / "psql", "-q", "-v", "ON_ERROR_STOP=1", "-f", script)
        elif "pg_basebackup" in text or "touch" in text:
            self.as_postgres("sh", "-ec", text.replace("pg_base", f"{self.programs}/pg_base"))
        else:
            done = subprocess.run(
                ["sh", "-ec", text], cwd=where, capture_output=True, text=True, timeout=120,
                env=os.environ | {"PGHOST": str(self.folder)},
            )  # fmt: skip
            assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def server(postgresql: str) -> Iterator[Server]:
    """A server with the archive of the page; beside the one of the other tests."""
    programs = next(iter(sorted(Path("/usr/lib/postgresql").glob("*/bin"))[::-1]))
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    one = Server(folder, programs)
    one.as_postgres(
        programs / "initdb", "-D", folder / "data", "-A", "trust", "-U", "postgres", "-E", "UTF8",
        "--locale=C", "--no-sync",
    )  # fmt: skip
    one.as_postgres("mkdir", folder / "archive")
    with (folder / "data" / "postgresql.conf").open("a", encoding="utf-8") as file:
        file.write(ARCHIVING.replace("/archive", f"{folder}/archive"))
    one.start()
    try:
        yield one
    finally:
        one.stop()
        shutil.rmtree(folder, ignore_errors=True)


def _readings(folder: Path, day: int) -> None:
    path = folder / f"day{day}.csv"
    path.write_text(f"{HEAD}cane.weight,2031-06-{day},,9000,t,,weighbridge,\n", encoding="utf-8")
    (report,) = import_files(folder, [path]).files
    assert not report.error and report.accepted == 1


@pytest.fixture(scope="module")
def mill(server: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A mill on SQLite, brought over as the page says; its folder as `ratoon` uses it."""
    import ratoon.demo

    where = tmp_path_factory.mktemp("postgresql")
    (where / "old").mkdir()
    shutil.copy(Path(ratoon.demo.__file__).parent / "data" / "mill.toml", where / "old")
    _readings(where / "old", 10)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PGHOST", str(server.folder))
        server.typed(ROLES, "sql", where)
        server.typed(BRING, "sh", where)
        server.typed(RIGHTS, "sql", where)
        server.typed(GO_ON, "sh", where)
        yield where / "new"


def _events(mill: Path) -> list[str]:
    with store_of(mill) as store:
        assert store.verify() == []
        return [event.hash for event in store.ask(chain.read)]


def test_the_serving_role_adds_and_changes_no_record(mill: Path, server: Server) -> None:
    _readings(mill, 11)
    with psycopg.connect("postgresql://ratoon@/kestrel", autocommit=True) as connection:
        tables = [
            name for (name,) in connection.execute(
                "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
            )
        ]  # fmt: skip
        assert len(tables) > 20
        free = {"people", "sessions", "roles", "drafts", "paid_loads", "paid_consignments"}
        refused = 0
        for name in tables:
            column = connection.execute(f'SELECT * FROM "{name}" LIMIT 0').description[0].name  # type: ignore[index]
            asked = [f'DROP TABLE "{name}"', f'TRUNCATE "{name}"']
            if name not in free:
                asked += [f'DELETE FROM "{name}"', f'UPDATE "{name}" SET "{column}" = "{column}"']
            for words in asked:
                with pytest.raises(psycopg.errors.InsufficientPrivilege):
                    connection.execute(words)
                refused += 1
        assert refused == 2 * len(tables) + 2 * (len(tables) - len(free))
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            connection.execute("CREATE TABLE mine (n int)")


def test_people_sign_in_and_out_with_those_rights(mill: Path) -> None:
    """What changes rows does so in the tables that the page gives: logins, roles, sessions."""
    with store_of(mill) as store:
        _, once = people.add_person(store, "anna", "Anna Reed", ["manager"])
        people.change_password(store, "anna", once, "a long enough word")
        people.set_roles(store, "anna", ["manager", "laboratory"])
        people.sign_in(store, "anna", "a long enough word")
        assert people.sign_out(store, "anna") >= 1
        people.add_person(store, "ben", "Ben Hale", ["laboratory"])
        people.disable(store, "ben")
        assert store.verify() == []


def test_a_server_that_goes_away_in_the_middle_loses_and_doubles_nothing(
    mill: Path, server: Server
) -> None:
    from ratoon.web.app import create_app

    copy = Path(shutil.copytree(mill, mill.with_name("open")))
    with TestClient(create_app(copy), base_url="http://127.0.0.1") as client:
        page = client.get("/login")
        assert page.status_code == 200
        server.stop()
        away = client.get("/login")
        assert away.status_code == 503 and len(away.text.strip().splitlines()) <= 3, away.text
        server.start()
        assert client.get("/login").status_code == 200
    (copy / "late.csv").write_text(
        f"{HEAD}cane.weight,2031-06-13,,9000,t,,weighbridge,\n", encoding="utf-8"
    )
    before = _events(mill)
    server.stop()
    with pytest.raises(StoreError, match="PostgreSQL running"):
        import_files(copy, [copy / "late.csv"])
    server.start()
    (report,) = import_files(copy, [copy / "late.csv"]).files
    (again,) = import_files(copy, [copy / "late.csv"]).files
    assert (report.accepted, again.accepted, again.unchanged) == (1, 0, 1)
    assert _events(copy)[: len(before)] == before


def test_a_lost_server_comes_back_to_its_last_row(mill: Path, server: Server) -> None:
    server.typed(BASE, "sh", mill)
    _readings(mill, 12)
    before = _events(mill)
    with psycopg.connect("postgresql://postgres@/kestrel", autocommit=True) as connection:
        done = connection.execute("SELECT pg_walfile_name(pg_switch_wal())").fetchone()
    assert done is not None
    for _ in range(400):
        if (server.folder / "archive" / done[0]).exists():
            break
        time.sleep(0.02)
    server.stop()
    shutil.rmtree(server.folder / "data")
    server.as_postgres("cp", "-a", server.folder / "base", server.folder / "data")
    with (server.folder / "data" / "postgresql.conf").open("a", encoding="utf-8") as file:
        file.write(RECOVERING.replace("/archive", f"{server.folder}/archive"))
    server.typed(SIGNAL.replace("/backups/base", "/backups/data"), "sh", mill)
    server.start()
    assert _events(mill) == before
    # where the archive was lost too, the records are older than the anchors know: nobody goes on
    server.stop()
    shutil.rmtree(server.folder / "data")
    server.as_postgres("cp", "-a", server.folder / "base", server.folder / "data")
    server.start()
    with pytest.raises(RecordsLost, match="older"):
        store_of(mill)
