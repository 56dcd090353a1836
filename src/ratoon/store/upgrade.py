"""From the tables of an older version to today's: copy aside first, then step by step.

Both happen in one writing transaction, so nothing that others store falls between the copy and
the change, and a step that fails leaves the database as it was.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, inspect, text, update
from sqlalchemy.exc import DBAPIError

from ratoon.base.errors import StoreError
from ratoon.store import engine
from ratoon.store.chain import events as chain
from ratoon.store.chain import verify
from ratoon.store.tables import SCHEMA_VERSION, meta, metadata

STAMP = "alembic_version"
"""Alembic's own table: one row with the version of the tables."""


def stamp(connection: Connection, version: int) -> None:
    """Note, as Alembic does, that the tables are of a version."""
    connection.execute(
        text(f"CREATE TABLE IF NOT EXISTS {STAMP} (version_num VARCHAR(32) NOT NULL PRIMARY KEY)")
    )
    connection.execute(text(f"DELETE FROM {STAMP}"))
    connection.execute(text(f"INSERT INTO {STAMP} VALUES (:version)"), {"version": str(version)})


def upgrade(
    engine_: Engine, connection: Connection, version: int, *, anchored: bool = False
) -> str:
    """Bring the tables from `version` to today's; the writing transaction is `connection`'s.

    Returns
    -------
    Where the copy of the database as it was is kept.
    """
    copy = _copy_aside(engine_, connection, version)
    try:
        if not inspect(connection).has_table(STAMP):
            stamp(connection, version)  # made before the tables had steps
        steps(connection)
        connection.execute(
            update(meta).where(meta.c.key == "schema").values(value=str(SCHEMA_VERSION))
        )
        rows = verify.uncovered(connection)
        detail: dict[str, Any] = {"from": version, "to": SCHEMA_VERSION}
        if anchored:
            detail["anchored"] = True
        chain.append(connection, "tables changed", detail, rows=rows)
    except BaseException:
        if engine_.dialect.name == "sqlite":  # the other's copy goes with the transaction
            Path(copy).unlink(missing_ok=True)
        raise
    return copy


def steps(connection: Connection, to: str = "head") -> None:
    """Run the steps that are left, up to a version."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, to)


def give_back(engine_: Engine) -> None:
    """Give the room that a change of the tables freed back to the disk, where there is room to."""
    if engine_.dialect.name == "sqlite":
        with closing(engine_.raw_connection()) as lent, suppress(sqlite3.Error):
            lent.cursor().execute("VACUUM")


def _copy_aside(engine_: Engine, connection: Connection, version: int) -> str:
    if engine_.dialect.name == "sqlite":
        return _copy_file(Path(str(engine_.url.database)), version)
    return _copy_schema(engine_, connection, version)


def _copy_file(path: Path, version: int) -> str:
    """A copy beside the database, made from what is committed; never over another copy."""
    name, count = path.with_name(f"{path.stem}-tables-{version}{path.suffix}"), 1
    while name.exists():
        count += 1
        name = path.with_name(f"{path.stem}-tables-{version}-{count}{path.suffix}")
    part = name.with_name(name.name + ".part")
    part.unlink(missing_ok=True)
    os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    try:
        with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(part)) as new:
            old.backup(new)
        part.replace(name)
    finally:
        part.unlink(missing_ok=True)  # a full disk gets its room back
    return str(name)


def _copy_schema(engine_: Engine, connection: Connection, version: int) -> str:
    """A copy in a schema of its own, which the tables' steps do not touch."""
    there = set(inspect(connection).get_schema_names())
    name, count = f"ratoon_tables_{version}", 1
    while name in there:
        count += 1
        name = f"ratoon_tables_{version}_{count}"
    try:
        with connection.begin_nested():
            connection.execute(text(f"CREATE SCHEMA {name}"))
    except DBAPIError as error:
        raise StoreError(
            f"the older tables could not be copied aside: {str(error.orig).splitlines()[0]}",
            where=engine.place(engine_),
            todo="Let the database's owner grant CREATE on the database to this user",
        ) from None
    for table in sorted(set(inspect(connection).get_table_names()) & {*metadata.tables, STAMP}):
        connection.execute(text(f'CREATE TABLE {name}."{table}" AS TABLE "{table}"'))
    return f"schema {name} in {engine.place(engine_)}"
