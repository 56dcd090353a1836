"""Records that go into the store and come out of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from ratoon.base.errors import StoreError
from ratoon.base.records import Period, Reading, Stop


class NoRecordsYet(StoreError):
    """There is no database yet, or an empty one."""

    def __init__(self, where: str) -> None:
        super().__init__("no records yet", where=where, todo="Import the mill's readings first")


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that was read: its name, the SHA-256 of its bytes, their number, and its layout."""

    name: str
    digest: str
    size: int
    layout: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A reading, a stop or a record of cane with the place where it was written down."""

    record: Any  # Reading, Stop, CaneEntry or SeriesEntry
    row: int
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class Rejected:
    """An entry that contradicts what is stored, and why.

    `unseen`: it would have replaced a row that the corrector had not seen.
    """

    entry: Entry
    column: str
    reason: str
    unseen: bool = False


@dataclass(slots=True)
class Outcome:
    """What became of the entries of one file."""

    accepted: int = 0
    unchanged: int = 0
    corrected: int = 0
    rejected: list[Rejected] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Result:
    """An answer that was kept: what of, from which inputs, made by which versions, and when.

    `id` is its number in the table, 0 before it is stored.
    """

    kind: str
    period: Period
    inputs_digest: str
    versions: dict[str, str]
    answer: Any
    made: datetime
    id: int = 0


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A mill file as it stood: its whole text and the mill day from which it holds."""

    text: str
    digest: str
    holds_from: date
    entered: datetime


@dataclass(frozen=True, slots=True)
class Event:
    """One link of the chain: who did what and when, and the hash that covers all before it."""

    number: int
    at: datetime
    who: str
    what: str
    detail: dict[str, Any]
    hash: str


@dataclass(frozen=True, slots=True)
class Note:
    """A note of a shift or a handover; one that replaces another says why.

    `number`, `who`, `entered` and `in_force` are known once it is stored.
    """

    start: datetime
    end: datetime
    kind: str
    station: str
    text: str
    replaces: int | None = None
    reason: str = ""
    number: int = 0
    who: str = ""
    entered: datetime | None = None
    in_force: bool = True


@dataclass(frozen=True, slots=True)
class Version:
    """One row of a reading or stop as it was entered: by whom, when, why, and whether it stands."""

    record: Reading | Stop
    number: int
    version: int
    in_force: bool
    place: str
    entered: datetime
    who: str
    reason: str
