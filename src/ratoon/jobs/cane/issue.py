"""Statements frozen: proposed, confirmed by a second person, issued with their files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from ratoon.base.errors import BadInput
from ratoon.jobs.cane import statement_files
from ratoon.jobs.cane.issued import answer_of
from ratoon.jobs.cane.pay_run import PayRun
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane.plain import IssuedStatement, Proposal
from ratoon.store.chain.digest import digest_of_bytes


def propose(run: PayRun, fresh: Mapping[str, str], who: str) -> None:
    """Keep the texts' digests for a second person to confirm."""
    digests = {name: digest_of_bytes(text.encode()) for name, text in fresh.items()}
    if not digests:
        return
    with run.opened.store.writing(who) as transaction:
        transaction.propose_statements(
            Proposal(0, run.start, run.end, digests, who, datetime.now(UTC))
        )


def proposed_before(run: PayRun, fresh: Mapping[str, str], who: str) -> int:
    """The number of the proposal that another person made of these very statements."""
    digests = {name: digest_of_bytes(text.encode()) for name, text in fresh.items()}
    same = [
        p
        for p in run.opened.store.ask(cane_issued.proposals)
        if (p.start, p.end) == (run.start, run.end)
    ]
    fits = [p for p in same if digests and digests.items() <= p.statements.items()]
    if not fits:
        what = "the statements changed since they were proposed" if same else "nothing is proposed"
        raise BadInput(what, value=f"{run.start} to {run.end}", todo="Propose them (again) first")
    others = [p for p in fits if p.who != who]
    if not others:
        raise BadInput("a second person has to confirm", value=who,
                       allowed=f"anybody but {who}, who proposed it")  # fmt: skip
    return others[-1].number


def issue_all(run: PayRun, texts: Mapping[str, str], who: str, proposal: int | None) -> None:
    """Freeze statements in one transaction that sees what was issued before: all or none.

    Cane may have moved between their growers, and a reader of a refused issue has not
    to ask which of them were paid.
    """
    asked = next(
        (p.who for p in run.opened.store.ask(cane_issued.proposals) if p.number == proposal), ""
    )
    # files first: others need not wait for them, and none is missed by what is issued
    ones = [_frozen(run, name, text, who, (proposal, asked)) for name, text in
            sorted(texts.items())]  # fmt: skip
    with run.opened.store.writing(who) as transaction:
        now = transaction.issued(run.start, run.end)
        for name in texts:
            seen = [b.name for b in run.earlier(name)]
            if [b.name for b in now if b.grower == name] != seen:
                raise BadInput(f"somebody else issued to grower {name} meanwhile",
                               todo="Look at what was issued, then try again")  # fmt: skip
        transaction.issue_statements(ones)


def _frozen(
    run: PayRun, grower: str, text: str, who: str, proposed: tuple[int | None, str]
) -> IssuedStatement:
    """A statement as it is issued, with its files already written."""
    content = json.loads(text)
    one = IssuedStatement(
        grower, run.start, run.end, len(run.earlier(grower)) + 1,
        int(Decimal(content["total"]) * 100), digest_of_bytes(text.encode()), text, who,
        datetime.now(UTC), {}, *proposed,
    )  # fmt: skip
    local = run.opened.mill.calendar.to_local(one.issued)
    answer = answer_of(one, content)
    answer["issued"]["local"] = f"{local:%Y-%m-%d %H:%M}"
    files = statement_files.keep(run.opened.folder, answer, run.opened.mill.settings.mill.name)
    return replace(one, files=files)
