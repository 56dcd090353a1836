"""A grower's statement: one line for each thing paid or kept, exact, adding to the total.

A statement once issued is frozen; what changes later is a further statement that starts from what
was paid. The supply agreement decides; the tool shows its formula, constants and rounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from typing import Any, Literal

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cane.payment import (
    CENT,
    Allotment,
    Charge,
    PaymentRule,
    Supply,
    amount_of,
    figure_of,
    price_per_tonne,
    relative_figure,
)  # fmt: skip
from ratoon.cane.records import Analysis
from ratoon.cane.statement_result import (
    Adjustment,
    CaneLineResult,
    ChangedLine,
    HeldResult,
    LineKind,
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
class Refused:
    """A bin that a person decided not to pay, with the reason."""

    tag: str
    kilograms: int
    reason: str


@dataclass(frozen=True, slots=True)
class PayItem:
    """One consignment of one day ready for pay: whole kilograms of bins that are not held.

    `held_kg`, `reasons`: what waits for a person, and why. `analysis` None: nothing is paid yet.
    `loads`: key and kilograms of each bin that is to be paid. `refused`: bins that are not.
    """

    consignment: str
    grower: str
    day: date
    kilograms: int
    analysis: Analysis | None
    held_kg: int = 0
    held_bins: int = 0
    reasons: tuple[str, ...] = ()
    loads: tuple[tuple[str, int], ...] = ()
    refused: tuple[Refused, ...] = ()
    supply: Supply = Supply()


@dataclass(frozen=True, slots=True)
class StatementLine:
    """One line; `amount` is money to the cent, and `working` says how it was made."""

    kind: LineKind
    text: str
    amount: Decimal
    day: date | None = None
    consignment: str = ""
    kilograms: int = 0
    method: str = ""
    figure: Decimal | None = None
    relative: Decimal | None = None
    price: Decimal | None = None
    working: str = ""
    loads: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Held:
    """Cane of a consignment whose payment waits, and its bins that are not paid at all."""

    consignment: str
    kilograms: int
    bins: int
    reasons: tuple[str, ...]
    refused: tuple[Refused, ...] = ()


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
    lines = [*cane, *_beyond(cane, rule, grower, delivered or {})]
    pay = sum((line.amount for line in lines), Decimal("0.00"))
    lines += _charges(pay, list(zip(cane, paid, strict=True)), rule, on or end)
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


def _beyond(
    lines: Sequence[StatementLine], rule: PaymentRule, grower: str,
    delivered: Mapping[tuple[date, date], int],
) -> list[StatementLine]:  # fmt: skip
    """What is taken off for cane beyond an allotment, in order of delivery."""
    found = []
    for one in (a for a in rule.allotments if a.grower == grower):
        room, over, off = one.kilograms - delivered.get((one.start, one.end), 0), 0, Decimal(0)
        for line in lines:
            if line.day is None or not one.start <= line.day <= one.end:
                continue
            beyond = line.kilograms - min(max(room, 0), line.kilograms)
            room -= line.kilograms
            over += beyond
            off += line.amount * beyond / line.kilograms * (1 - rule.beyond_allotment)
        if over:
            found.append(_taken_off(one, over, rounded(off, CENT, rule.rounding), rule))
    return found


def _taken_off(one: Allotment, over: int, off: Decimal, rule: PaymentRule) -> StatementLine:
    text = f"{Decimal(over) / 1000} t beyond the allotment of {Decimal(one.kilograms) / 1000} t "
    text += f"from {one.start} to {one.end}"
    working = f"pay of that cane x {1 - rule.beyond_allotment} = {off}"
    return StatementLine("beyond", text, -off, working=working)


def adjustments(before: Mapping[str, Any], after: StatementContent) -> list[Adjustment]:
    """What a further statement changes, consignment by consignment and charge by charge.

    Parameters
    ----------
    before : content of the statement before, as it was frozen, for the same grower and days.
    """
    lines = [_by_subject(before["lines"]), _by_subject(to_json(after.lines))]
    found = []
    for key in sorted({*lines[0], *lines[1]}):
        old, new = (side.get(key) for side in lines)
        if old != new:
            apart = Decimal(new.amount if new else 0) - Decimal(old.amount if old else 0)
            kind, day, subject = key
            found.append(Adjustment(kind, day or None, subject, old, new, str(apart)))
    return found


def _by_subject(
    lines: Iterable[Mapping[str, Any]],
) -> dict[tuple[Literal["cane", "other"], str, str], ChangedLine]:
    shown = ("kilograms", "figure", "relative", "price", "amount")
    found = {}
    for line in lines:
        if line["kind"] != "earlier":
            subject = line["consignment"] or line["text"].partition(":")[0]
            kind: Literal["cane", "other"] = "cane" if line["kind"] == "cane" else "other"
            told = ChangedLine(**{name: line[name] for name in shown})
            found[kind, line["day"] or "", subject] = told
    return found


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


def _charges(
    pay: Decimal, cane: Sequence[tuple[StatementLine, PayItem]], rule: PaymentRule, on: date
) -> list[StatementLine]:
    """What is kept until settlement, then levies and allowances, each to the cent."""
    lines = []
    advance = rule.advance_on(on)
    kept = rounded(pay * (1 - advance), CENT, rule.rounding)
    if kept:
        text = f"kept until settlement: advance is {100 * advance} % of {pay}"
        lines.append(StatementLine("retained", text, -kept, working=f"{pay} x {1 - advance}"))
    for charge in rule.charges:
        mine = [(line, item) for line, item in cane if charge.applies(item.supply, item.day)]
        if mine or not charge.whose:
            lines.append(_charge(charge, pay, mine, rule))
        lines += _not_applied(charge, [item for _, item in cane])
    return lines


def _not_applied(charge: Charge, paid: Sequence[PayItem]) -> list[StatementLine]:
    """A line that says of which cane it is not known whether a charge is for it."""
    why: dict[str, list[str]] = {}
    for item in paid:
        if unknown := charge.unknown(item.supply, item.day):
            why.setdefault(unknown, []).append(item.consignment)
    kind: LineKind = "levy" if charge.rate < 0 else "allowance"
    return [
        StatementLine(kind, f"not applied, {charge.name}: {what} not known of {', '.join(names)}",
                      Decimal("0.00"))
        for what, names in why.items()
    ]  # fmt: skip


def _charge(
    charge: Charge, pay: Decimal, mine: Sequence[tuple[StatementLine, PayItem]], rule: PaymentRule
) -> StatementLine:
    kilograms = sum(item.kilograms for _, item in mine)
    if charge.basis == "share":
        of = sum((line.amount for line, _ in mine), Decimal(0)) if charge.whose else pay
        amount = rounded(of * charge.rate, CENT, rule.rounding)
        working = f"{of} x {charge.rate} = {amount}"
    elif charge.basis == "per tonne km":
        work = sum((item.kilograms * (item.supply.distance or 0) for _, item in mine), Decimal(0))
        amount = rounded(work * charge.rate / 1000, CENT, rule.rounding)
        working = f"{work / 1000} t km x {charge.rate} = {amount}"
    else:
        amount = amount_of(kilograms, charge.rate, rule)
        working = f"{Decimal(kilograms) / 1000} t x {charge.rate} = {amount}"
    kind: LineKind = "levy" if charge.rate < 0 else "allowance"
    text = f"{charge.name} ({charge.whose})" if charge.whose else charge.name
    return StatementLine(kind, text, amount, working=working)
