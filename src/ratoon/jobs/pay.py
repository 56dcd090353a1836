"""Growers' statements: made from the kept days, shown, and issued once.

Issuing twice pays once: a statement for the same grower and days is issued again only when it
differs, and then as a further one that takes off what was issued before.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.payment import PaymentRule
from ratoon.cane.statement import PayItem, Statement, make_statement, week_mean
from ratoon.jobs import mills
from ratoon.jobs.cane import KIND, answers_of, days_with_cane
from ratoon.jobs.cane_answer import pay_items
from ratoon.store import Store
from ratoon.store import cane as stored_cane
from ratoon.store.answers import newest_results
from ratoon.store.cane_records import IssuedStatement
from ratoon.store.chain import login
from ratoon.store.digest import digest_of_bytes

LONGEST = timedelta(days=366)


def pay(
    mill_dir: Path, start: date, end: date, grower: str | None = None, issue: bool = False,
    who: str = "", kept: bool = False, opened: Store | None = None,
) -> list[dict[str, Any]]:  # fmt: skip
    """Statements of one grower, or of all, for mill days `start` to `end`, both in it.

    Parameters
    ----------
    issue : freeze them; what was issued already and has not changed stays as it is.
    kept : show from the newest kept days without asking whether they are still the newest.

    Raises
    ------
    BadInput : no cane in these days, a grower without cane, days that overlap issued ones.
    """
    if end < start:
        raise BadInput("the last day is before the first", value=f"{start} to {end}")
    if end - start > LONGEST:
        raise BadInput("more than a year", value=f"{start} to {end}", allowed="up to 366 days")
    mill = mills.mill_of(mill_dir)
    rule = agreed.payment_rule(mill.settings)  # type: ignore[attr-defined]
    with mills.records_of(mill_dir, opened) as store:
        within = Period(mill.calendar.start_of(start), mill.calendar.period(end).end)
        if kept and not issue:
            answers = [dict(r.answer) for r in store.ask(newest_results, KIND, within)]
        else:
            answers = answers_of(mill, store, days_with_cane(mill, store, within))
        items = [item for answer in answers for item in pay_items(answer)]
        growers = sorted({i.grower for i in items if i.grower})
        if not growers:
            raise BadInput("no cane of any grower in these days", value=f"{start} to {end}")
        if grower is not None and grower not in growers:
            raise UnknownName("grower", grower, growers)
        wanted = growers if grower is None else [grower]
        mean = week_mean(items, rule)
        out = []
        for name in wanted:
            if issue:
                out.append(_issue(store, name, start, end, items, rule, mean, who))
            else:
                before = store.ask(stored_cane.issued, start, end, name)
                made = _statement(before, name, start, end, items, rule, mean)
                out.append(_answer(made, None))
        return out


def _statement(
    before: Sequence[IssuedStatement], grower: str, start: date, end: date,
    items: Sequence[PayItem], rule: PaymentRule, mean: Decimal | None,
) -> Statement:  # fmt: skip
    """What is to be paid now, less what was issued for the same days."""
    for one in before:
        if (one.start, one.end) != (start, end):
            raise BadInput(
                f"grower {grower} has a statement for {one.start} to {one.end}",
                value=f"{start} to {end}",
                allowed="the same days, or days that no statement touches",
            )
    earlier = [
        (f"{one.grower}-{one.start}-{one.end}-{one.number}", Decimal(one.cents) / 100)
        for one in before
    ]
    return make_statement(grower, start, end, items, rule.of_grower(grower), mean, earlier)


def _issue(
    store: Store, grower: str, start: date, end: date, items: Sequence[PayItem],
    rule: PaymentRule, mean: Decimal | None, who: str,
) -> dict[str, Any]:  # fmt: skip
    """Freeze one grower's statement, in one transaction that sees what was issued before."""
    with store.writing(who) as transaction:
        before = transaction.issued(start, end, grower)
        made = _statement(before, grower, start, end, items, rule, mean)
        if before and made.total == 0:
            # nothing is owed beyond what stands: the newest statement is the answer
            return _issued_answer(before[-1])
        content = json.dumps(made.as_json(), sort_keys=True, ensure_ascii=False,
                             separators=(",", ":"))  # fmt: skip
        one = IssuedStatement(
            grower, start, end, len(before) + 1, int(made.total * 100),
            digest_of_bytes(content.encode()), content, who or login(), datetime.now(UTC),
        )  # fmt: skip
        transaction.issue_statement(one)
    return _issued_answer(one)


def _answer(made: Statement, issued: dict[str, Any] | None) -> dict[str, Any]:
    return made.as_json() | {"issued": issued}


def _issued_answer(one: IssuedStatement) -> dict[str, Any]:
    """A frozen statement as it was issued."""
    found: dict[str, Any] = json.loads(one.content)
    issued = {"number": one.number, "at": one.issued.isoformat().replace("+00:00", "Z"),
              "who": one.who, "digest": one.digest}  # fmt: skip
    return found | {"issued": issued}


def issued_statements(mill_dir: Path, grower: str | None = None) -> list[dict[str, Any]]:
    """Frozen statements, of one grower where one is named."""
    with mills.store_of(mill_dir) as store:
        return [_issued_answer(one) for one in store.ask(stored_cane.issued, grower=grower)]


def week_of(mill: Any, day: date) -> tuple[date, date]:
    """The mill's week that holds a day."""
    from ratoon.base.clock import WEEKDAYS

    first = WEEKDAYS.index(mill.calendar.week_start)
    start = day - timedelta(days=(day.weekday() - first) % 7)
    return start, start + timedelta(days=6)
