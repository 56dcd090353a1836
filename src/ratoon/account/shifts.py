"""The mill day by its shifts: hours crushed, and what was read in each, as it was read.

A shift is too short to be balanced: the stock that moves in eight hours is as large as what the
balance would find. So shifts show readings, not reconciled figures.
"""

from __future__ import annotations

from typing import Any

from ratoon.account.combine import is_flow, time_weights
from ratoon.account.period import PeriodAccount
from ratoon.base import units
from ratoon.base.records import Period, Reading

NOTED = ("limed_juice.ph", "clear_juice.ph", "clear_juice.turbidity", "sugar.temperature")
MOST = 12


def shift_parts(account: PeriodAccount) -> list[dict[str, Any]]:
    """One record a shift: name, start and end, hours crushed and lost, and its readings.

    Readings are there only where rows lie inside the shift: totals added, others averaged.
    """
    mill, gathered = account.mill, account.gathered
    day = mill.calendar.day_of(gathered.period.start)
    shifts = mill.calendar.shift_periods(day)
    if gathered.lost:
        return []  # hours without clock times belong to no shift
    wanted = _addresses(account, [p for _, p in shifts])
    out = []
    for shift, period in shifts:
        crushed = gathered.crushed_within(period.start, period.end) / 3600.0
        out.append({
            "name": shift.name,
            "start": mill.calendar.to_local(period.start).isoformat(),
            "end": mill.calendar.to_local(period.end).isoformat(),
            "hours": crushed,
            "lost": period.hours - crushed,
            "readings": [r for a in wanted if (r := _reading(account, a, period))],
        })  # fmt: skip
    return out


def _rows(account: PeriodAccount, address: str) -> list[Reading]:
    rows = list(account.gathered.origins.get(address, []))
    return rows + [r for r, _ in account.gathered.shown if r.address == address]


def _inside(row: Reading, period: Period) -> bool:
    if row.start is None:
        return False
    if row.end is None:
        return period.start <= row.start < period.end
    return period.start <= row.start and row.end <= period.end


def _addresses(account: PeriodAccount, shifts: list[Period]) -> list[str]:
    """What was read within shifts, most rows first."""
    known = {*account.gathered.origins, *(r.address for r, _ in account.gathered.shown)}
    counts = {}
    for address in known:
        if address.startswith(("stock.", "tank.", "lost_time.")):
            continue
        rows = _rows(account, address)
        inside = sum(1 for s in shifts if any(_inside(r, s) for r in rows))
        if inside:
            counts[address] = inside
    return sorted(counts, key=lambda a: (-counts[a], a))[:MOST]


def _reading(account: PeriodAccount, address: str, period: Period) -> dict[str, Any] | None:
    rows = [r for r in _rows(account, address) if _inside(r, period) and r.unit]
    if not rows:
        return None
    unit = rows[0].unit
    if units.is_total(unit):
        value = sum(r.value for r in rows)
    else:
        value = sum(w * r.value for w, r in zip(time_weights(rows), rows))
    return {"address": address, "name": account.mill.addresses[address].name, "unit": unit,
            "value": units.from_inside(value, unit), "rows": len(rows),
            "total": units.is_total(unit), "mean": is_flow(unit)}  # fmt: skip
