"""From a day's cane to what may be paid, and to what history remembers of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from ratoon.cane.day import CaneDay
from ratoon.cane.history import Parcel
from ratoon.cane.records import ConsignmentDay, Flag
from ratoon.cane.statement import PayItem


def pay_items(
    day: date,
    cane: CaneDay,
    more: Iterable[Flag] = (),
    cleared: frozenset[tuple[str, str]] = frozenset(),
) -> list[PayItem]:
    """What of a day's consignments may be paid, in order of their tip.

    Parameters
    ----------
    more : flags found later, such as those of `history`. cleared : (subject, code) pairs that a
        person has cleared.

    Notes
    -----
    A bin is paid when it was tipped, has a net weight and no flag that holds it or its
    consignment. A consignment whose analysis is held is held whole.
    """
    extra: dict[str, list[Flag]] = {}
    for flag in more:
        extra.setdefault(flag.consignment, []).append(flag)
    return [_item(day, one, extra.get(one.note.consignment, []), cleared)
            for one in cane.consignments]  # fmt: skip


def _item(
    day: date, one: ConsignmentDay, more: list[Flag], cleared: frozenset[tuple[str, str]]
) -> PayItem:
    name = one.note.consignment
    whole = [
        f
        for f in (*one.flags, *more)
        if f.severity == "hold" and f.kind == "consignment" and (f.subject, f.code) not in cleared
    ]
    paid = held = held_bins = 0
    reasons = [f"{f.code}: {f.text}" for f in whole]
    for each in one.bins:
        kg = each.net_kg or 0
        if whole or each.held or each.net_kg is None or each.tip_time is None:
            held, held_bins = held + kg, held_bins + 1
            reasons += [f"{f.code}: {f.text}" for f in each.flags if f.severity == "hold"]
        else:
            paid += kg
    if one.analysis is None:
        reasons.append("no analysis: nothing to pay on")
    unique = tuple(dict.fromkeys(reasons))
    return PayItem(name, one.note.grower, day, paid, one.analysis, held, held_bins, unique)


def parcels_of(number: int, cane: CaneDay) -> list[Parcel]:
    """What history keeps of a day: consignments analysed on their own, less the day's mean.

    Parameters
    ----------
    number : of the mill day. Empty when the day has no mean.
    """
    mean = cane.totals.ccs
    if mean is None:
        return []
    return [
        Parcel(c.note.consignment, c.note.block, c.note.variety, number, c.analysis.ccs - mean,
               c.analysis.sigma_ccs)
        for c in cane.consignments
        if c.analysis is not None and c.analysis.individual
    ]  # fmt: skip
