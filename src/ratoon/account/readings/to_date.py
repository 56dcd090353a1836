"""Week and season to date: accounts of their own, never sums of reconciled days.

Totals are added, analyses weighted by the cane of their day, the first opening and the last
closing stock are taken. A reading's own error averages out over its days; the common error of an
instrument stays until the next calibration.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from ratoon.account.mill import Mill
from ratoon.account.readings.gathered import Gathered, NoteKind
from ratoon.account.readings.rolled import stores_of
from ratoon.base.records import Period, Reading
from ratoon.plant.flowsheet import CRUSHING, EVAPORATING, PERIOD
from ratoon.plant.stations.stocks import is_stock

LEAST_SHARE = 0.5  # of the crushing time that a reading must cover


def settled_day(
    gathered: Gathered, aside: Mapping[str, tuple[float, float] | None] | None
) -> Gathered:
    """A day without what its own account set aside, as a longer account takes it.

    Parameters
    ----------
    aside : by address what the day's account found and its sigma, None where it found nothing;
        None for a day that is not accounted, which stands as it was read.
    """
    if aside is None:
        return replace(gathered, unsettled=True)
    if not aside:
        return gathered
    readings = []
    for r in gathered.readings:
        found = aside.get(r.address, ())
        if found == ():
            readings.append(r)
        elif found:
            value, sigma = found
            readings.append(replace(r, value=value, sigma=max(sigma, 1e-9 * abs(value), 1e-12),
                                    common=0.0, instrument=""))  # fmt: skip
    return replace(gathered, readings=readings, settled=frozenset(aside))


def join(mill: Mill, days: Sequence[Gathered]) -> Gathered:
    """One period out of its days.

    Parameters
    ----------
    days : gathered days in order of time, days without cane among them. A day of which nothing is
        recorded stands outside: nobody knows whether it crushed.
    """
    period = Period(days[0].period.start, days[-1].period.end)
    missing, days = [d for d in days if not d.recorded], [d for d in days if d.recorded]
    crushing = sum(d.crushing for d in days)
    out = Gathered(period, crushing, sum(d.evaporator for d in days if d.crushing))
    out.recorded, out.unrecorded = bool(days), sum(d.period.seconds for d in missing)
    out.unavailable = sum(d.unavailable for d in days)
    if missing:
        out.note(NoteKind.UNRECORDED, _not_recorded(mill, missing, len(days)))
    out.constants = {
        CRUSHING: max(crushing, 1.0),
        EVAPORATING: max(out.evaporator, 1.0),
        PERIOD: sum(d.whole for d in days),
    }
    _tell_settled(mill, days, out)
    for address in mill.roles.named("sent away"):
        sent = sum(d.constants.get(address, 0.0) * d.crushing for d in days)
        if sent and crushing:
            out.constants[address] = sent / crushing
    if crushing <= 0.0:
        return out
    # what is only noted has no figure of the account: its rows stand for themselves
    noted = mill.plant.noted
    out.shown += [kept for d in days for kept in d.shown if kept.row.address in noted]
    held = {one.held for one in stores_of(mill)}
    by_address: dict[str, list[tuple[Gathered, Reading]]] = {}
    dates = {d.period.start: mill.calendar.day_of(d.period.start) for d in days}
    for day in days:
        for r in day.readings:
            by_address.setdefault(r.address, []).append((day, r))
    for address, rows in by_address.items():
        if is_stock(address):
            continue
        if address in held:
            out.readings.append(rows[-1][1])  # what a store holds is told by its last day
            continue
        joined = _mean(mill, address, rows, crushing, dates)
        if joined is not None:
            joined = _with_idle_days(joined, days, crushing)
            out.readings.append(joined)
            out.origins[address] = [r for d, _ in rows for r in d.origins.get(address, [])][:1]
    _ends(days, out)
    return out


MOST_NAMED = 6


def _tell_settled(mill: Mill, days: Sequence[Gathered], out: Gathered) -> None:
    """Say which readings stand as their day's account found them, and which days as read."""
    rows = [(mill.calendar.day_of(d.period.start).isoformat(), a)
            for d in days for a in sorted(d.settled)]  # fmt: skip
    if rows:
        told = [f"{mill.addresses[a].name} of {day}" for day, a in rows[:MOST_NAMED]]
        more = f" and {len(rows) - MOST_NAMED} more" if len(rows) > MOST_NAMED else ""
        out.note(NoteKind.SET_ASIDE, "set aside by its day, so here as that day's account found "
                 f"it: {', '.join(told)}{more}.")  # fmt: skip
    if unsettled := [d for d in days if d.unsettled and d.crushing > 0.0]:
        out.note(NoteKind.UNSETTLED, f"{len(unsettled)} of {len(days)} days have no account of "
                 "their own: what was read on them stands as it was read.")  # fmt: skip


