"""The mill day by its shifts: hours crushed, and what was read in each, as it was read.

A shift is too short to be balanced: the stock that moves in eight hours is as large as what the
balance would find. So shifts show readings, not reconciled figures.
"""

from __future__ import annotations

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.combine import is_flow, time_weights, without_twice
from ratoon.account.readings.own import LOST, TANK
from ratoon.account.results.day import ShiftReading, ShiftResult
from ratoon.base import units
from ratoon.base.records import Period, Reading
from ratoon.plant.stations.stocks import is_stock

MOST = 12
ORDER = ("cane", "first_juice", "shredder", "imbibition", "mill", "bagasse", "mixed_juice",
         "heater", "limed_juice", "clear_juice", "clarifier", "mud", "filter", "filtrate", "cake",
         "effect", "liquor", "pan", "molasses", "crystalliser", "magma", "sugar",
         "final_molasses")  # fmt: skip
APART = 3.0  # of the day's own uncertainty; one instrument reads both, so they ought to agree


def shift_parts(account: PeriodAccount) -> tuple[ShiftResult, ...]:
    """One record a shift: name, start and end, hours crushed and lost, and its readings.

    Readings are there only where rows lie inside the shift: totals added, others averaged.
    """
    mill, gathered = account.mill, account.gathered
    day = mill.calendar.day_of(gathered.period.start)
    shifts = mill.calendar.shift_periods(day)
    if gathered.lost:
        return ()  # hours without clock times belong to no shift
    wanted = _addresses(account, [p for _, p in shifts])
    out = []
    for shift, period in shifts:
        crushed = gathered.crushed_within(period.start, period.end) / 3600.0
        out.append(ShiftResult(
            shift.name, mill.calendar.to_local(period.start).isoformat(),
            mill.calendar.to_local(period.end).isoformat(), crushed, period.hours - crushed,
            tuple(r for a in wanted if (r := _reading(account, a, period))),
        ))  # fmt: skip
    return tuple(out)


def shifts_apart(account: PeriodAccount) -> tuple[str, ...]:
    """Words on totals whose shifts add to something else than the day's own total, which counts."""
    mill, gathered = account.mill, account.gathered
    shifts = [
        p for _, p in mill.calendar.shift_periods(mill.calendar.day_of(gathered.period.start))
    ]
    doubts = {r.address: ((r.sigma or 0.0) ** 2 + r.common**2) ** 0.5 for r in gathered.readings}
    words = []
    for address, used in gathered.origins.items():
        day = used[0]
        if (
            len(used) > 1
            or address not in doubts
            or day.end is None
            or not units.is_total(day.unit)
            or not shifts
        ):
            continue
        parts = [_reading(account, address, p) for p in shifts]
        if _inside(day, shifts[0]) or any(p is None for p in parts):
            continue
        total = units.from_inside(day.value, day.unit)
        added = sum(units.from_inside(units.to_inside(p.value, p.unit), day.unit)
                    for p in parts if p)  # fmt: skip
        doubt = units.spread_from_inside(doubts[address] * gathered.crushing, day.unit)
        if abs(added - total) > APART * doubt:
            words.append(
                f"{mill.addresses[address].name}: the shifts add to {added:.0f} {day.unit}, "
                f"the day's own total is {total:.0f}; the day's is used."
            )
    return tuple(words)


def _rows(account: PeriodAccount, address: str) -> list[Reading]:
    rows = list(account.gathered.origins.get(address, []))
    return rows + [k.row for k in account.gathered.shown if k.row.address == address]


def _inside(row: Reading, period: Period) -> bool:
    if row.start is None:
        return False
    if row.end is None:
        return period.start <= row.start < period.end
    return period.start <= row.start and row.end <= period.end


def _addresses(account: PeriodAccount, shifts: list[Period]) -> list[str]:
    """What was read within shifts, most rows first."""
    known = {*account.gathered.origins, *(k.row.address for k in account.gathered.shown)}
    counts = {}
    for address in sorted(known):
        if is_stock(address) or address.startswith((TANK, LOST)):
            continue
        rows = _rows(account, address)
        inside = sum(1 for s in shifts if any(_inside(r, s) for r in rows))
        if inside:
            counts[address] = inside
    return sorted(sorted(counts, key=lambda a: -counts[a])[:MOST], key=_place)


def _place(address: str) -> tuple[int, str]:
    """Where an address stands in the order in which cane and juice go; others last."""
    stem = address.split(".")[0]
    return (ORDER.index(stem) if stem in ORDER else len(ORDER), address)


def _reading(account: PeriodAccount, address: str, period: Period) -> ShiftReading | None:
    rows = [r for r in _rows(account, address) if _inside(r, period) and r.unit]
    rows, _ = without_twice(rows)
    if not rows:
        return None
    unit = rows[0].unit
    if units.is_total(unit):
        value = sum(r.value for r in rows)
    else:
        value = sum(w * r.value for w, r in zip(time_weights(rows), rows))
    return ShiftReading(
        address, account.mill.addresses[address].name, unit, units.from_inside(value, unit),
        len(rows), units.is_total(unit), is_flow(unit),
    )  # fmt: skip
