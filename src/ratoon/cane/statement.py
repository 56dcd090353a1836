"""A grower's statement: one line for each thing paid or kept, exact, adding to the total.

A statement once issued is frozen; what changes later is a further statement that starts from what
was paid. The supply agreement decides; the tool shows its formula, constants and rounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from typing import Any, Literal

from ratoon.cane.payment import (
    CENT,
    PaymentRule,
    amount_of,
    figure_of,
    price_per_tonne,
    relative_figure,
)  # fmt: skip
from ratoon.cane.records import Analysis
from ratoon.laboratory.rounding import rounded

MEAN_DIGITS = 6
CAUTION = (
    "The cane supply agreement decides. This statement shows its formula, constants and rounding "
    "as the mill entered them; ask before relying on a held or estimated figure."
)
LineKind = Literal["cane", "retained", "levy", "allowance", "earlier"]


@dataclass(frozen=True, slots=True)
class PayItem:
    """One consignment ready for pay: whole kilograms of bins that are not held.

    `held_kg`, `reasons`: what waits for a person, and why. `analysis` None: nothing is paid yet.
    """

    consignment: str
    grower: str
    day: date
    kilograms: int
    analysis: Analysis | None
    held_kg: int = 0
    held_bins: int = 0
    reasons: tuple[str, ...] = ()


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


@dataclass(frozen=True, slots=True)
class Held:
    """Cane of a consignment whose payment waits."""

    consignment: str
    kilograms: int
    bins: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Statement:
    """What one grower is paid for a stretch of mill days."""

    grower: str
    start: date
    end: date
    lines: tuple[StatementLine, ...]
    held: tuple[Held, ...]
    rule: PaymentRule
    mill_week: Decimal | None
    estimated: bool

    @property
    def total(self) -> Decimal:
        """Sum of the lines, to the cent."""
        return sum((line.amount for line in self.lines), Decimal("0.00"))

    @property
    def kilograms(self) -> int:
        """Cane paid [kg]."""
        return sum(line.kilograms for line in self.lines if line.kind == "cane")

    def as_json(self) -> dict[str, Any]:
        """The statement with every decimal as text."""
        rule = self.rule
        return {
            "grower": self.grower,
            "start": self.start.isoformat(),
            "end": self.end.isoformat(),
            "rule": rule.name,
            "form": rule.form,
            "relative": rule.relative,
            "constants": {k: str(v) for k, v in sorted(rule.constants.items())},
            "season_figure": None if rule.season_figure is None else str(rule.season_figure),
            "mill_week": None if self.mill_week is None else str(self.mill_week),
            "rounding": rule.rounding_text(),
            "currency": rule.currency,
            "estimated": self.estimated,
            "kilograms": self.kilograms,
            "lines": [_line_as_json(line) for line in self.lines],
            "held": [
                {"consignment": h.consignment, "kilograms": h.kilograms, "bins": h.bins,
                 "reasons": list(h.reasons)}
                for h in self.held
            ],
            "total": str(self.total),
            "caution": CAUTION,
        }  # fmt: skip


def _line_as_json(line: StatementLine) -> dict[str, Any]:
    def text(value: Decimal | None) -> str | None:
        return None if value is None else str(value)

    return {
        "kind": line.kind,
        "text": line.text,
        "day": None if line.day is None else line.day.isoformat(),
        "consignment": line.consignment,
        "kilograms": line.kilograms,
        "method": line.method,
        "figure": text(line.figure),
        "relative": text(line.relative),
        "price": text(line.price),
        "amount": str(line.amount),
        "working": line.working,
    }


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


def make_statement(
    grower: str,
    start: date,
    end: date,
    items: Sequence[PayItem],
    rule: PaymentRule,
    mill_week: Decimal | None,
    earlier: Sequence[tuple[str, Decimal]] = (),
) -> Statement:
    """A grower's statement for mill days `start` to `end`, both in it.

    Parameters
    ----------
    items : of this grower; others are left out. mill_week : of `week_mean` over all growers.
    earlier : (number, total) of statements already issued to the grower for the same days; they
        are taken off, so that nothing is paid twice.
    """
    own = sorted(
        (i for i in items if i.grower == grower and start <= i.day <= end),
        key=lambda i: (i.day, i.consignment),
    )
    priced = rule.of_grower(grower)
    lines = [_cane_line(i, i.analysis, priced, mill_week)
             for i in own if i.analysis is not None and i.kilograms > 0]  # fmt: skip
    pay = sum((line.amount for line in lines), Decimal("0.00"))
    kilograms = sum(line.kilograms for line in lines)
    lines += _charges(pay, kilograms, priced)
    lines += [
        StatementLine("earlier", f"paid by statement {number}", -total) for number, total in earlier
    ]
    held = tuple(
        Held(i.consignment, i.held_kg + (i.kilograms if i.analysis is None else 0), i.held_bins,
             i.reasons or ("no analysis",))
        for i in own
        if i.held_kg or i.held_bins or i.analysis is None
    )  # fmt: skip
    estimated = priced.relative != "none" and not priced.final
    return Statement(grower, start, end, tuple(lines), held, priced, mill_week, estimated)


def _cane_line(
    item: PayItem, one: Analysis, rule: PaymentRule, mill_week: Decimal | None
) -> StatementLine:
    figure = figure_of(one, rule)
    relative = relative_figure(figure, mill_week, rule)
    price = price_per_tonne(relative, rule)
    amount = amount_of(item.kilograms, price, rule)
    tonnes = Decimal(item.kilograms) / 1000
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
        _working(rule, figure, relative, price, tonnes, amount, mill_week),
    )


def _working(
    rule: PaymentRule, figure: Decimal, relative: Decimal, price: Decimal, tonnes: Decimal,
    amount: Decimal, mill_week: Decimal | None,
) -> str:  # fmt: skip
    """The line's equation with its values."""
    c, steps = rule.constants, []
    if rule.relative == "additive":
        steps.append(f"{figure} - {mill_week} + {rule.season_figure} = {relative}")
    elif rule.relative == "multiplicative":
        steps.append(f"{figure} x {rule.season_figure} / {mill_week} = {relative}")
    if rule.form == "sugar price":
        steps.append(
            f"{c['sugar_price']} x {c['recovery']} x ({relative} - {c['base_ccs']})/100 "
            f"+ {c['constant']} = {price} per t"
        )
    elif rule.form == "recoverable value":
        steps.append(f"{c['value_price']} x {relative}/100 = {price} per t")
    else:
        steps.append(f"{c['price_per_kg']} x {relative} x 10 = {price} per t")
    steps.append(f"{tonnes} t x {price} = {amount}")
    return "; ".join(steps)


def _charges(pay: Decimal, kilograms: int, rule: PaymentRule) -> list[StatementLine]:
    """What is kept until settlement, then levies and allowances, each to the cent."""
    lines = []
    kept = rounded(pay * (1 - rule.advance), CENT, rule.rounding)
    if kept:
        text = f"kept until settlement: advance is {100 * rule.advance} % of {pay}"
        lines.append(StatementLine("retained", text, -kept, working=f"{pay} x {1 - rule.advance}"))
    for charge in rule.charges:
        if charge.basis == "share":
            amount = rounded(pay * charge.rate, CENT, rule.rounding)
            working = f"{pay} x {charge.rate} = {amount}"
        else:
            amount = amount_of(kilograms, charge.rate, rule)
            working = f"{Decimal(kilograms) / 1000} t x {charge.rate} = {amount}"
        kind: LineKind = "levy" if charge.rate < 0 else "allowance"
        lines.append(StatementLine(kind, charge.name, amount, working=working))
    return lines