def _not_recorded(mill: Mill, missing: Sequence[Gathered], recorded: int) -> str:
    named = [mill.calendar.day_of(d.period.start).isoformat() for d in missing[:MOST_NAMED]]
    more = f" and {len(missing) - MOST_NAMED} more" if len(missing) > MOST_NAMED else ""
    return (f"{len(missing)} of {len(missing) + recorded} days are not recorded ({', '.join(named)}"
            f"{more}): they stand outside gross, crushed and lost time.")  # fmt: skip


def _mean(
    mill: Mill, address: str, rows: list[tuple[Gathered, Reading]], crushing: float,
    dates: Mapping[datetime, date],
) -> Reading | None:  # fmt: skip
    """Mean over crushing time: flows give their totals, analyses their cane-weighted mean.

    Crushing time stands for cane here: rates differ by a few per cent between days, analyses by
    less, so the product of the two differences is far inside the uncertainty of either.
    """
    covered = sum(d.crushing for d, _ in rows)
    if covered < LEAST_SHARE * crushing:
        return None
    weights = [d.crushing / covered for d, _ in rows]
    # The dry substance of a day goes as its cane, the liquor as dry substance over brix: the mean
    # by mass is the harmonic one. The plain mean stood 0.05 above it, half a season's uncertainty.
    if address in mill.roles.named("mean by mass") and all(r.value > 0.0 for _, r in rows):
        value = 1.0 / sum(w / r.value for w, (_, r) in zip(weights, rows))
    else:
        value = sum(w * r.value for w, (_, r) in zip(weights, rows))
    random = sum((w * float(r.sigma or 0.0)) ** 2 for w, (_, r) in zip(weights, rows)) ** 0.5
    blocks: dict[int, float] = {}
    for w, (day, r) in zip(weights, rows):
        block = _block(mill, r.instrument or r.address, dates[day.period.start])
        blocks[block] = blocks.get(block, 0.0) + w * r.common
    common = sum(c**2 for c in blocks.values()) ** 0.5
    # Days without the reading are taken to be like the others: their uncertainty is added.
    gap = (crushing / covered) ** 0.5
    last = rows[-1][1]
    return replace(last, value=value, sigma=random * gap, common=common,
                   start=rows[0][1].start)  # fmt: skip


def _with_idle_days(r: Reading, days: Sequence[Gathered], crushing: float) -> Reading:
    """Add what flowed on days without cane, spread over the crushing time like all flows."""
    idle = [d.amounts[r.address] for d in days if r.address in d.amounts]
    if not idle:
        return r
    random = (float(r.sigma or 0.0) ** 2 + sum((x[1] / crushing) ** 2 for x in idle)) ** 0.5
    return replace(
        r,
        value=r.value + sum(x[0] for x in idle) / crushing,
        sigma=random,
        common=r.common + sum(x[2] for x in idle) / crushing,
    )


def _block(mill: Mill, called: str, day: date) -> int:
    """Number of calibrations of an instrument, or of a reading that names none, before a day."""
    return sum(1 for c in mill.calibrated.get(called, ()) if c <= day)


def _ends(days: Sequence[Gathered], out: Gathered) -> None:
    """First opening, with its analyses, and last closing of each stock that was read."""
    for end, order in (("opening", list(days)), ("closing", list(reversed(days)))):
        edge = order[0]
        for r in edge.readings:
            if is_stock(r.address) and r.address.rpartition(".")[2].startswith(end):
                out.readings.append(r)
                out.origins[r.address] = edge.origins.get(r.address, [r])
