"""What may be done inside one writing transaction of the store, each act with its event."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection

from ratoon.base.records import Period
from ratoon.store import answers, intake, written
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane import kept as cane
from ratoon.store.cane import paid as cane_paid
from ratoon.store.cane.plain import CorrectionRow, IssuedStatement, Proposal
from ratoon.store.cane.tables import cane_corrections, statement_proposals, statements
from ratoon.store.chain import events as chain
from ratoon.store.chain.anchors import BEGUN
from ratoon.store.records import Entry, InputFile, Note, Outcome
from ratoon.store.tables import files, notes, results, settings


class Writing:
    """What may be done inside one writing transaction; leaving it stores all of it or nothing."""

    def __init__(self, connection: Connection, who: str = "") -> None:
        self._connection = connection
        self._who = who
        self._at = chain.now()

    def add_file(
        self,
        file: InputFile,
        entries_: Sequence[Entry],
        correct: str | None = None,
        seen: int | None = None,
    ) -> Outcome:
        """Store what a file holds; see `Store.add_file`.

        `seen`: the newest row that the corrector had before the eyes; a newer one is not
        replaced unseen. None asks nothing.
        """
        outcome, detail = intake.store_file(
            self._connection, file, entries_, correct, self._at, seen
        )
        if detail is not None:
            chain.append(self._connection, "import", detail, self._who, [(files, detail["file"])])
        return outcome

    def keep_settings(self, text: str, holds_from: date) -> bool:
        """Keep a mill file's text; see `Store.keep_settings`."""
        detail = answers.keep_settings(self._connection, text, holds_from, self._at)
        if detail is not None:
            rows = [(settings, detail["settings"])]
            chain.append(self._connection, "settings", detail, self._who, rows)
        return detail is not None

    def add_result(
        self, kind: str, period: Period, inputs_digest: str, versions: dict[str, str], answer: Any,
        seen: int | None = None,
    ) -> None:  # fmt: skip
        """Append an answer; see `Store.add_result`."""
        detail = answers.add_result(
            self._connection, kind, period, inputs_digest, versions, answer, self._at, seen
        )
        chain.append(self._connection, "result", detail, self._who, [(results, detail["result"])])

    def add_note(self, note: Note) -> int:
        """Append a note of a shift; gives its number."""
        who = self._who or chain.login()
        number, detail = written.add_note(self._connection, note, self._at, who)
        chain.append(self._connection, "note", {"about": detail}, self._who, [(notes, number)])
        return number

    def keep_draft(self, who: str, form: str, text: str) -> None:
        """Keep what somebody has typed into a form and not sent; "" takes it away."""
        written.keep_draft(self._connection, who, form, text, self._at)

    def forget_drafts(self, who: str) -> None:
        """Take away all that somebody has typed and not sent."""
        written.forget_drafts(self._connection, who)

    def correct_cane(self, row: CorrectionRow) -> None:
        """Keep what a person changed or cleared of a bin, consignment or sample."""
        number, detail = cane.correct(self._connection, row)
        rows = [(cane_corrections, number)]
        chain.append(self._connection, "correction", {"about": detail}, row.who, rows)

    def issue_statements(self, ones: Sequence[IssuedStatement]) -> None:
        """Freeze statements that go together; see `cane_issued.issue`."""
        for one, (number, detail) in zip(
            ones, cane_issued.issue(self._connection, ones), strict=True
        ):
            rows = [(statements, number)]
            chain.append(self._connection, "statement", {"about": detail}, one.who, rows)

    def issued(self, start: date, end: date, grower: str | None = None) -> list[IssuedStatement]:
        """Statements that touch some mill days, as this transaction sees them."""
        return cane_issued.issued(self._connection, start, end, grower)

    def propose_statements(self, one: Proposal) -> int:
        """Keep what a second person is to confirm; gives its number."""
        number, detail = cane_issued.propose(self._connection, one)
        rows = [(statement_proposals, number)]
        chain.append(self._connection, "proposal", {"about": detail}, one.who, rows)
        return number

    def claim_loads(self, day: date, loads: Mapping[str, str]) -> set[date]:
        """Note the bins of a mill day; see `cane_paid.claim_day`."""
        return cane_paid.claim_day(self._connection, day, loads)

    def begin_anchors(self) -> None:
        """Say that the file of anchors begins anew."""
        chain.append(self._connection, BEGUN, {"anchored": True}, self._who)

    def add_event(self, what: str, detail: dict[str, Any], who: str = "") -> str:
        """Append an event of another kind; its `detail` may not name a file, settings or result."""
        return chain.append(self._connection, what, {"about": detail}, who or self._who)
