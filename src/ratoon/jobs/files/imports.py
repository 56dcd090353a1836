"""Files in: read, told row by row, stored; one file is one transaction."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon.base.addresses import AddressInfo, natural
from ratoon.base.errors import BadInput
from ratoon.base.records import Period, Reading, Stop
from ratoon.base.season import RAIN
from ratoon.importers.reader import read_file
from ratoon.importers.records import FileRows, Refusal
from ratoon.importers.wide import WideColumn, WideSheet
from ratoon.jobs.cane.files import entry_of
from ratoon.jobs.files.far_days import judged_days
from ratoon.jobs.files.stop_rows import judged_stops
from ratoon.jobs.mills import keep_mill_file, open_mill
from ratoon.jobs.season.plan import judged_costs, judged_plans
from ratoon.jobs.strikes.rows import judged_strikes
from ratoon.jobs.sugar.rows import SUGAR, judged_sugar
from ratoon.store.entries import newest_day

if TYPE_CHECKING:
    from datetime import date

    from ratoon.account.mill import Mill
    from ratoon.base.clock import Calendar
    from ratoon.jobs.mills import OpenMill
    from ratoon.store import Outcome

Progress = Callable[[str], None]
WHOLE = SUGAR | {"earlier_days", "zones", "plan", "costs"}
"""Layouts of which half a file would mislead: a ledger, a budget, a season."""
NOTHING = "; nothing of this file is stored"


class _HalfRejected(Exception):
    """The store rejected rows of a file that counts whole or not at all; what it took is undone."""


def _as_json(r: Refusal) -> dict[str, Any]:
    return {
        "sheet": r.sheet,
        "row": r.row,
        "column": r.column,
        "value": r.value,
        "reason": r.reason,
    }


@dataclass(slots=True)
class FileReport:
    """What became of one file; `error` says why the whole file was refused.

    `without_sigma` names the addresses whose readings state no standard uncertainty, neither in
    the file nor in the mill file: they are kept and not used.
    """

    file: str
    rows: int = 0
    accepted: int = 0
    unchanged: int = 0
    corrected: int = 0
    refused: list[Refusal] = field(default_factory=list)
    error: str = ""
    without_sigma: tuple[str, ...] = ()
    doubtful: list[Refusal] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """The report with the keys of ``ratoon import --json``."""
        refused = [_as_json(r) for r in self.refused]
        if self.error:
            refused = [{"sheet": "", "row": 0, "column": "", "value": "", "reason": self.error}]
        report: dict[str, Any] = {
            "file": self.file,
            "rows": self.rows,
            "accepted": self.accepted,
            "unchanged": self.unchanged,
            "corrected": self.corrected,
            "refused": refused,
        }
        if self.doubtful:
            report["doubtful"] = [_as_json(r) for r in self.doubtful]
        return report


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What became of all files of one import."""

    files: tuple[FileReport, ...]

    @property
    def errors(self) -> list[str]:
        """One line for each file that was refused whole."""
        return [file.error for file in self.files if file.error]

    @property
    def refused(self) -> int:
        """How many rows were refused."""
        return sum(len(file.refused) for file in self.files)

    def as_json(self) -> dict[str, Any]:
        """The report with the keys of ``ratoon import --json``."""
        return {"files": [file.as_json() for file in self.files]}


def import_files(
    mill_dir: Path,
    files: Sequence[Path],
    correct: str | None = None,
    progress: Progress | None = None,
    who: str = "",
) -> ImportReport:
    """Import files into a mill's database.

    Parameters
    ----------
    mill_dir : the mill's folder; its database is made where there is none yet.
    files : CSV files and workbooks, in the order in which they count.
    correct : reason for a correction; then a value that contradicts a stored one replaces it.
    progress : told one line at a time what is being done.
    who : login of the person who imports; by default the person who runs the program.

    Returns
    -------
    The report; a file that could not be read at all is in it with its error, and the other files
    are stored all the same.

    Raises
    ------
    RatoonError : the mill file or the database is not sound; nothing was stored.
    """
    say = progress or (lambda line: None)
    if correct is not None and not correct.strip():
        raise BadInput("a correction needs its reason", todo='Write --correct "REASON"')
    with open_mill(mill_dir, create=True) as opened:
        reports = [_import_file(opened, file, correct, say, who) for file in files]
    return ImportReport(tuple(reports))


