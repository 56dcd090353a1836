"""Records for the store tests, which all run twice: on SQLite and on PostgreSQL."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from ratoon.base.records import Reading, Stop
from ratoon.store import Entry, InputFile, Store


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
