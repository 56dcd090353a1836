"""Behind each figure: its equation in words with values, its reading, what makes it uncertain."""

from __future__ import annotations

from ratoon.account.figures.figured import Figured
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.as_read import called, reading_unit, show
from ratoon.account.results.trust import Input, OwnReading, Share, WorkingResult
from ratoon.account.trust.suspects import entered_by
from ratoon.base.errors import UnknownName
from ratoon.base.records import Reading

MOST_ROWS = 24

PLAIN = Figured("", "", "", "", None)
"""What is told of a quantity that is no figure of the account."""


def workings(account: PeriodAccount, addresses: list[str]) -> dict[str, WorkingResult]:
    """The working of each figure named."""
    return {a: working(account, a) for a in addresses}


def working(account: PeriodAccount, address: str) -> WorkingResult:
    """One figure's working."""
    info = account.mill.addresses.get(address)
    told = account.mill.figures.get(address, PLAIN)
    answer = account.answer
    shares = answer.shares(address)[:5] if answer is not None and info is not None else []
    return WorkingResult(
        name=info.name if info else address.removeprefix("account.").replace("_", " "),
        formula=told.formula,
        equation_source=told.source,
        inputs=tuple(_input(account, a) for a in told.inputs if a in account.mill.addresses),
        reading=_own_reading(account, told.reading or address),
        shares=tuple(
            Share(a, "assumed" if a in account.assumed_addresses else "measured", float(s),
                  _named(account, a))
            for a, s in shares
        ),
        rests_on_assumptions=account.rests_on_assumptions(address) if info else False,
    )  # fmt: skip


def _input(account: PeriodAccount, address: str) -> Input:
    try:
        figure = account.figure(address)
    except UnknownName:
        return Input(address, address, None, "")
    return Input(address, figure.name, figure.value, figure.unit, figure.sigma)


def _named(account: PeriodAccount, address: str) -> str:
    """What people call a reading, an assumption or an instrument in a share of uncertainty."""
    return called(account, address) if address in account.mill.addresses else address


def _row(account: PeriodAccount, row: Reading) -> str:
    """A row that a figure was made from: where it was written down, its time and its value."""
    at = "" if row.start is None else f"{account.mill.calendar.to_local(row.start):%d %b %H:%M}, "
    given = "" if row.given is None else f"{row.given:g} {row.unit}".strip()
    return f"{row.source}: {at}{given}" if row.source else f"{at}{given}"


def _own_reading(account: PeriodAccount, address: str) -> OwnReading | None:
    answer = account.answer
    if answer is None or address not in account.read_addresses:
        return None
    for r in answer.readings:
        if r.address == address and r.kind == "measured":
            rows = account.gathered.origins.get(address, [r.reading])
            entered, who = entered_by(account, rows)
            return OwnReading(
                address=address,
                value=show(account, address, r.reading.value, False),
                unit=reading_unit(account, address)[0],
                adjusted=show(account, address, r.adjusted, False),
                standardised=r.standardised,
                sigma=show(account, address, r.sigma, True),
                source=rows[0].source or called(account, address),
                rows=tuple(_row(account, row) for row in rows[:MOST_ROWS]),
                entered=entered,
                entered_by=who,
            )
    return None
