"""A grower's statement: one line for each thing paid or kept, exact, adding to the total.

A statement once issued is frozen; what changes later is a further statement that starts from what
was paid. The supply agreement decides; the tool shows its formula, constants and rounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal, localcontext

from ratoon.base.errors import BadInput
from ratoon.cane.charged import beyond, charges
from ratoon.cane.lines import Held, PayItem, StatementLine
from ratoon.cane.paid import amount_of, figure_of, price_per_tonne, relative_figure
from ratoon.cane.payment import PaymentRule
from ratoon.cane.records import Analysis
from ratoon.cane.statement_result import (
    CaneLineResult,
    HeldResult,
    LineResult,
    RefusedResult,
    StatementContent,
)
from ratoon.cane.terms import terms_of
from ratoon.laboratory.rounding import rounded

MEAN_DIGITS = 6
CAUTION = (
    "The cane supply agreement decides. This statement shows its formula, constants and rounding "
    "as the mill entered them; ask before relying on a held or estimated figure."
)
Means = Mapping[str, Decimal | None]
"""Means that relative pay is compared with, by district or group; "" for the whole mill's."""


@dataclass(frozen=True, slots=True)
class Statement:
    """What one grower is paid for a stretch of mill days."""

    grower: str
    start: date
    end: date
    lines: tuple[StatementLine, ...]
    held: tuple[Held, ...]
    rule: PaymentRule
    means: Means
    estimated: bool

    @property
    def mill_week(self) -> Decimal | None:
        """The whole mill's mean of the days [per cent]; None where pay is not relative to it."""
        return self.means.get("")

    @property
    def total(self) -> Decimal:
        """Sum of the lines, to the cent."""
        return sum((line.amount for line in self.lines), Decimal("0.00"))

    @property
    def kilograms(self) -> int:
        """Cane paid [kg]."""
        return sum(line.kilograms for line in self.lines if line.kind == "cane")

    def told(self, rests_on: Mapping[str, str]) -> StatementContent:
        """The statement as it is frozen, every decimal as text; it changes none before it."""
        rule = self.rule
        priced = rule.of_grower(self.grower, self.end)
        return StatementContent(
            self.grower, self.start.isoformat(), self.end.isoformat(), rule.name, rule.form,
            rule.relative, _texts(priced.constants), _text(rule.season_figure),
            _texts(rule.season_figures), _text(self.mill_week), _texts(self.means),
            tuple(rule.formula()), terms_of(rule, self.grower), rule.rounding_text(),
            rule.currency, self.estimated, self.kilograms, tuple(map(_line, self.lines)),
            tuple(HeldResult(h.consignment, h.kilograms, h.bins, h.reasons)
                  for h in self.held if h.bins or h.kilograms or h.reasons),
            tuple(RefusedResult(h.consignment, r.tag, r.kilograms, r.reason)
                  for h in self.held for r in h.refused),
            str(self.total), CAUTION, dict(rests_on), (),
        )  # fmt: skip


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _texts(given: Means) -> dict[str, str]:
    return {name: str(value) for name, value in sorted(given.items()) if value is not None}


def _line(line: StatementLine) -> LineResult:
    told = (
        line.kind, line.text, None if line.day is None else line.day.isoformat(),
        line.consignment, line.kilograms, line.method, _text(line.figure), _text(line.relative),
        _text(line.price), str(line.amount), line.working,
    )  # fmt: skip
    return CaneLineResult(*told, dict(line.loads)) if line.kind == "cane" else LineResult(*told)


def week_mean(items: Iterable[PayItem], rule: PaymentRule) -> Decimal | None:
    """The mill's mean figure over all growers [per cent], weighted by kilograms; None if none.

    Rounded half to even to 6 digits, whatever the rule: it is a mean, not a line.
    """
    pairs = [(i.kilograms, figure_of(i.analysis, rule)) for i in items if i.analysis is not None]
    mass = sum(kg for kg, _ in pairs)
    if not mass:
        return None
    with localcontext(prec=34, rounding=ROUND_HALF_EVEN):
        total = sum((kg * figure for kg, figure in pairs), Decimal(0))
        return rounded(total / mass, MEAN_DIGITS)


def means_of(items: Iterable[PayItem], rule: PaymentRule) -> dict[str, Decimal | None]:
    """Means by district or group, and under "" the whole mill's; see `week_mean`."""
    given = list(items)
    names = {rule.peers(i.supply) for i in given} - {""}
    found = {name: week_mean([i for i in given if rule.peers(i.supply) == name], rule)
             for name in sorted(names)}  # fmt: skip
    return {"": week_mean(given, rule), **found}


