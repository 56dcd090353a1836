"""Older tables are copied aside and brought up to date; the steps end where the tables stand."""

import sqlite3
import warnings
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, text

from ratoon.base.errors import StoreError
from ratoon.base.records import Period
from ratoon.store import Store, engine, rows, upgrade
from ratoon.store.chain import events as chain
from ratoon.store.migrations.versions.v7_less_room import COUNTED, PACKED
from ratoon.store.tables import SCHEMA_VERSION, metadata

from .conftest import at, entries, input_file, reading
from .test_every_column import fill

LATER = ("notes", "drafts", "sessions", "roles", "people")
"""Tables that version 1 did not have, those that point to others first."""


def _make_old(database: str) -> dict[str, object]:
    """A database as version 1 left it, with a reading in it; gives its contents."""
    with Store.open(database) as store:
        store.add_file(input_file(), entries(reading("cane.weight", 14, 1e6)))
        contents = store.contents()
        with engine.writing(store._engine) as connection:
            held = set(metadata.tables)
            assert held >= set(LATER)
            for table in reversed(metadata.sorted_tables):
                if table.name not in V1:
                    connection.execute(text(f"DROP TABLE {table.name}"))
            connection.execute(text(f"DROP TABLE {upgrade.STAMP}"))
            connection.execute(text("UPDATE meta SET value = '1' WHERE key = 'schema'"))
    return contents


V1 = {"meta", "files", "readings", "stops", "settings", "results", "events"}


def _differences(store: Store) -> list[object]:
    with engine.reading(store._engine) as connection, warnings.catch_warnings():
        # SQLAlchemy cannot look at an index over an expression on SQLite: it is asked by name
        warnings.filterwarnings("ignore", "Skipped unsupported reflection")
        warnings.filterwarnings("ignore", "autogenerate skipping metadata-specified expression")
        if connection.dialect.name == "sqlite":
            found = connection.scalar(
                text("SELECT sql FROM sqlite_master WHERE name = 'readings_once'")
            )
            assert "UNIQUE" in found
            assert 'coalesce("end", start)' in found.replace('"start"', "start")
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, metadata))


def test_an_older_database_is_brought_up_to_date_and_loses_nothing(database: str) -> None:
    contents = _make_old(database)
    with Store.open(database) as store:
        assert store.contents() == contents
        assert store.verify() == []
        assert store.ask(chain.read)[-1].what == "tables changed"
        assert _differences(store) == []
    with Store.open(database) as store:  # and only once
        assert [e.what for e in store.ask(chain.read)].count("tables changed") == 1


def test_whoever_only_looks_changes_no_tables(tmp_path: Path) -> None:
    database = str(tmp_path / "ratoon.db")
    _make_old(database)
    with pytest.raises(StoreError, match=r"not looked at: its tables are of version 1"):
        Store.open(database, look=True)
    with closing(sqlite3.connect(database)) as plain:
        assert plain.execute("SELECT value FROM meta").fetchall() == [("1",)]
    assert not list(tmp_path.glob("ratoon-tables*"))


def test_thesteps_from_nothing_make_the_tables_of_today(database: str) -> None:
    opened = engine.open_engine(database)
    with engine.writing(opened) as connection:
        upgrade.steps(connection)
    assert _differences(Store(opened)) == []
    opened.dispose()


def test_a_new_database_is_stamped_with_the_newest_step(database: str) -> None:
    with Store.open(database) as store, engine.writing(store._engine) as connection:
        stamped = connection.scalar(text(f"SELECT version_num FROM {upgrade.STAMP}"))
        assert stamped == str(SCHEMA_VERSION)
        upgrade.steps(connection)  # nothing is left to do
    files = Path(upgrade.__file__).parent.glob("migrations/versions/v*.py")
    assert len(list(files)) == SCHEMA_VERSION


