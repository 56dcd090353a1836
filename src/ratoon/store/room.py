"""The store: one database, opened and asked; what is written into it is in `writing`.

Examples
--------
>>> from tempfile import mkdtemp
>>> with Store.open(Path(mkdtemp()) / "ratoon.db") as store:
...     store.verify()
[]
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Concatenate, ParamSpec, TypeVar

from sqlalchemy import Connection, Engine, insert, inspect, select

from ratoon.base.errors import StoreError
from ratoon.base.records import Period, Reading
from ratoon.store import engine, entries, upgrade, written
from ratoon.store.chain import events as chain
from ratoon.store.chain import verify
from ratoon.store.chain.anchors import FILE as ANCHORS
from ratoon.store.chain.anchors import Anchor, Anchors
from ratoon.store.chain.digest import digest
from ratoon.store.people import People
from ratoon.store.records import (
    Entry,
    InputFile,
    NoRecordsYet,
    Outcome,
)
from ratoon.store.tables import (
    SCHEMA_VERSION,
    meta,
    metadata,
    settings,
)
from ratoon.store.writing import Writing

Given = ParamSpec("Given")
Answer = TypeVar("Answer")
DATABASE = "ratoon.db"
URL_FILE = "database.url"


def locate(mill_dir: Path) -> str | Path:
    """Where a mill's database is: the URL in ``DIR/database.url``, else ``DIR/ratoon.db``."""
    file = mill_dir / URL_FILE
    if not file.is_file():
        return mill_dir / DATABASE
    lines = [line.strip() for line in file.read_text(encoding="utf-8").splitlines()]
    urls = [line for line in lines if line and not line.startswith("#")]
    if len(urls) != 1 or not engine.is_url(urls[0]):
        raise StoreError(
            "one database URL is wanted", where=str(file), allowed="postgresql://USER@HOST/NAME"
        )
    return urls[0]


