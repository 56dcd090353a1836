"""Stocks at the ends of a period: as they were given, out of their tanks' levels, or unread.

What an opening stock consists of is what the day before closed with: its analyses of the stock's
material are carried over, where nobody analysed the opening stock itself.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from datetime import timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.account.readings.combine import doubt
from ratoon.account.readings.gathered import UNDOUBTED, Gathered, NoteKind, WhyNot
from ratoon.account.readings.tanks import held
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Reading
from ratoon.plant.stations.stocks import (
    ENDS,
    KNOWN,
    PRODUCTS,
    STEADY,
    UNREAD,
    WEIGHED,
    called_of,
    end_of,
    level_of,
    opening_of,
    shifts_of,
)
from ratoon.settings.records import ReadingSettings

LEVEL_WITHIN = timedelta(hours=2)


def ends_of(mill: Mill, out: Gathered, info: AddressInfo, rows: list[Reading]) -> None:
    """Stock at both ends of the period; the two share the error of the tank's own table."""
    setting = mill.settings.readings.get(info.address, ReadingSettings())
    for end, moment in (("opening", out.period.start), ("closing", out.period.end)):
        near = [r for r in rows if r.start and abs(r.start - moment) <= LEVEL_WITHIN]
        if not near:
            out.note(NoteKind.UNREAD, f"{info.name}: no {end} reading.", f"{info.address}.{end}")
            continue
        row = min(near, key=lambda r: abs(r.start - moment))  # type: ignore[operator]
        found = doubt(info, setting, row, row.unit)
        if found is None:
            out.keep(WhyNot.UNCERTAIN, UNDOUBTED, row)
            continue
        address = f"{info.address}.{end}"
        out.readings.append(
            replace(row, address=address, sigma=found[0] or found[1] * 1e-3, common=found[1],
                    instrument=setting.instrument or info.address,
                    check=info.check or f"Take the {info.name} again.")
        )  # fmt: skip
        out.origins[address] = [row]


def tank_stocks(mill: Mill, out: Gathered, by_address: Mapping[str, list[Reading]]) -> None:
    """Stocks out of the levels of their tanks, where nobody gave the stock itself."""
    tanks = mill.settings.tanks
    read = {r.address for r in out.readings}
    for called in dict.fromkeys(tank.stock for tank in tanks.values()):
        mine = {name: tank for name, tank in tanks.items() if tank.stock == called}
        info = mill.addresses[level_of(called)]
        factor = 1e3 if info.unit == "t" else 1.0
        for end, moment in (("opening", out.period.start), ("closing", out.period.end)):
            address = end_of(called, end)
            found = held(mine, by_address, moment, LEVEL_WITHIN)
            if address in read:
                out.keep(WhyNot.TWICE, "kept, not used: the stock itself is given", *found.rows)
                continue
            if found.missing:
                out.note(NoteKind.UNREAD, f"{info.name}: no {end} level of "
                         f"{', '.join(found.missing)}, so no stock out of its tanks.")  # fmt: skip
                why = "kept, not used: another tank was not read"
                out.keep(WhyNot.INCOMPLETE, why, *found.rows)
                continue
            out.readings.append(
                Reading(
                    address, factor * found.amount, factor * max(found.random, 1e-9),
                    factor * found.common, info.address, "measured", found.rows[0].start, None,
                    info.unit, found.amount, f"{len(found.rows)} tanks by their tables", "",
                    f"Take the {info.name} again.",
                )
            )  # fmt: skip
            out.origins[address] = list(found.rows)
            out.notes = [n for n in out.notes if n.about != address]


def unread_stocks(mill: Mill, out: Gathered) -> None:
    """A stock that was not taken is somewhere about its usual level: a wide assumption, and said.

    Without it the sugar end drifts free of what came in, and the rest of the day goes with it.
    """
    read = {r.address for r in out.readings}
    for called in mill.settings.stocks:
        if called not in WEIGHED:  # a dip only checks its weigher
            for address in (end_of(called, end) for end in ENDS):
                if address not in read:
                    out.readings.append(about_usual(mill, out, address))


def about_usual(mill: Mill, out: Gathered, address: str) -> Reading:
    """A stock not taken: about what it was at the other end, else its usual level.

    It is wide, but for a product: bins of it are worked at an even level, so that what was weighed
    is told as weighed.
    """
    called = called_of(address)
    ends = {end_of(called, end) for end in ENDS} - {address}
    other = [r.value for r in out.readings if r.address in ends and r.kind == "measured"]
    table = mill.plant.equations.variables[address].expected
    usual = other[0] if other and other[0] > 0.0 else table
    spread, said = (STEADY, "no change") if called in PRODUCTS else (UNREAD, "wide")
    return Reading(address, usual, spread * usual, kind="assumed",
                   source=f"usual level, not read; {said}")  # fmt: skip


def carried(mill: Mill, out: Gathered, before: Gathered, aside: Collection[str] = ()) -> None:
    """Carry the composition that the day before gave its closing stocks into the opening ones.

    The laboratory's own analyses of that day are carried, never what its account made of them:
    that leans on stocks and assumptions which this day uses as well. An analysis tells of the
    day's material, so the closing stock is as near to it as the mill file takes a stock to be to
    this day's; that much is added to its uncertainty. It stands in the place of the assumption
    that the opening stock was like this day's material, so it says nothing of that material itself:
    where this day analysed none of it, the assumption is what is known, and nothing is carried.

    Parameters
    ----------
    before : the day before. aside : what that day's account set aside.
    """
    if before.crushing <= 0.0 or out.crushing <= 0.0:
        return
    known = {r.address: r for r in before.readings
             if r.kind == "measured" and r.address not in aside}  # fmt: skip
    read = {r.address for r in out.readings}
    variables = mill.plant.equations.variables
    day = mill.calendar.day_of(before.period.start).isoformat()
    for called in mill.settings.stocks:
        stream = KNOWN[called].stream
        brix, pol = known.get(f"{stream}.brix"), known.get(f"{stream}.pol")
        for shift in shifts_of(called):
            var = variables.get(shift)
            if var is None or read & set(var.told_by):
                continue
            stem = opening_of(called, "")
            analyses = [a.removeprefix(stem) for a in var.told_by]
            by_pol = "purity" in analyses and {f"{stream}.brix", f"{stream}.pol"} <= read
            if not by_pol and read.isdisjoint(f"{stream}.{a}" for a in analyses):
                continue
            told = next((r for a in analyses if (r := known.get(f"{stream}.{a}"))), None)
            if told is None and "purity" in analyses and brix and pol and brix.value > 0.0:
                told = _ratio(pol, brix, f"{stream}.{analyses[-1]}")
            if told is None:
                continue
            address = opening_of(called, told.address.removeprefix(f"{stream}."))
            sigma = float(np.hypot(np.hypot(told.sigma or 0.0, told.common), var.sigma or 0.0))
            out.readings.append(
                Reading(address, told.value, sigma, kind="assumed", unit="%", start=told.start,
                        end=told.end, source=f"analyses of {day}: what that day closed with")
            )  # fmt: skip


def _ratio(pol: Reading, brix: Reading, address: str) -> Reading:
    """Pol over brix as a purity."""
    value = pol.value / brix.value
    spread = [np.hypot(r.sigma or 0.0, r.common) / r.value for r in (pol, brix)]
    return replace(pol, address=address, value=value, sigma=float(value * np.hypot(*spread)),
                   common=0.0)  # fmt: skip
