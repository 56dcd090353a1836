"""The one more reading that would sharpen a figure most.

For each reading whose uncertainty the mill file states, the account's covariance tells what the
figure's uncertainty would be with one more reading of it, by an instrument of its own: for a figure
of variance v, a quantity of variance w and their covariance c, a reading of uncertainty s leaves v
- c^2 / (w + s^2). Nothing is solved again.
"""

from __future__ import annotations

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.combine import doubt
from ratoon.account.results.trust import NextReading, OneMore
from ratoon.base import units
from ratoon.base.records import Reading
from ratoon.plant.stations.stocks import ENDS, is_stock
from ratoon.settings.records import ReadingSettings

BEST = 3
LEAST_GAIN = 0.01  # of the figure's uncertainty; less is not worth a reading


def next_reading(
    account: PeriodAccount, target: str = "account.overall_recovery"
) -> NextReading | None:
    """The readings that would sharpen `target` most, the best first.

    Returns
    -------
    The target with its sigma now, and the best readings; None when it is not determined.
    """
    answer = account.answer
    if answer is None or not answer.determined(target):
        return None
    candidates = _candidates(account)
    if not candidates:
        return None
    names = list(candidates)
    matrix = answer.covariance([target, *names])
    now = float(matrix[0, 0])
    if now <= 0.0:
        return None
    unit = account.mill.addresses[target].unit
    rows = []
    for k, name in enumerate(names, start=1):
        own, shared = max(float(matrix[k, k]), 0.0), float(matrix[0, k])
        after = now - shared**2 / (own + candidates[name] ** 2)
        rows.append((max(after, 0.0) ** 0.5, name))
    rows.sort()
    known = account.mill.addresses
    best = tuple(
        OneMore(a, known[a].name, units.spread_from_inside(after, unit),
                a in account.read_addresses)
        for after, a in rows[:BEST]
        if after < (1.0 - LEAST_GAIN) * now**0.5
    )  # fmt: skip
    sigma = units.spread_from_inside(now**0.5, unit)
    return NextReading(target, known[target].name, unit, sigma, best)


def _candidates(account: PeriodAccount) -> dict[str, float]:
    """Quantities that could be read, and how uncertain one reading is, in the inside unit."""
    answer = account.answer
    assert answer is not None
    found: dict[str, float] = {}
    for named, setting in account.mill.settings.readings.items():
        address = f"{named}.{ENDS[-1]}" if is_stock(named) else named
        info = account.mill.addresses.get(named)
        if info is None or not info.readable or not answer.determined(address):
            continue
        sd = _doubt_of(account, address, setting)
        if sd is not None and sd > 0.0:
            found[address] = sd
    return found


def _doubt_of(account: PeriodAccount, address: str, setting: ReadingSettings) -> float | None:
    answer = account.answer
    assert answer is not None
    info = account.mill.addresses[address]
    if setting.relative is None and units.is_total(info.unit) and not is_stock(address):
        return None  # an uncertainty in tonnes of the period against a flow
    row = Reading(address, answer.value(address), None)
    parts = doubt(info, setting, row, info.unit)
    return None if parts is None else (parts[0] ** 2 + parts[1] ** 2) ** 0.5
