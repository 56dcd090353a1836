"""What each page shows, as records; a template writes them out and computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ratoon.account.results.day import DayResult
from ratoon.account.results.trust import ReadingResult
from ratoon.jobs.handover import Handover
from ratoon.jobs.sheet.actions import JobRecord
from ratoon.reports.compose import day_in_words
from ratoon.reports.figures import entered_in_words
from ratoon.reports.morning import MorningSheet
from ratoon.reports.numbers import (
    MINUS,
    NOTHING,
    Shown,
    grouped,
    show,
    signed,
    written_unit,
)
from ratoon.web.days import DayPlace


@dataclass(frozen=True, slots=True)
class MorningPage:
    """The morning sheet between its neighbours."""

    place: DayPlace
    sheet: MorningSheet
    handovers: tuple[Handover, ...] = ()
    jobs: tuple[JobRecord, ...] = ()
    """Open jobs that people set."""


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading: as given, as reconciled, and how well the others check it."""

    address: str
    name: str
    kind: str
    given: Shown
    adjusted: Shown
    standardised: str
    suspect: bool
    redundant: bool
    detectability: str
    used: bool
    why_not: str
    source: str
    entered: str
    note: str

    @property
    def standing(self) -> str:
        """Whether it was used, and whether others check it, in words."""
        if not self.used:
            return f"not used: {self.why_not}" if self.why_not else "not used"
        if self.suspect:
            return "suspect"
        return "checked" if self.redundant else "not checked by others"


@dataclass(frozen=True, slots=True)
class ReadingsPage:
    """The day's readings."""

    place: DayPlace
    title: str
    mill_name: str
    used: int
    total: int
    global_test: str
    rows: tuple[ReadingRow, ...]


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check value: expected, found."""

    id: str
    expected: str
    found: str
    digits: str
    passed: bool


@dataclass(frozen=True, slots=True)
class CheckGroup:
    """Check values of one formula against one source."""

    what: str
    formula: str
    unit: str
    source: str
    confidence: str
    account: str
    passed: int
    rows: tuple[CheckRow, ...]


@dataclass(frozen=True, slots=True)
class CheckSource:
    """A source with the values taken from it; `first` is its first group, counted from 0."""

    source: str
    total: int
    passed: int
    first: int


@dataclass(frozen=True, slots=True)
class ChecksPage:
    """The table of published checks: how each source stands, then every value.

    `used`: values that run what the account runs.
    """

    passed: int
    total: int
    used: int
    sources: tuple[CheckSource, ...]
    groups: tuple[CheckGroup, ...]


@dataclass(frozen=True, slots=True)
class MessagePage:
    """One clear line, and where to go from here."""

    status: int
    title: str
    line: str
    nearest: str


def _reading_row(reading: ReadingResult, suspects: set[str]) -> ReadingRow:
    detectability, standardised = reading.detectability, reading.standardised
    return ReadingRow(
        address=reading.address,
        name=reading.name or reading.address,
        kind=reading.kind,
        given=show(reading.value, reading.sigma_given, reading.unit),
        adjusted=show(reading.adjusted, reading.sigma, reading.unit),
        standardised=NOTHING if standardised is None else signed(standardised, 1),
        suspect=reading.address in suspects,
        redundant=reading.redundant,
        detectability=NOTHING if detectability is None else grouped(detectability, 2),
        used=reading.used,
        why_not=reading.why_not,
        source=reading.source,
        entered=entered_in_words(reading.entered, reading.entered_by) if reading.entered else "",
        note=reading.note,
    )


def reading_rows(result: DayResult) -> tuple[ReadingRow, ...]:
    """The readings of a day as they are shown, in the account's order."""
    suspects = {a for s in result.suspects for a in (s.reading, *s.equivalent)}
    return tuple(_reading_row(r, suspects) for r in result.readings)


def readings_page(result: DayResult, place: DayPlace) -> ReadingsPage:
    """The readings of a day, in the account's order."""
    rows = reading_rows(result)
    test = result.global_test
    words = ""
    if test and test.p is not None:
        failed = "failed" if test.p < 0.01 else "not failed"
        words = f"global test {failed} at 1 % (p {test.p:.2g}, {test.dof} degrees of freedom)"
    return ReadingsPage(
        place=place,
        title=day_in_words(result.date),
        mill_name=result.mill_name,
        used=sum(r.used for r in rows),
        total=len(rows),
        global_test=words,
        rows=rows,
    )


def checks_page(rows: Iterable[Mapping[str, Any]]) -> ChecksPage:
    """The table that `ratoon check` prints, each formula's values from a source together."""
    same: dict[tuple[str, str, str, str, str, str], list[CheckRow]] = {}
    used = 0
    for r in rows:
        used += r.get("account") == "used"
        key = (str(r["what"]), str(r["formula"]), written_unit(str(r["unit"])), str(r["source"]),
               str(r["confidence"]), _of_the_account(r))  # fmt: skip
        same.setdefault(key, []).append(
            CheckRow(str(r["id"]), _minus(r.get("printed") or _number(r["expected"])),
                     _minus(_number(r["found"])), _number(r["digits"]), bool(r["pass"]))
        )  # fmt: skip
    groups = tuple(
        CheckGroup(*key, sum(r.passed for r in held), tuple(held)) for key, held in same.items()
    )
    sources = []
    for name in sorted({g.source for g in groups}, key=str.lower):
        mine = [n for n, g in enumerate(groups) if g.source == name]
        total = sum(len(groups[n].rows) for n in mine)
        sources.append(CheckSource(name, total, sum(groups[n].passed for n in mine), mine[0]))
    passed, total = (sum(getattr(s, what) for s in sources) for what in ("passed", "total"))
    return ChecksPage(passed, total, used, tuple(sources), groups)


def _of_the_account(row: Mapping[str, Any]) -> str:
    """What a row says of the account, in words."""
    said = [f"account: {row['account']}"] if row.get("account") else []
    return ", ".join([*said, *(["our own fit to this print"] if row.get("fitted") else [])])


def _minus(number: str) -> str:
    """A number with a true minus sign before it; the one of a power stays."""
    return f"{MINUS}{number[1:]}" if number.startswith("-") else number


def _number(value: Any) -> str:
    return f"{value:.8g}" if isinstance(value, float) else NOTHING if value is None else str(value)
