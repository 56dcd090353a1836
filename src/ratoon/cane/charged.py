"""What a statement takes off or adds: cane beyond an allotment, advances, levies, allowances."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from ratoon.cane.lines import PayItem, StatementLine
from ratoon.cane.paid import amount_of
from ratoon.cane.payment import CENT, Allotment, Charge, PaymentRule
from ratoon.cane.statement_result import (
    LineKind,
)
from ratoon.laboratory.rounding import rounded


def beyond(
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


def charges(
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
