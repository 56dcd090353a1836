"""Growers' statements: made from the kept days, shown, and issued once.

Issuing twice pays once: a statement for the same grower and days is issued again only when it
differs, and then as a further one that takes off what was issued before. The terms and the mill's
mean of the first one stay: a price or a reading that changes later prices no issued days again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.payment import PaymentRule
from ratoon.cane.statement import PayItem, adjustments, make_statement, means_of
from ratoon.cane.statement_result import CaneLineResult, IssuedWords, StatementContent
from ratoon.cane.terms import not_applied, rule_of, settled_by
from ratoon.jobs.cane import statement_files
from ratoon.jobs.cane.answer import pay_items, pay_marks
from ratoon.jobs.cane.days import KIND, answers_of, days_with_cane
from ratoon.jobs.cane.own import Names, names_of, own_words
from ratoon.jobs.cane.season import days_in_short
from ratoon.jobs.cane.statement_reasons import reasons_of
from ratoon.store import cane as stored_cane
from ratoon.store import cane_issued
from ratoon.store.answers import newest_results
from ratoon.store.cane_records import IssuedStatement, Proposal
from ratoon.store.chain import login
from ratoon.store.digest import canonical, digest_of_bytes

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

LONGEST = timedelta(days=366)
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class _Run:
    """What statements of some days are made from."""

    opened: OpenMill
    start: date
    end: date
    rule: PaymentRule
    items: Sequence[PayItem]
    marks: Mapping[str, Mapping[str, str]]  # by grower and day: what it rests on
    before: Sequence[IssuedStatement]  # that touch the days, of all growers
    means: Mapping[str, Decimal | None]
    means_now: Mapping[str, Decimal | None]
    on: date
    reprice: str

    @property
    def growers(self) -> list[str]:
        """Growers with cane of these days, or with a statement of them."""
        same = {b.grower for b in self.before if (b.start, b.end) == (self.start, self.end)}
        return sorted({i.grower for i in self.items if i.grower} | same)

    def earlier(self, grower: str) -> list[IssuedStatement]:
        """Statements of one grower for just these days.

        Raises
        ------
        BadInput : one of them is for other days that overlap.
        """
        own = [b for b in self.before if b.grower == grower]
        for one in own:
            if (one.start, one.end) != (self.start, self.end):
                raise BadInput(
                    f"grower {grower} has a statement for {one.start} to {one.end}",
                    value=f"{self.start} to {self.end}",
                    allowed="the same days, or days that no statement touches",
                )
        return own


def pay(
    opened: OpenMill, start: date, end: date, grower: str | None = None, issue: bool = False,
    who: str = "", kept: bool = False, on: date | None = None, reprice: str = "",
    confirm: bool = False,
) -> list[dict[str, Any]]:  # fmt: skip
    """Statements of one grower, or of all, for mill days `start` to `end`, both in it.

    Parameters
    ----------
    issue : freeze them; what was issued already and has not changed stays as it is. Where the
        mill file wants a second person, they are proposed instead, and answered as not issued.
    confirm : issue what another person proposed, if it is still the same.
    kept : show from the newest kept days without asking whether they are still the newest.
    on : mill day by which advances are due; the newest with cane when left out.
    reprice : the reason for which issued days are priced by the terms and mean of now.

    Raises
    ------
    BadInput : no cane in these days, a grower without cane, days that overlap issued ones, cane
        that is in force on another grower's statement, nothing to confirm, or by the same person.
    """
    if end < start:
        raise BadInput("the last day is before the first", value=f"{start} to {end}")
    if end - start > LONGEST:
        raise BadInput("more than a year", value=f"{start} to {end}", allowed="up to 366 days")
    mill, store = opened.mill, opened.store
    agreed.payment_rule(mill.settings)
    person = who or login()
    acts = issue or confirm
    run = _run(opened, start, end, kept and not acts, on, reprice)
    if not run.growers:
        raise BadInput("no cane of any grower in these days", value=f"{start} to {end}")
    if grower is not None and grower not in run.growers:
        raise UnknownName("grower", grower, run.growers)
    wanted = run.growers if grower is None else [grower]
    if not acts:
        return [_shown(run, name) for name in wanted]
    names = names_of(store, mill.calendar, (start, end))
    made = {name: _made(run, names, name) for name in wanted}
    fresh = {name: one for name, one in made.items() if one is not None}
    proposal = None
    if (given := mill.settings.payment) and given.second_person:
        if not confirm:
            _propose(run, fresh, person)
            return [_shown(run, name) for name in wanted]
        proposal = _proposed(run, fresh, person)
    elif confirm:
        raise BadInput("nothing waits for a second person", where="mill.toml: payment",
                       value="second_person = false", todo="Issue it")  # fmt: skip
    if fresh:
        _issue(run, fresh, person, proposal)
    newest = {s.grower: s for s in store.ask(cane_issued.issued, start, end)
              if (s.start, s.end) == (start, end)}  # fmt: skip
    return [answer_of(newest[name]) if name in newest else _shown(run, name)
            for name in wanted]  # fmt: skip


def _run(
    opened: OpenMill, start: date, end: date, kept: bool, on: date | None, reprice: str
) -> _Run:
    mill, store = opened.mill, opened.store
    rule = agreed.payment_rule(mill.settings)
    within = Period(mill.calendar.start_of(start), mill.calendar.period(end).end)
    if kept:
        answers = [dict(r.answer) for r in store.ask(newest_results, KIND, within)]
    else:
        # a consignment that ran over from the day before was analysed then
        wide = Period(mill.calendar.start_of(start - DAY), within.end)
        every = answers_of(opened, days_with_cane(opened, wide))
        answers = [a for a in every if a["date"] >= start.isoformat()]
        firsts = [a.start for a in rule.allotments if a.start < start <= a.end]
        if firsts:  # what was delivered of an allotment before
            wide = Period(mill.calendar.start_of(min(firsts)), within.start)
            answers_of(opened, days_with_cane(opened, wide))
    items = [item for answer in answers for item in pay_items(answer)]
    marks: dict[str, dict[str, str]] = {}
    for answer in answers:
        for name, (_, mark) in pay_marks(answer).items():
            marks.setdefault(name, {})[answer["date"]] = mark
    before = store.ask(cane_issued.issued, start, end)
    now = means_of(_compared(opened, items, rule, end), rule)
    means = now if reprice else _frozen_means(before, start, end, rule) or now
    if on is None:
        newest = store.ask(stored_cane.newest, "tip") if rule.advances else None
        on = end if newest is None else max(end, mill.calendar.day_of(newest))
    return _Run(opened, start, end, rule, items, marks, before, means, now, on,
                reprice)  # fmt: skip


def _compared(
    opened: OpenMill, items: Sequence[PayItem], rule: PaymentRule, end: date
) -> Sequence[PayItem]:
    """The cane whose mean relative pay is compared with: of the days, or of the season to them."""
    if rule.relative == "none" or rule.relative_over == "days":
        return items
    calendar = opened.mill.calendar
    first = calendar.first_of_season(end)
    season = Period(calendar.start_of(first), calendar.period(end).end)
    return [i for r in opened.store.ask(newest_results, KIND, season) for i in pay_items(r.answer)]


def _frozen_means(
    before: Iterable[IssuedStatement], start: date, end: date, rule: PaymentRule
) -> dict[str, Decimal | None] | None:
    """Means that the first statement of just these days was made with, of any grower."""
    same = [b for b in before if (b.start, b.end) == (start, end)]
    if not same or rule.relative == "none":
        return None
    content = json.loads(min(same, key=lambda b: b.issued).content)
    means = content.get("means") or {"": content.get("mill_week")}
    return {name: None if mean is None else Decimal(mean) for name, mean in means.items()}


def _statement(run: _Run, grower: str) -> StatementContent:
    """What is to be paid now, less what was issued for the same days."""
    before = run.earlier(grower)
    rule = run.rule
    if before and not run.reprice:
        frozen = _frozen_terms(before[-1])
        rule = rule if frozen is None else settled_by(frozen, rule)
    earlier = [(one.name, Decimal(one.cents) / 100) for one in before]
    delivered = _delivered(run, grower, rule)
    made = make_statement(grower, run.start, run.end, run.items, rule, run.means, earlier, run.on,
                          delivered)  # fmt: skip
    rests_on = {of_allotment(start): str(kg) for (start, _), kg in delivered.items()}
    return made.told({**run.marks.get(grower, {}), **rests_on})


def _frozen_terms(one: IssuedStatement) -> PaymentRule | None:
    terms = json.loads(one.content).get("terms")
    return None if terms is None else rule_of(terms)


def _delivered(run: _Run, grower: str, rule: PaymentRule) -> dict[tuple[date, date], int]:
    """Cane to be paid in the days of each allotment before these days [kg], issued or not."""
    found, calendar = {}, run.opened.mill.calendar
    for one in (a for a in rule.allotments if a.grower == grower and a.start < run.start):
        end = min(one.end + DAY, run.start)
        within = Period(calendar.start_of(one.start), calendar.start_of(end))
        days = days_in_short(run.opened.store, within)
        found[one.start, one.end] = sum(d["pay"].get(grower, (0,))[0] for d in days)
    return found


def of_allotment(start: object) -> str:
    """The name under which a statement keeps what of an allotment was delivered before it."""
    return f"allotment from {start}"


def _content(run: _Run, grower: str) -> StatementContent:
    """A statement with what it changes of the one before, in full words."""
    made = _statement(run, grower)
    before = run.earlier(grower)
    if not before:
        return made
    changed = adjustments(json.loads(before[-1].content), made)
    why = reasons_of(run.opened.store, run.opened.mill.calendar, changed, before[-1],
                     made.terms, run.reprice)  # fmt: skip
    return replace(made, adjustments=why)


def _changed(run: _Run, grower: str, content: StatementContent) -> bool:
    """Whether a statement is to be issued: there was none, or it pays something else."""
    before = run.earlier(grower)
    if not before or content.adjustments:
        return True
    lines = json.loads(before[-1].content)["lines"]
    paid = [line["loads"] for line in lines if "loads" in line]
    own = [line.loads for line in content.lines if isinstance(line, CaneLineResult)]
    return bool(paid) and paid != own  # an older program named no bins


def _made(run: _Run, names: Names, grower: str) -> str | None:
    """The text of a statement that is to be issued, in the grower's own words; None when what
    was issued still says all."""
    content = _content(run, grower)
    if not _changed(run, grower, content):
        return None
    return canonical(_in_own_words(run, names, grower, to_json(content)))


def _in_own_words(run: _Run, names: Names, grower: str, content: dict[str, Any]) -> Any:
    """What the grower may read: a statement goes to him, whatever person asks for it."""
    paid = {line["consignment"] for b in run.earlier(grower)
            for line in json.loads(b.content)["lines"]} - {""}  # fmt: skip
    return own_words(content, names.of_others(grower, paid))


def _propose(run: _Run, fresh: Mapping[str, str], who: str) -> None:
    digests = {name: digest_of_bytes(text.encode()) for name, text in fresh.items()}
    if not digests:
        return
    with run.opened.store.writing(who) as transaction:
        transaction.propose_statements(
            Proposal(0, run.start, run.end, digests, who, datetime.now(UTC))
        )


def _proposed(run: _Run, fresh: Mapping[str, str], who: str) -> int:
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


def _issue(run: _Run, texts: Mapping[str, str], who: str, proposal: int | None) -> None:
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
    run: _Run, grower: str, text: str, who: str, proposed: tuple[int | None, str]
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


def _shown(run: _Run, grower: str) -> dict[str, Any]:
    """A statement as it would be issued now, with what stands and what later changes would do."""
    content = _content(run, grower)
    before = run.earlier(grower)
    if before and not _changed(run, grower, content):
        return answer_of(before[-1]) | {"later": _later(run, grower, before[-1])}
    later = _later(run, grower, before[-1]) if before else []
    stands = _issued_words(before[-1]) if before else None
    made: dict[str, Any] = to_json(content)
    return made | {"issued": None, "stands": stands, "later": later}


def _later(run: _Run, grower: str, one: IssuedStatement) -> list[str]:
    """What changed since a statement was issued and does not price its days again."""
    frozen = _frozen_terms(one)
    told = [] if frozen is None else not_applied(frozen, run.rule, grower)
    for name, mean in sorted(run.means.items()):
        now = run.means_now.get(name)
        if mean is not None and now is not None and mean != now:
            other = make_statement(grower, run.start, run.end, run.items,
                                   frozen or run.rule, run.means_now, (), run.on)  # fmt: skip
            own = make_statement(grower, run.start, run.end, run.items, frozen or run.rule,
                                 run.means, (), run.on)  # fmt: skip
            whose = f" of {name}" if name else ""
            told.append(f"mean{whose}: {mean} was issued, {now} now, which would "
                        f"change this statement by {other.total - own.total}")  # fmt: skip
    return told


def _issued_words(one: IssuedStatement) -> dict[str, Any]:
    at = one.issued.isoformat().replace("+00:00", "Z")
    words = IssuedWords(one.number, at, one.who, one.proposed, one.digest, dict(one.files))
    told: dict[str, Any] = to_json(words)
    return told


def answer_of(one: IssuedStatement, found: dict[str, Any] | None = None) -> dict[str, Any]:
    """A frozen statement as it was issued; `found` is its content where it is read already."""
    found = json.loads(one.content) if found is None else found
    old: dict[str, Any] = {
        "adjustments": [],
        "refused": [],
        "formula": [],
        "means": {},
        "season_figures": {},
    }
    return old | found | {"issued": _issued_words(one), "stands": None, "later": []}


def issued_statements(opened: OpenMill, grower: str | None = None) -> list[dict[str, Any]]:
    """Frozen statements, of one grower where one is named."""
    return [answer_of(one) for one in opened.store.ask(cane_issued.issued, grower=grower)]


def week_of(mill: Mill, day: date) -> tuple[date, date]:
    """The mill's week that holds a day."""
    from ratoon.base.clock import WEEKDAYS

    first = WEEKDAYS.index(mill.calendar.week_start)
    start = day - timedelta(days=(day.weekday() - first) % 7)
    return start, start + timedelta(days=6)
