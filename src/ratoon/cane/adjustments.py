"""What a further statement changes of the one before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Literal

from ratoon.base.as_json import to_json
from ratoon.cane.statement_result import (
    Adjustment,
    ChangedLine,
    StatementContent,
)


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