def _import_file(
    opened: OpenMill, path: Path, correct: str | None, say: Progress, who: str
) -> FileReport:
    mill, store = opened.mill, opened.store
    report = FileReport(str(path))
    say(f"{path.name}: reading")
    try:
        found = read_file(
            path,
            mill.addresses,
            mill.calendar,
            atmospheric=mill.atmospheric,
            progress=lambda rows: say(f"{path.name}: {rows:,} rows read"),
            sheets=sheets_of(mill),
        )
    except BadInput as error:
        report.error = error.line()
        return report
    report.rows = len(found.rows) + len(found.refused)
    newest = store.ask(newest_day, mill.calendar)
    found = judged_strikes(store, mill, judged_stops(store, mill, found))
    found = judged_days(store, mill.calendar, newest, found)
    found = judged_costs(mill.settings.mill.currency, judged_plans(store, found, correct))
    found = _whole_or_none(judged_sugar(mill.settings, found))
    outcome = _store(opened, path, found, correct, who, newest)
    report.accepted = outcome.accepted
    report.unchanged = outcome.unchanged
    report.corrected = outcome.corrected
    report.refused = sorted(
        [*found.refused, *_refusals(outcome)], key=lambda refusal: (refusal.sheet, refusal.row)
    )
    not_kept = {
        (r.entry.sheet, r.entry.row, getattr(r.entry.record, "address", ""))
        for r in outcome.rejected
    }
    report.doubtful = [
        d for d in found.doubtful
        if not {(d.sheet, d.row, d.column), (d.sheet, d.row, "")} & not_kept
    ]  # fmt: skip
    report.without_sigma = _without_sigma(found, mill.addresses)
    return report


def _whole_or_none(found: FileRows) -> FileRows:
    """A file's rows; none of them where one is refused of a file of which half would mislead."""
    if not found.refused or not _is_whole(found):
        return found
    refused = tuple(replace(r, reason=r.reason + NOTHING) for r in found.refused)
    return replace(found, rows=(), refused=refused)


def _is_whole(found: FileRows) -> bool:
    return WHOLE.issuperset(found.layout.split("+"))


def sheets_of(mill: Mill) -> tuple[WideSheet, ...]:
    """The mill's own wide sheets, as the importer wants them."""
    return tuple(
        WideSheet(
            name, s.start, s.time, s.end, s.shift, s.sample, s.source, s.note, s.samples,
            {heading: WideColumn(c.address, c.unit) for heading, c in s.columns.items()},
            s.ignored,
        )
        for name, s in mill.settings.sheets.items()
    )  # fmt: skip


def _store(
    opened: OpenMill, path: Path, found: FileRows, correct: str | None, who: str,
    newest: date | None,
) -> Outcome:  # fmt: skip
    """Store one file's rows and, when it changed, the mill file, in one transaction."""
    from ratoon.store import Entry, InputFile, Outcome
    from ratoon.store.chain.digest import digest_of_file

    file = InputFile(found.name, digest_of_file(path), path.stat().st_size, found.layout)
    entries = [
        Entry(entry_of(row.record, row.row, row.sheet), row.row, row.sheet) for row in found.rows
    ]
    try:
        with opened.store.writing(who) as transaction:
            days = _days(found, opened.mill.calendar)
            keep_mill_file(transaction, opened.mill, newest, days)
            outcome = transaction.add_file(file, entries, correct)
            if outcome.rejected and _is_whole(found):
                raise _HalfRejected
    except _HalfRejected:
        rejected = [replace(r, reason=r.reason + NOTHING) for r in outcome.rejected]
        return Outcome(unchanged=outcome.unchanged, rejected=rejected)
    return outcome


def _days(found: FileRows, calendar: Calendar) -> Iterable[date]:
    """The mill days of a file's readings over a period; rain makes none."""
    periods = {
        Period(row.record.start, row.record.end)
        for row in found.rows
        if isinstance(row.record, Reading) and row.record.start and row.record.end
        and row.record.address != RAIN
    }  # fmt: skip
    return {day for period in periods for day in calendar.days_of(period)}


def _refusals(outcome: Outcome) -> list[Refusal]:
    """What the store rejected, in the importer's words."""
    refused = []
    for rejected in outcome.rejected:
        record = rejected.entry.record
        given: object
        if isinstance(record, Reading):
            given = record.given
        else:
            given = f"{record.hours:g} h" if isinstance(record, Stop) else ""
        value = f"{given:g}" if isinstance(given, float) else str(given)
        refused.append(
            Refusal(
                rejected.entry.sheet, rejected.entry.row, rejected.column, value, rejected.reason
            )
        )
    return refused


def _without_sigma(found: FileRows, known: Mapping[str, AddressInfo]) -> tuple[str, ...]:
    records = [row.record for row in found.rows if isinstance(row.record, Reading)]
    bare = {r.address for r in records if r.sigma is None and not known[r.address].sigma_known}
    return tuple(natural(bare))
