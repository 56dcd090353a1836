"""What stores hold on a day: from the last survey or dip, with what came and went since.

A survey of a bagasse stack, a mud bin, a molasses tank or a sugar shed is taken now and then. From
it each day's flows are added, each with its own uncertainty: a meter's lasting error grows with all
that it counted, its new error with the root of the days. A day between that was not read is taken
to be like those that were, give or take as much again. So the uncertainty grows until somebody
looks again.

Once a store would hold surely more than its room, somebody took something away and wrote it
nowhere: then what it holds is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from ratoon.account.mill import Mill
from ratoon.account.readings.combine import doubt, without_twice
from ratoon.base.records import Period, Reading, ReadingKind
from ratoon.plant.declared import Surveyed
from ratoon.plant.stations.stocks import level_of
from ratoon.settings.records import ReadingSettings

Rows = Mapping[str, Sequence[Reading]]
DAY = 86_400.0  # s
SURELY = 3.0  # standard uncertainties


def stores_of(mill: Mill) -> list[Surveyed]:
    """The stores of a mill that roll from survey to survey."""
    return [one for station in mill.plant.works.stations for one in station.surveyed()]


def addresses_of(mill: Mill) -> frozenset[str]:
    """Addresses of all that tells what a store holds."""
    return frozenset(a for one in stores_of(mill)
                     for a in (one.held, *one.comes, *one.goes, level_of(one.dip)))  # fmt: skip


def rolled(mill: Mill, period: Period, rows: Rows) -> list[Reading]:
    """What each store holds at the end of a period [kg], where it was ever surveyed or dipped.

    Parameters
    ----------
    rows : of `addresses_of`, as far back as there are any, by address.

    Returns
    -------
    A reading where it was surveyed in the period itself, else an assumption; both with the flows
    since, and their uncertainty.
    """
    found = []
    for one in stores_of(mill):
        booked = book_of(mill, one, rows, period.end)
        if booked is None:
            continue
        at, value, whole, told = booked
        kind: ReadingKind = "measured" if at >= period.start and told == "survey" else "assumed"
        if value > one.room + SURELY * whole:
            continue
        info = mill.addresses[one.held]
        found.append(Reading(one.held, max(value, 0.0), whole, kind=kind,
                             unit=info.unit, source=f"{told} of {at:%Y-%m-%d}, and flows since",
                             ))  # fmt: skip
    return found


def book_of(
    mill: Mill, one: Surveyed, rows: Rows, until: datetime
) -> tuple[datetime, float, float, str] | None:
    """When a store was last known, what its book says at a moment [kg], the sigma, and by what.

    The book may fall below nothing, or pass the room: it errs like its meters.
    """
    known = _last_known(mill, one, rows, until)
    if known is None:
        return None
    at, value, sigma, told = known
    moved, spread = _moved(mill, one, rows, at, until)
    return at, value + moved, float((sigma**2 + spread**2) ** 0.5), told


def _last_known(
    mill: Mill, one: Surveyed, rows: Rows, until: datetime
) -> tuple[datetime, float, float, str] | None:
    """When and what a store was last known to hold [kg], its sigma, and by what."""
    variable = mill.plant.equations.variables[one.held]
    seen: list[tuple[datetime, float, float, str]] = []
    for address, told, factor in (
        (one.held, "survey", 1.0),
        (level_of(one.dip), "dip", one.density),
    ):
        info = mill.addresses.get(address)
        if info is None or not factor:
            continue
        setting = mill.settings.readings.get(address, ReadingSettings())
        for row in rows.get(address, ()):
            at = row.end or row.start
            if at is None or at > until:
                continue
            parts = doubt(info, setting, row, row.unit)
            sigma = (parts[0] ** 2 + parts[1] ** 2) ** 0.5 if parts else variable.sigma or 0.0
            seen.append((at, factor * row.value, factor * sigma if parts else sigma, told))
    return max(seen, default=None)


def _moved(
    mill: Mill, one: Surveyed, rows: Rows, after: datetime, until: datetime
) -> tuple[float, float]:
    """What came less what went between two moments [kg], and its standard uncertainty."""
    total, variance = 0.0, 0.0
    days = max((until - after).total_seconds() / DAY, 0.0)
    for sign, address in (*((1.0, a) for a in one.comes), *((-1.0, a) for a in one.goes)):
        info = mill.addresses.get(address)
        if info is None:
            continue
        setting = mill.settings.readings.get(address, ReadingSettings())
        mine = [r for r in _ended(rows.get(address, ()), after, until) if r.end is not None]
        kept, _ = without_twice(mine)
        parts = [doubt(info, setting, r, r.unit) or (abs(r.value), 0.0) for r in kept]
        amount, read = sum(r.value for r in kept), sum(_lasts(r) for r in kept) / DAY
        unread = max(days - read, 0.0) if sign > 0.0 else 0.0  # what is sent away comes in loads
        usual = amount / read if read else 0.0
        total += sign * (amount + unread * usual)
        variance += sum(p[0] ** 2 for p in parts) + sum(p[1] for p in parts) ** 2
        variance += unread * max(abs(usual), one.daily if not read else 0.0) ** 2
    return total, variance**0.5


def _ended(rows: Iterable[Reading], after: datetime, until: datetime) -> list[Reading]:
    """Totals that fall between two moments by more than half."""
    found = []
    for r in rows:
        if r.start is None:
            continue
        middle = r.start + ((r.end or r.start) - r.start) / 2
        if after < middle <= until:
            found.append(r)
    return sorted(found, key=lambda r: (r.start, r.end or r.start))


def _lasts(row: Reading) -> float:
    assert row.start is not None and row.end is not None
    return (row.end - row.start).total_seconds()