def make_statement(
    grower: str,
    start: date,
    end: date,
    items: Sequence[PayItem],
    rule: PaymentRule,
    means: Means | Decimal | None,
    earlier: Sequence[tuple[str, Decimal]] = (),
    on: date | None = None,
    delivered: Mapping[tuple[date, date], int] | None = None,
) -> Statement:
    """A grower's statement for mill days `start` to `end`, both in it.

    Parameters
    ----------
    items : of this grower; others are left out. means : of `means_of` over all growers, or the
        whole mill's alone.
    earlier : (number, total) of statements already issued to the grower for the same days; they
        are taken off, so that nothing is paid twice.
    on : mill day by which advances are due; `end` when left out. delivered : cane [kg] paid in
        the days of an allotment before `start`.
    """
    own = sorted(
        (i for i in items if i.grower == grower and start <= i.day <= end),
        key=lambda i: (i.day, i.consignment),
    )
    by = dict(means) if isinstance(means, Mapping) else {"": means}
    paid = [i for i in own if i.analysis is not None and i.kilograms > 0]
    cane = [_cane_line(i, i.analysis, rule, by) for i in paid if i.analysis is not None]
    lines = [*cane, *beyond(cane, rule, grower, delivered or {})]
    pay = sum((line.amount for line in lines), Decimal("0.00"))
    lines += charges(pay, list(zip(cane, paid, strict=True)), rule, on or end)
    lines += [
        StatementLine("earlier", f"paid by statement {number}", -total) for number, total in earlier
    ]
    held = tuple(
        Held(i.consignment, i.held_kg + (i.kilograms if i.analysis is None else 0), i.held_bins,
             i.reasons or (() if i.analysis is not None and not i.held_bins else ("no analysis",)),
             i.refused)
        for i in own
        if i.held_kg or i.held_bins or i.refused or (i.analysis is None and i.kilograms)
    )  # fmt: skip
    estimated = rule.relative != "none" and not rule.final
    return Statement(grower, start, end, tuple(lines), held, rule, by, estimated)


def _cane_line(item: PayItem, one: Analysis, rule: PaymentRule, means: Means) -> StatementLine:
    priced = rule.of_grower(item.grower, item.day)
    figure = figure_of(one, priced)
    try:
        mean, season = means.get(priced.peers(item.supply)), priced.season_of(item.supply)
    except BadInput as error:
        raise BadInput(f"consignment {item.consignment}: {error}") from None
    relative = relative_figure(figure, mean, priced, season)
    price = price_per_tonne(relative, priced)
    amount = amount_of(item.kilograms, price, priced)
    tonnes = Decimal(item.kilograms) / 1000
    steps = _relative_step(figure, relative, mean, season, priced)
    steps += [_price_step(relative, price, priced), f"{tonnes} t x {price} = {amount}"]
    return StatementLine(
        "cane",
        f"cane of consignment {item.consignment}",
        amount,
        item.day,
        item.consignment,
        item.kilograms,
        one.method,
        figure,
        relative if rule.relative != "none" else None,
        price,
        "; ".join(steps),
        item.loads,
    )


def _relative_step(
    figure: Decimal, relative: Decimal, mean: Decimal | None, season: Decimal | None,
    rule: PaymentRule,
) -> list[str]:  # fmt: skip
    if rule.relative == "additive":
        return [f"{figure} - {mean} + {season} = {relative}"]
    if rule.relative == "multiplicative":
        return [f"{figure} x {season} / {mean} = {relative}"]
    return []


def _price_step(relative: Decimal, price: Decimal, rule: PaymentRule) -> str:
    """The equation of the price with its values."""
    c, paid_on, floor = rule.constants, relative, rule.floor_figure
    if rule.minimum_figure is not None and relative < rule.minimum_figure:
        return f"{relative} is below {rule.minimum_figure}: {price} per t"
    raised = ""
    if floor is not None and relative < floor:
        paid_on, raised = floor, f"{relative} is paid as {floor}: "
    end = f" = {price} per t"
    if price == rule.floor_price:
        end = f", not below {rule.floor_price} per t"
    if rule.form == "sugar price":
        return (
            f"{raised}{c['sugar_price']} x {c['recovery']} x ({paid_on} - {c['base_ccs']})/100 "
            f"+ {c['constant']}{end}"
        )
    if rule.form == "recoverable value":
        return f"{raised}{c['value_price']} x {paid_on}/100{end}"
    return f"{raised}{c['price_per_kg']} x {paid_on} x 10{end}"
