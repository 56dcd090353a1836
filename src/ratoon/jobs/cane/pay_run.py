"""What the statements of some days are made from."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from ratoon.base.as_json import from_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.day_result import CaneDayResult
from ratoon.cane.lines import PayItem
from ratoon.cane.payment import PaymentRule
from ratoon.cane.statement import means_of
from ratoon.jobs.cane.answer import pay_items, pay_marks
from ratoon.jobs.cane.days import DAY, KIND, answers_of, days_with_cane
from ratoon.store.answers import newest_results
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane import kept as stored_cane
from ratoon.store.cane.plain import IssuedStatement

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill


@dataclass(frozen=True, slots=True)
class PayRun:
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


def run_of(
    opened: OpenMill, start: date, end: date, kept: bool, on: date | None, reprice: str
) -> PayRun:
    """Cane, terms and earlier statements of mill days `start` to `end`; see `pay.pay`."""
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
        for name, (_, mark) in pay_marks(from_json(CaneDayResult, answer)).items():
            marks.setdefault(name, {})[answer["date"]] = mark
    before = store.ask(cane_issued.issued, start, end)
    now = means_of(_compared(opened, items, rule, end), rule)
    means = now if reprice else _frozen_means(before, start, end, rule) or now
    if on is None:
        newest = store.ask(stored_cane.newest, "tip") if rule.advances else None
        on = end if newest is None else max(end, mill.calendar.day_of(newest))
    return PayRun(opened, start, end, rule, items, marks, before, means, now, on,
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
