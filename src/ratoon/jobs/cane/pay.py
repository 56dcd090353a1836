"""Growers' statements: made from the kept days, shown, and issued once.

Issuing twice pays once: a statement for the same grower and days is issued again only when it
differs, and then as a further one that takes off what was issued before. The terms and the mill's
mean of the first one stay: a price or a reading that changes later prices no issued days again.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.adjustments import adjustments
from ratoon.cane.payment import PaymentRule
from ratoon.cane.statement import make_statement
from ratoon.cane.statement_result import CaneLineResult, StatementContent
from ratoon.cane.terms import not_applied, rule_of, settled_by
from ratoon.jobs.cane.days import DAY
from ratoon.jobs.cane.issue import issue_all, propose, proposed_before
from ratoon.jobs.cane.issued import answer_of, issued_words
from ratoon.jobs.cane.own import Names, names_of, own_words
from ratoon.jobs.cane.pay_run import PayRun, run_of
from ratoon.jobs.cane.season import days_in_short
from ratoon.jobs.cane.statement_reasons import reasons_of
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane.plain import IssuedStatement
from ratoon.store.chain.digest import canonical
from ratoon.store.chain.events import login

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

LONGEST = timedelta(days=366)


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
    run = run_of(opened, start, end, kept and not acts, on, reprice)
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
            propose(run, fresh, person)
            return [_shown(run, name) for name in wanted]
        proposal = proposed_before(run, fresh, person)
    elif confirm:
        raise BadInput("nothing waits for a second person", where="mill.toml: payment",
                       value="second_person = false", todo="Issue it")  # fmt: skip
    if fresh:
        issue_all(run, fresh, person, proposal)
    newest = {s.grower: s for s in store.ask(cane_issued.issued, start, end)
              if (s.start, s.end) == (start, end)}  # fmt: skip
    return [answer_of(newest[name]) if name in newest else _shown(run, name)
            for name in wanted]  # fmt: skip


def _statement(run: PayRun, grower: str) -> StatementContent:
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


def _delivered(run: PayRun, grower: str, rule: PaymentRule) -> dict[tuple[date, date], int]:
    """Cane to be paid in the days of each allotment before these days [kg], issued or not."""
    found, calendar = {}, run.opened.mill.calendar
    for one in (a for a in rule.allotments if a.grower == grower and a.start < run.start):
        end = min(one.end + DAY, run.start)
        within = Period(calendar.start_of(one.start), calendar.start_of(end))
        days = days_in_short(run.opened.store, within)
        found[one.start, one.end] = sum(d.pay.get(grower, (0, ""))[0] for d in days)
    return found


def of_allotment(start: object) -> str:
    """The name under which a statement keeps what of an allotment was delivered before it."""
    return f"allotment from {start}"


def _content(run: PayRun, grower: str) -> StatementContent:
    """A statement with what it changes of the one before, in full words."""
    made = _statement(run, grower)
    before = run.earlier(grower)
    if not before:
        return made
    changed = adjustments(json.loads(before[-1].content), made)
    why = reasons_of(run.opened.store, run.opened.mill.calendar, changed, before[-1],
                     made.terms, run.reprice)  # fmt: skip
    return replace(made, adjustments=why)


def _changed(run: PayRun, grower: str, content: StatementContent) -> bool:
    """Whether a statement is to be issued: there was none, or it pays something else."""
    before = run.earlier(grower)
    if not before or content.adjustments:
        return True
    lines = json.loads(before[-1].content)["lines"]
    paid = [line["loads"] for line in lines if "loads" in line]
    own = [line.loads for line in content.lines if isinstance(line, CaneLineResult)]
    return bool(paid) and paid != own  # an older program named no bins


def _made(run: PayRun, names: Names, grower: str) -> str | None:
    """The text of a statement that is to be issued, in the grower's own words; None when what
    was issued still says all."""
    content = _content(run, grower)
    if not _changed(run, grower, content):
        return None
    return canonical(_in_own_words(run, names, grower, to_json(content)))


def _in_own_words(run: PayRun, names: Names, grower: str, content: dict[str, Any]) -> Any:
    """What the grower may read: a statement goes to him, whatever person asks for it."""
    paid = {line["consignment"] for b in run.earlier(grower)
            for line in json.loads(b.content)["lines"]} - {""}  # fmt: skip
    return own_words(content, names.of_others(grower, paid))


def _shown(run: PayRun, grower: str) -> dict[str, Any]:
    """A statement as it would be issued now, with what stands and what later changes would do."""
    content = _content(run, grower)
    before = run.earlier(grower)
    if before and not _changed(run, grower, content):
        return answer_of(before[-1]) | {"later": _later(run, grower, before[-1])}
    later = _later(run, grower, before[-1]) if before else []
    stands = issued_words(before[-1]) if before else None
    made: dict[str, Any] = to_json(content)
    return made | {"issued": None, "stands": stands, "later": later}


def _later(run: PayRun, grower: str, one: IssuedStatement) -> list[str]:
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


def week_of(mill: Mill, day: date) -> tuple[date, date]:
    """The mill's week that holds a day."""
    from ratoon.base.clock import WEEKDAYS

    first = WEEKDAYS.index(mill.calendar.week_start)
    start = day - timedelta(days=(day.weekday() - first) % 7)
    return start, start + timedelta(days=6)
