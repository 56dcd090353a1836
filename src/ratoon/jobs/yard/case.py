"""A list of lots written as a case file: read strictly, ordered by what they lose, told as JSON.

Numbers of the file are taken digit by digit as they are written, so the order and its loss are
exact; the loss is told as a whole number where it is one, else as the nearest number that JSON's
usual readers know.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.plans.yard.lots import Lot, Order, order_lots
from ratoon.settings.read import tables_of

KEYS = ("lines", "hours", "lots")
KEYS_OF_A_LOT = ("name", "loss", "life")
MOST_LINES, MOST_LOTS = 1000, 100_000
LARGEST, FINEST = Decimal("1e12"), -30
"""Largest number of a case, and the power of ten of its finest digit."""
MOST_BYTES = 20_000_000


def order_case(path: Path) -> dict[str, Any]:
    """The answer to a case file: status, order and loss.

    Raises
    ------
    BadInput, UnknownName : one line: which file and key, the value, what is allowed.
    """
    lots, lines, hours = read_case(path)
    return as_json(order_lots(lots, lines, hours))


def as_json(order: Order) -> dict[str, Any]:
    """An order as plain data; slots count from 1, and a lot is done at slot x hours."""
    loss = order.loss
    return {
        "status": order.status,
        "order": [{"lot": p.lot, "line": p.line, "slot": p.slot} for p in order.placed],
        "loss": None if loss is None else int(loss) if loss.denominator == 1 else float(loss),
    }


def read_case(path: Path) -> tuple[list[Lot], int, Fraction]:
    """Lots, number of lines and length of a slot [h] of a case file."""
    where = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BadInput("is too large", where=where, allowed=f"up to {MOST_BYTES:,} bytes")
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError, ValueError) as error:
        raise BadInput(f"cannot be read: {error}", where=str(path)[:200]) from None
    case = tables_of(text, where, Decimal)
    _only(case, KEYS, where)
    lines = case["lines"]
    if isinstance(lines, bool) or not isinstance(lines, int) or not 1 <= lines <= MOST_LINES:
        raise BadInput("must be a whole number", where=f"{where}: lines", value=_shown(lines),
                       allowed=f"1 to {MOST_LINES}")  # fmt: skip
    hours = _number(case["hours"], f"{where}: hours", above=True)
    rows = case["lots"]
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise BadInput("must be tables", where=f"{where}: lots", value=_shown(rows),
                       todo="Begin each lot with a line [[lots]].")  # fmt: skip
    if len(rows) > MOST_LOTS:
        raise BadInput("are too many", where=f"{where}: lots", value=len(rows),
                       allowed=f"up to {MOST_LOTS:,}")  # fmt: skip
    lots: list[Lot] = []
    first: dict[str, int] = {}
    for number, row in enumerate(rows, start=1):
        lot = _lot(row, f"{where}: lots[{number}]")
        if lot.name in first:
            raise BadInput(f"the name stands at lots[{first[lot.name]}], too",
                           where=f"{where}: lots[{number}]: name", value=lot.name,
                           todo="Give each lot a name of its own.")  # fmt: skip
        first[lot.name] = number
        lots.append(lot)
    return lots, lines, hours


def _lot(row: Mapping[str, Any], where: str) -> Lot:
    _only(row, KEYS_OF_A_LOT, where)
    name = row["name"]
    if not isinstance(name, str) or not name.strip():
        raise BadInput("must be text in quotes, not empty", where=f"{where}: name",
                       value=_shown(name))  # fmt: skip
    return Lot(name, _number(row["loss"], f"{where}: loss"), _number(row["life"], f"{where}: life"))


def _only(table: Mapping[str, Any], keys: Collection[str], where: str) -> None:
    for key in table:
        if key not in keys:
            raise UnknownName("key", key, keys, where=where)
    for key in keys:
        if key not in table:
            raise BadInput(f"the key {key!r} is missing", where=where, allowed=", ".join(keys))


def _number(raw: Any, where: str, above: bool = False) -> Fraction:
    """A number of a case as an exact fraction."""
    least = "above 0" if above else "0 or more"
    allowed = f"a number, {least}, up to {LARGEST:.0e}, with at most {-FINEST} digits after a point"
    sound = isinstance(raw, int | Decimal) and not isinstance(raw, bool)
    if not sound or not Decimal(raw).is_finite() or not 0 <= raw <= LARGEST or (above and raw == 0):
        raise BadInput("is no such number", where=where, value=_shown(raw), allowed=allowed)
    number = Decimal(raw)
    if number and int(number.as_tuple().exponent) < FINEST:
        raise BadInput("is written too finely", where=where, value=_shown(raw), allowed=allowed)
    return Fraction(number) if number else Fraction(0)


def _shown(raw: Any) -> Any:
    return str(raw)[:80] if isinstance(raw, Decimal | list | dict) else raw
