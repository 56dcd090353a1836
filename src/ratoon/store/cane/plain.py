"""Records of cane in the store's plain form: what they are asked by, and their content as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class CaneEntry:
    """One record to keep, with the place where it was written down.

    Parameters
    ----------
    kind, key : what it is, and what makes it one record and no other. at : when it happened, UTC.
    content : canonical JSON text of all of it.
    """

    kind: str
    key: str
    at: datetime | None
    consignment: str
    grower: str
    content: str
    row: int
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class SeriesEntry:
    """One moment of a long series: milliseconds since 1970 UTC, one to three values."""

    series: str
    at: int
    values: tuple[float, ...]
    row: int
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class CaneRow:
    """A record as it stands."""

    kind: str
    key: str
    at: datetime | None
    consignment: str
    grower: str
    content: str
    source: str
    version: int


@dataclass(frozen=True, slots=True)
class CorrectionRow:
    """What a person changed or cleared."""

    kind: str
    subject: str
    field: str
    old: str
    new: str
    who: str
    when: datetime
    why: str


@dataclass(frozen=True, slots=True)
class IssuedStatement:
    """A statement that was issued: frozen.

    `files`: by ending, the digest of the file as it was issued; empty for one of an older program.
    `proposed`: who asked for it where a second person had to confirm; `who` is that second person.
    """

    grower: str
    start: date
    end: date
    number: int
    cents: int
    digest: str
    content: str
    who: str
    issued: datetime
    files: Mapping[str, str] = field(default_factory=dict)
    proposal: int | None = None
    proposed: str = ""

    @property
    def name(self) -> str:
        """Grower, days and number."""
        return f"{self.grower}-{self.start}-{self.end}-{self.number}"


@dataclass(frozen=True, slots=True)
class Proposal:
    """Statements that one person wants issued and another has to confirm: digest by grower."""

    number: int
    start: date
    end: date
    statements: Mapping[str, str]
    who: str
    proposed: datetime
