"""No column of any table can be changed, nor two rows' exchanged, without being found."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Column, Connection, Table, select, text, update
from sqlalchemy.exc import IntegrityError

from ratoon.base.records import Period
from ratoon.store import Store, engine
from ratoon.store.cane.plain import CaneEntry, CorrectionRow, IssuedStatement, SeriesEntry
from ratoon.store.chain import verify
from ratoon.store.chain.digest import digest_of_bytes
from ratoon.store.records import InputFile, Note
from ratoon.store.tables import metadata

from .conftest import at, entries, reading, stop

MEANS_NOTHING = {
    # what somebody has typed and not sent: kept for that person's eyes, no record of the mill
    "drafts.who", "drafts.form", "drafts.text", "drafts.saved",
    # when a session was last used: another moment within its own life lets in nobody else
    "sessions.seen",
}  # fmt: skip


NOT_FILLED = {
    # what follows from issued statements and days is compared with them by `cane_paid`, and files
    # of statements by `cane_verify`; tests of payment change those by hand
    "day_loads", "paid_consignments", "paid_loads", "statement_files", "statement_proposals",
}  # fmt: skip


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Two rows at least in every table."""
    with Store.open(tmp_path_factory.mktemp("every") / "ratoon.db") as store:
        fill(store)
        yield store


def fill(store: Store) -> None:
    store.keep_settings("x = 1", date(2031, 6, 10))
    store.keep_settings("x = 2", date(2031, 8, 14))
    for day in (14, 15):
        mark = f"{day}" * 32
        rows = entries(
            reading("cane.weight", day, day * 1e6, note=f"n{day}"),
            stop(day, day - 12),
            CaneEntry("bin", f"{day}@x", at(day), f"c{day}", f"G{day}", f'{{"d":{day}}}', day),  # type: ignore[arg-type]
            SeriesEntry("speed", day * 1000, (0.2 + day, 0.1 + day, 1.0 + day), day),  # type: ignore[arg-type]
        )
        store.add_file(InputFile(f"file-{day}.csv", mark, day, f"layout {day}"), rows)
        period = Period(at(day), at(day + 1))
        store.add_result(f"day{day}", period, mark, {"v": f"{day}"}, {"f": day})
    for day, who in ((14, "anna"), (15, "ben")):
        with store.writing(who) as transaction:
            about = Note(at(day), at(day, 7), f"kind{day}", f"mill.{day}", f"text {day}")
            transaction.add_note(about)
            content = f'{{"total":"{day}"}}'
            transaction.issue_statements([IssuedStatement(
                f"G{day}", date(2031, 8, day - 3), date(2031, 8, day + 3), day, day * 100,
                digest_of_bytes(content.encode()), content, who, at(day),
            )])  # fmt: skip
            transaction.correct_cane(CorrectionRow(
                f"kind{day}", f"{day}@x", f"field{day}", f"old{day}", f"new{day}", who, at(day),
                f"why {day}",
            ))  # fmt: skip
            transaction.keep_draft(who, f"form {day}", "half a sentence")
        role = "manager" if who == "anna" else "laboratory"
        store.people.add(who, f"{who} Reed", f"secret {day}", (role,), "", "anna")
        store.people.begin_session(who, f"{day}" * 32, f"place {day}")
    store.people.change("ben", "person disabled", "anna", disabled=at(16))
    store.people.begin_session("ben", "16" * 32, "place 16")


def _columns() -> list[Any]:
    return [
        pytest.param(table, column, id=f"{table.name}.{column.name}")
        for table in metadata.sorted_tables
        for column in table.columns
        if table.name not in NOT_FILLED
        if f"{table.name}.{column.name}" not in MEANS_NOTHING
    ]


def _other(value: Any) -> Any:
    """Another value of the same kind."""
    if isinstance(value, str):
        return value[:-1] + ("x" if value[-1:] != "x" else "y")
    if isinstance(value, datetime | date):
        return value + timedelta(days=1)
    return value + 1 if value is not None else None


class _Undone(Exception):
    """Ends a transaction that is to leave nothing."""


@pytest.mark.parametrize(("table", "column"), _columns())
def test_a_value_changed_by_hand_is_found(filled: Store, table: Table, column: Column[Any]) -> None:
    keys = list(table.primary_key.columns)
    with engine.reading(filled._engine) as connection:
        rows = connection.execute(select(table).order_by(*keys)).mappings().all()
    assert rows, f"{table.name} is empty: this test sees nothing of it"
    new = [v for r in rows if (v := _other(r[column.name])) is not None]
    new = new or [at(20) if "UtcTime" in repr(column.type) else 1]
    for row in rows:
        same = [key == row[key.name] for key in keys]
        change = update(table).where(*same).values({column.name: new[-1]})
        assert _found_after(filled, change), f"{dict(row)}: {column.name} -> {new[-1]}"