def test_the_copy_is_the_database_as_it_was(database: str) -> None:
    _make_old(database)
    Store.open(database).close()
    if database.startswith("postgresql"):
        with psycopg.connect(database) as server:
            rows = server.execute("SELECT value FROM ratoon_tables_1.meta").fetchall()
            assert rows == [("1",)]
            assert server.execute("SELECT count(*) FROM ratoon_tables_1.readings").fetchone() == (
                1,
            )
        return
    copy = Path(database).with_name("ratoon-tables-1.db")
    with sqlite3.connect(copy) as plain:
        assert plain.execute("SELECT value FROM meta").fetchall() == [("1",)]
        assert plain.execute("SELECT count(*) FROM readings").fetchone() == (1,)
    plain.close()
    assert not list(copy.parent.glob("*.part"))


def test_a_step_that_fails_leaves_the_database_as_it_was(
    database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _make_old(database)

    def fail(connection: object) -> None:
        connection.execute(text("CREATE TABLE half (x INTEGER)"))  # type: ignore[attr-defined]
        raise StoreError("no")

    with monkeypatch.context() as patched:
        patched.setattr(upgrade, "steps", fail)
        with pytest.raises(StoreError):
            Store.open(database)
    opened = engine.open_engine(database)
    with engine.reading(opened) as connection:
        assert connection.scalar(text("SELECT value FROM meta")) == "1"
        assert not Store(opened)._engine.dialect.has_table(connection, "half")
    opened.dispose()
    if "://" not in database:  # the copy of a change that did not come about is of no use
        assert not list(Path(database).parent.glob("ratoon-tables-*"))
    Store.open(database).close()


def _as_version_6(connection: Connection) -> None:
    """Texts and moments as version 6 kept them."""
    if connection.dialect.name == "sqlite":
        for table, column in PACKED:
            whole = f"UPDATE {table} SET {column} = unpacked({column})"
            connection.execute(text(whole))
        for column in COUNTED:
            connection.execute(text(
                f'UPDATE cane_records SET "{column}" = strftime(\'%Y-%m-%d %H:%M:%S\','
                f' "{column}" / 1000000, \'unixepoch\')'
                f' || printf(\'.%06d\', "{column}" % 1000000)'
            ))  # fmt: skip
    connection.execute(text("DROP INDEX cane_records_by_grower"))
    connection.execute(text("CREATE INDEX cane_records_by_grower ON cane_records (grower, kind)"))
    connection.execute(text("UPDATE meta SET value = '6' WHERE key = 'schema'"))
    connection.execute(text(f"UPDATE {upgrade.STAMP} SET version_num = '6'"))


def _every_row(store: Store) -> dict[str, list[str]]:
    with rows.snapshot(store) as shot:
        return {name: list(shot.lines(name)) for name in shot.names()
                if name not in ("meta", "events")}  # fmt: skip


def test_version_6_is_packed_and_says_what_it_said(database: str) -> None:
    with Store.open(database) as store:
        fill(store)
        answer = {"figure": [1.5] * 100_000}
        store.add_result("large", Period(at(14), at(15)), "d" * 64, {}, answer)
        said = _every_row(store)
        # a program of version 6 ended the chain with a change of its tables to its own
        with engine.writing(store._engine) as connection:
            _as_version_6(connection)
            chain.append(connection, "tables changed", {"from": 5, "to": 6})
        assert _every_row(store) == said  # texts that are not packed are read as well
    size = Path(database).stat().st_size if "://" not in database else 0
    with Store.open(database) as store:
        assert _every_row(store) == said
        assert [fault for fault in store.verify() if "session" not in fault] == []
        assert _differences(store) == []
    if size:
        assert Path(database).stat().st_size < size - 300_000  # the room is given back
        with closing(sqlite3.connect(database)) as plain:
            kinds = plain.execute("SELECT DISTINCT typeof(at), typeof(entered) FROM cane_records")
            assert kinds.fetchall() == [("integer", "integer")]
            assert ("blob",) in plain.execute("SELECT typeof(answer) FROM results").fetchall()