class Store:
    """A mill's records; open it with `Store.open` and close it, or use it in a ``with``."""

    def __init__(self, engine_: Engine, anchors: Anchors | None = None) -> None:
        self._engine = engine_
        self.anchors = anchors

    @classmethod
    def open(
        cls, where: str | Path, *, create: bool = True, anchors: Path | None = None,
        look: bool = False,
    ) -> Store:  # fmt: skip
        """Open the database at a path (SQLite) or URL (PostgreSQL).

        Parameters
        ----------
        where : path, or ``postgresql://USER@HOST/NAME``.
        create : make the tables where there are none yet; else that is refused.
        anchors : their file; beside the database when left out, none for a URL.
        look : change nothing: tables of an older program are refused, not brought up to date.

        Raises
        ------
        NoRecordsYet : no database there, or an empty one, and `create` is False.
        RecordsLost : not the database that the anchors know.
        StoreError : not one of ours, of a newer program, or out of reach.
        """
        local = not engine.is_url(str(where))
        if anchors is None and local:
            anchors = Path(where).with_name(ANCHORS)
        mark = Anchors(anchors) if anchors else None
        # read before the database, which others may lead on meanwhile
        last = mark.newest() if mark else None
        if local and not Path(where).is_file():
            if mark and last:
                mark.refuse_without_records(last, str(where))
            if not create:
                raise NoRecordsYet(str(where))
        opened = engine.open_engine(where)
        store = cls(opened, mark)
        try:
            store._check_schema(create and not look, last, look)
        except BaseException:
            store.close()
            raise
        return store

    def _check_schema(self, create: bool, last: Anchor | None, look: bool) -> None:
        with engine.reading(self._engine) as connection:
            version = known = self._schema_version(connection)
            if self.anchors and last:
                if version is None:
                    self.anchors.refuse_without_records(last, self.where)
                self.anchors.compare(connection, last, self.where)
        if version is None and not create:
            raise NoRecordsYet(self.where)
        if look and version is not None and version < SCHEMA_VERSION:
            raise StoreError(
                f"not looked at: its tables are of version {version}, today's of {SCHEMA_VERSION}",
                where=self.where,
                todo="Any command that opens them, such as `ratoon day`, brings them up to date",
            )
        if version is None or version < SCHEMA_VERSION:
            with engine.writing(self._engine) as connection:
                # asked again: another process may have done it while we waited
                version = self._schema_version(connection)
                if version is None:
                    self._make_tables(connection)
                elif version < SCHEMA_VERSION:
                    upgrade.upgrade(
                        self._engine, connection, version, anchored=self.anchors is not None
                    )
            if version is not None and version < SCHEMA_VERSION:
                upgrade.give_back(self._engine)
        if self.anchors and not look and (version != known or not self.anchors.begun):
            with engine.reading(self._engine) as connection:
                # made or changed just now, or by somebody who was ended before the anchors were
                self.anchors.begin(connection)
        if version is not None and version > SCHEMA_VERSION:
            raise StoreError(
                f"the database was made by a newer ratoon (tables {version})",
                where=self.where,
                allowed=f"tables up to {SCHEMA_VERSION}",
                todo="Update the program",
            )

    def _make_tables(self, connection: Connection) -> None:
        metadata.create_all(connection, checkfirst=False)
        upgrade.stamp(connection, SCHEMA_VERSION)
        connection.execute(insert(meta).values(key="schema", value=str(SCHEMA_VERSION)))
        # no two stores are named alike, however alike they were made
        about: dict[str, Any] = {"schema": SCHEMA_VERSION, "store": secrets.token_hex(16)}
        if self.anchors:
            about["anchored"] = True
        chain.append(connection, "database made", about)

    @contextmanager
    def _anchored_writing(self) -> Iterator[Connection]:
        """The writing transaction; what it added to the chain is anchored once it is stored."""
        with engine.writing(self._engine) as connection:
            before = chain.head(connection)
            yield connection
            after, first = chain.newest(connection), chain.numbered(connection, 1)
        if self.anchors and after and first and after.hash != before:
            self.anchors.note(first, after)

    def _schema_version(self, connection: Connection) -> int | None:
        names = set(inspect(connection).get_table_names())
        if "meta" not in names:
            if names & set(metadata.tables):
                raise StoreError("the tables in this database are not ratoon's", where=self.where)
            return None
        value = connection.scalar(select(meta.c.value).where(meta.c.key == "schema"))
        if value is None or not value.isdigit():
            raise StoreError("the tables in this database are not ratoon's", where=self.where)
        return int(value)

    @property
    def people(self) -> People:
        """The people of this database, their roles and sessions."""
        return People(self._engine)

    @property
    def writable(self) -> bool:
        """Whether the records may be written; a disk or folder may be for reading alone."""
        local = self._engine.dialect.name == "sqlite"
        return not local or engine.may_write(Path(self.where))

    @property
    def where(self) -> str:
        """Where the database is, without password."""
        return engine.place(self._engine)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    # -- writing ------------------------------------------------------------------------------

    @contextmanager
    def writing(self, who: str = "") -> Iterator[Writing]:
        """One writing transaction; an error inside it leaves the database as it was.

        Parameters
        ----------
        who : login of the person who acts; the events name it. By default the
            person who runs the program.
        """
        with self._anchored_writing() as connection:
            yield Writing(connection, who)

    def add_file(
        self, file: InputFile, entries_: Sequence[Entry], correct: str | None = None
    ) -> Outcome:
        """Store the readings and stops of one file, in one transaction.

        The same value for the same address, start and end is counted as unchanged; another value
        is rejected, unless `correct` gives the reason: then it is a new row replacing the old.
        """
        with self.writing() as transaction:
            return transaction.add_file(file, entries_, correct)

    def add_readings(
        self, readings_: Iterable[Reading], source: str = "", correct: str | None = None
    ) -> Outcome:
        """Store readings that come from no file, such as a person's or a tag's."""
        rows = [Entry(reading, row) for row, reading in enumerate(readings_, start=1)]
        mark = digest([entry.record for entry in rows])
        return self.add_file(InputFile(source or "entered", mark, 0, "readings"), rows, correct)

    def keep_settings(self, text: str, holds_from: date) -> bool:
        """Keep a mill file whole, with the mill day from which it holds; False when it stood."""
        with self.writing() as transaction:
            return transaction.keep_settings(text, holds_from)

    def add_result(
        self, kind: str, period: Period, inputs_digest: str, versions: dict[str, str], answer: Any,
        seen: int | None = None,
    ) -> None:  # fmt: skip
        """Append an answer (anything canonical JSON can hold) for a kind and a period.

        Parameters
        ----------
        seen : the newest event when its records were read; by default that of now.
        """
        with self.writing() as transaction:
            transaction.add_result(kind, period, inputs_digest, versions, answer, seen)

    # -- asking -------------------------------------------------------------------------------

    def ask(
        self,
        question: Callable[Concatenate[Connection, Given], Answer],
        *given: Given.args,
        **named: Given.kwargs,
    ) -> Answer:
        """What a question of the record modules finds, in one transaction that reads.

        Examples: ``store.ask(readings_in, period)``, ``store.ask(newest_result, "day", period)``.
        """
        with engine.reading(self._engine) as connection:
            return question(connection, *given, **named)

    def verify(self) -> list[str]:
        """What is wrong with the database, one line a fault; empty when it is sound."""
        # read before the database, which others may lead on meanwhile
        held = self.anchors.read() if self.anchors else None
        with engine.reading(self._engine) as connection:
            faults = verify.faults(connection)
            if self.anchors and held:
                faults += self.anchors.faults(connection, held)
        return faults

    def identity(self) -> str:
        """What names this store: the hash of its making, which no other has."""
        first = self.ask(chain.numbered, 1)
        return first.hash if first else ""

    def known_to(self, anchors: Path) -> list[str]:
        """What of anchors kept elsewhere these records do not agree with; later ones are let be."""
        return self.ask(Anchors(anchors).disagreements)

    def begin_anchors(self, who: str = "") -> None:
        """Begin the file of anchors anew where it is lost; an event tells so for ever."""
        with self.writing(who) as transaction:
            transaction.begin_anchors()

    def contents(self) -> dict[str, Any]:
        """All readings, stops and mill files, without what differs from run to run."""
        always = Period(datetime(1, 1, 2, tzinfo=UTC), datetime(9999, 12, 30, tzinfo=UTC))
        with engine.reading(self._engine) as connection:
            kept = connection.execute(
                select(settings.c.holds_from, settings.c.digest).order_by(settings.c.holds_from)
            )
            rows = entries.readings_in(connection, always)
            return {
                "readings": [replace(row, entered=None, entered_by="") for row in rows],
                "stops": [
                    v.record for v in written.stop_versions(connection, always) if v.in_force
                ],
                "settings": [list(row) for row in kept],
            }

    def contents_digest(self) -> str:
        """Digest of `contents`: equal for two databases built from the same files."""
        return digest(self.contents())