@pytest.mark.parametrize(("table", "column"), _columns())
def test_two_rows_values_exchanged_are_found(
    filled: Store, table: Table, column: Column[Any]
) -> None:
    keys = list(table.primary_key.columns)
    with engine.reading(filled._engine) as connection:
        rows = connection.execute(select(table).order_by(*keys)).mappings().all()
    if len({row[column.name] for row in rows}) < 2 or column.primary_key:
        return
    one, two = rows[0], next(r for r in rows if r[column.name] != rows[0][column.name])
    away = [
        update(table).where(*(k == row[k.name] for k in keys)).values({column.name: value})
        for row, value in ((one, two[column.name]), (two, one[column.name]))
    ]
    assert _found_after(filled, *away)


def _found_after(store: Store, *changes: Any) -> bool:
    """Whether doctor finds what some statements change; all is as it was afterwards."""
    found: list[str] = []
    try:
        with store._engine.connect() as connection:
            plain: Any = connection.connection.driver_connection
            plain.execute("PRAGMA foreign_keys=OFF")  # in no transaction, else it does nothing
            connection = connection.execution_options(writes=True, patience=5.0)
            with connection.begin():
                for change in changes:
                    assert connection.execute(change).rowcount == 1
                found = verify.faults(connection)
                raise _Undone
    except IntegrityError:
        return True  # the database itself lets it not be
    except _Undone:
        pass
    return bool(found)


def test_all_is_sound_before_anybody_changes_it(filled: Store) -> None:
    assert [f for f in filled.verify() if "session" not in f] == []


def _faults(store: Store, change: str, **values: Any) -> list[str]:
    with engine.writing(store._engine) as connection:
        connection.execute(text(change), values)
    return store.ask(verify.faults)


def test_a_session_put_in_by_hand_lets_nobody_in(tmp_path: Path) -> None:
    with Store.open(tmp_path / "ratoon.db") as store:
        store.people.add("anna", "Anna", "s", ("manager",), "", "")
        store.people.begin_session("anna", "a" * 64, "here")
        assert store.people.person_of("a" * 64) is not None
        later = (datetime.now(UTC) + timedelta(days=1)).replace(tzinfo=None).isoformat(" ")
        now = datetime.now(UTC).replace(tzinfo=None).isoformat(" ")
        put_in = "INSERT INTO sessions VALUES (:id, :mark, 1, :now, :now, :later, 'there')"
        for number in (1, 2, 99):
            faults = _faults(store, put_in, id=number, mark=f"{number:064d}", now=now, later=later)
            assert f"session {number}: no sign-in began it as it is" in faults
            assert store.people.person_of(f"{number:064d}") is None
        assert len(store.people.sessions()) == 1


def test_an_ended_session_put_back_is_told(tmp_path: Path) -> None:
    with Store.open(tmp_path / "ratoon.db") as store:
        store.people.add("anna", "Anna", "s", ("manager",), "", "")
        store.people.begin_session("anna", "a" * 64, "here")
        with engine.reading(store._engine) as connection:
            row = dict(connection.execute(text("SELECT * FROM sessions")).mappings().one())
        store.people.end_session("a" * 64)
        assert store.verify() == []
        names = ", ".join(f":{name}" for name in row)
        faults = _faults(store, f"INSERT INTO sessions VALUES ({names})", **row)
        assert faults == [f"session {row['id']}: was ended, and is there again"]


def test_text_in_place_of_a_date_is_a_fault_and_no_failure(tmp_path: Path) -> None:
    with Store.open(tmp_path / "ratoon.db") as store:
        store.keep_settings("x = 1", date(2031, 6, 10))
        for column, value in (("holds_from", "soon"), ("entered", "soon"), ("digest", b"\x00")):
            faults = _faults(store, f"UPDATE settings SET {column} = :value", value=value)
            assert faults, column


def test_rows_of_an_older_program_are_covered_when_the_tables_change(tmp_path: Path) -> None:
    """Its events covered an answer, not the versions that made it: from the change on all of it."""
    from ratoon.store import upgrade

    with Store.open(tmp_path / "ratoon.db") as store:
        store.keep_settings("x = 1", date(2031, 6, 10))
        store.add_result("day", Period(at(14), at(15)), "d" * 64, {"v": "1"}, {"figure": 1.0})
        with engine.writing(store._engine) as connection:
            _forget_rows(connection)
        assert any("without an event that covers it" in fault for fault in store.ask(verify.faults))
        with engine.writing(store._engine) as connection:
            upgrade.upgrade(store._engine, connection, 1)
        assert store.ask(verify.faults) == []
        faults = _faults(store, "UPDATE results SET versions = '{}'")
        assert faults == ["answer 1: was changed afterwards"]


def _forget_rows(connection: Connection) -> None:
    """Write the chain anew without what it tells of rows, as an older program wrote it."""
    import json

    from ratoon.store.chain import events as chain
    from ratoon.store.chain.digest import canonical
    from ratoon.store.tables import events

    before = chain.FIRST
    for row in connection.execute(select(events).order_by(events.c.number)).all():
        detail = json.loads(row.detail)
        detail.pop("rows", None)
        told = canonical(detail)
        before = chain._hash(row.number, row.at, row.who, row.what, told, before)
        connection.execute(
            update(events).where(events.c.number == row.number).values(detail=told, hash=before)
        )
