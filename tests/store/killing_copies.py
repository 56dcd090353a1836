"""Backup, restore, change of tables and posts of the pages, for processes that are to be killed."""

from __future__ import annotations

import os
import re
from pathlib import Path

DAY = "2031-08-14"
BACKUP, NEW, TOLD = "made.backup", "new", "told"


def make_old(database: str) -> None:
    """A database of today as the tables' version before people, notes and cane left it."""
    from sqlalchemy import text

    from ratoon.store import Store, engine, upgrade
    from ratoon.store.tables import metadata

    kept = {"meta", "files", "readings", "stops", "settings", "results", "events"}
    with Store.open(database) as store, engine.writing(store._engine) as connection:
        for table in reversed(metadata.sorted_tables):
            if table.name not in kept:
                connection.execute(text(f"DROP TABLE {table.name}"))
        connection.execute(text(f"DROP TABLE {upgrade.STAMP}"))
        connection.execute(text("UPDATE meta SET value = '1' WHERE key = 'schema'"))


def backup(folder: Path) -> None:
    """``ratoon backup``."""
    from ratoon.jobs.keep.backup import backup as make

    make(folder, folder.parent / BACKUP)


def restore(folder: Path) -> None:
    """``ratoon restore`` into a new folder beside, its database named by a file there."""
    from ratoon.jobs.keep.restore import restore as make

    where = folder.parent / "restored.url"
    make(folder.parent / BACKUP, folder.parent / NEW, where.read_text() if where.exists() else "")


def migrate(folder: Path) -> None:
    """What every command does with older tables."""
    from ratoon.jobs.mills import store_of

    store_of(folder).close()


def post(folder: Path, began: Path) -> None:
    """One note of a shift after the other, each written down once it was answered as kept."""
    from starlette.testclient import TestClient

    from ratoon.web.app import create_app

    told = os.open(folder / TOLD, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    with TestClient(create_app(folder), "http://127.0.0.1", follow_redirects=False) as browser:
        page = browser.get(f"/journal/{DAY}").text
        token = re.search(r'name="form-token" content="(\w*)"', page)
        shift = re.search(r'name="shift" value="([^"]+)"', page)
        assert token and shift
        began.touch()
        for n in range(5000):
            given = {"shift": shift[1], "text": f"note {n}", "token": token[1]}
            answer = browser.post(f"/journal/{DAY}/notes", data=given)
            assert answer.status_code == 303, answer.text
            os.write(told, f"{n}\n".encode())


WORKS = {"backup": backup, "restore": restore, "migrate": migrate}


def work(name: str, folder: str, began: str) -> None:
    """Do one work; the file `began` tells that it has begun."""
    import ratoon.jobs.keep.restore
    import ratoon.store.rows  # noqa: F401 - the reading of modules is not what is killed

    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), 2)
    if name == "post":
        post(Path(folder), Path(began))
    Path(began).touch()
    WORKS[name](Path(folder))
