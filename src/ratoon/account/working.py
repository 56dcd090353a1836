"""Behind each figure: its equation in words with values, its reading, and whence its doubt comes."""

from __future__ import annotations

from typing import Any

from ratoon.account.doubts import called, entered_part, reading_unit, show
from ratoon.account.figured import Figured
from ratoon.account.period import PeriodAccount
from ratoon.base.errors import UnknownName
from ratoon.base.records import Reading

MOST_ROWS = 24

PLAIN = Figured("", "", "", "", None)
"""What is told of a quantity that is no figure of the account."""


def workings(account: PeriodAccount, addresses: list[str]) -> dict[str, Any]:
    """The working of each figure named."""
    return {a: working(account, a) for a in addresses}


def working(account: PeriodAccount, address: str) -> dict[str, Any]:
    """One figure's working."""
    info = account.mill.addresses.get(address)
    told = account.mill.figures.get(address, PLAIN)
    answer = account.answer
    shares = answer.shares(address)[:5] if answer is not None and info is not None else []
    return {
        "name": info.name if info else address.removeprefix("account.").replace("_", " "),
        "formula": told.formula,
        "equation_source": told.source,
        "inputs": [_input(account, a) for a in told.inputs if a in account.mill.addresses],
        "reading": _own_reading(account, told.reading or address),
        "shares": [
            {"reading": a, "kind": "assumed" if a in account.assumed_addresses else "measured",
             "share": float(s), "name": _named(account, a)}
            for a, s in shares
        ],
        "rests_on_assumptions": account.rests_on_assumptions(address) if info else False,
    }  # fmt: skip


def _input(account: PeriodAccount, address: str) -> dict[str, Any]:
    try:
        figure = account.figure(address)
    except UnknownName:
        return {"address": address, "name": address, "value": None, "unit": ""}
    return {
        "address": address,
        "name": figure.name,
        "value": figure.value,
        "unit": figure.unit,
        "sigma": figure.sigma,
    }


def _named(account: PeriodAccount, address: str) -> str:
    """What people call a reading, an assumption or an instrument in a share of doubt."""
    return called(account, address) if address in account.mill.addresses else address


def _row(account: PeriodAccount, row: Reading) -> str:
    """A row that a figure was made from: where it was written down, its time and its value."""
    at = "" if row.start is None else f"{account.mill.calendar.to_local(row.start):%d %b %H:%M}, "
    given = "" if row.given is None else f"{row.given:g} {row.unit}".strip()
    return f"{row.source}: {at}{given}" if row.source else f"{at}{given}"


def _own_reading(account: PeriodAccount, address: str) -> dict[str, Any] | None:
    answer = account.answer
    if answer is None or address not in account.read_addresses:
        return None
    for r in answer.readings:
        if r.address == address and r.kind == "measured":
            rows = account.gathered.origins.get(address, [r.reading])
            return {
                "address": address,
                "value": show(account, address, r.reading.value, False),
                "unit": reading_unit(account, address)[0],
                "adjusted": show(account, address, r.adjusted, False),
                "standardised": r.standardised,
                "sigma": show(account, address, r.sigma, True),
                "source": rows[0].source or called(account, address),
                "rows": [_row(account, row) for row in rows[:MOST_ROWS]],
                **entered_part(account, rows),
            }
    return None
