"""Readings to doubt, readings nobody checks, and the plain words about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ratoon.account.gathered import WhyNot
from ratoon.account.period import PeriodAccount
from ratoon.account.trust_results import Member, ReadingResult, SuspectResult
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Reading
from ratoon.base.words import capital
from ratoon.plant.stations.stocks import is_stock, without_end

UNCHECKED_BELOW = 0.5
CANNOT_TELL = "the readings cannot tell which"


def info_of(account: PeriodAccount, address: str) -> AddressInfo:
    """What is known of a reading's address; both ends of a stock are known by the stock."""
    addresses = account.mill.addresses
    return addresses[address]


def called(account: PeriodAccount, address: str) -> str:
    """The words for an address, starting with a capital."""
    name = info_of(account, address).name
    return capital(name)


def reading_unit(account: PeriodAccount, address: str) -> tuple[str, float]:
    """Unit in which a reading is shown, and the factor from the plant's inside value.

    What was given as a total of the period is shown as that total.
    """
    rows = account.gathered.origins.get(address)
    unit = rows[0].unit if rows else info_of(account, address).unit
    if rows and rows[0].address != address and not is_stock(rows[0].address):
        return info_of(account, address).unit, 1.0  # a stock out of its tanks' levels
    if units.is_total(unit) and not is_stock(address):
        return unit, units.from_inside(account.seconds_of(address, unit), unit)
    return unit, 1.0


def show(account: PeriodAccount, address: str, value: float | None, spread: bool) -> float | None:
    """A plant value of a reading in the unit in which it was given."""
    if value is None:
        return None
    unit, factor = reading_unit(account, address)
    if factor != 1.0:
        return value * factor
    rows = account.gathered.origins.get(address)
    setting = account.mill.settings.readings.get(address)
    if rows and setting and units.dimension(unit) in ("mass flow", "volume flow", "power"):
        value = value * account.gathered.crushing / account.gathered.seconds(setting.hours)
    return units.spread_from_inside(value, unit) if spread else units.from_inside(value, unit)


def suspects(account: PeriodAccount) -> tuple[SuspectResult, ...]:
    """The path of suspects, the first one first."""
    if account.answer is None:
        return ()
    checks = {r.address: r.check for r in account.gathered.readings}
    plain = {r.address: r.standardised for r in account.answer.readings}
    out = []
    for s in account.answer.suspects:
        rest = sorted(zip(s.equivalent, s.each), key=lambda one: -abs(one[1][0]))
        members = [_member(account, s.address, s.standardised, s.size, checks)]
        members += [_member(account, a, z, size, checks) for a, (z, size) in rest]
        first = members[0]
        out.append(SuspectResult(
            first.reading, first.standardised, first.size, tuple(s.equivalent), first.check,
            tuple(s.losses), tuple(called(account, a) for a in s.losses),
            tuple(called(account, a) for a in s.equivalent), tuple(members),
            plain.get(s.address), first.kind, first.unit, first.name, first.has_own_check,
        ))  # fmt: skip
    return tuple(out)


def _member(account: PeriodAccount, address: str, standardised: float, size: float,
            checks: Mapping[str, str]) -> Member:  # fmt: skip
    """One reading or assumption of a set that explains the day, as if it were the one."""
    assumed = address in account.assumed_addresses
    info = account.mill.addresses.get(without_end(address))
    check = checks.get(address) or (
        "This is an assumption: compare it with the mill's own figures."
        if assumed
        else f"Check {called(account, address)}."
    )
    return Member(
        address, called(account, address), standardised, show(account, address, size, True),
        reading_unit(account, address)[0], check, "assumed" if assumed else "measured",
        bool(info and info.check),
    )  # fmt: skip


def suspect_words(listed: Sequence[SuspectResult]) -> tuple[str, ...]:
    """What each suspect seems to be, in plain words; sizes and checks stand beside them.

    A suspect after the first is judged with those before it left out: its statistic by itself, as
    it stands at the reading, is another.
    """
    told = []
    for i, s in enumerate(listed):
        several = len(s.members) > 1 or s.losses
        words = CANNOT_TELL if several else f"seems {'high' if (s.size or 0.0) > 0 else 'low'}"
        if i:
            words += " (with those above left out"
            if s.by_itself is not None and not several:
                words += f"; {s.by_itself:+.1f} sigma with them".replace("-", "\u2212")
            words += ")"
        told.append(f"{words}.")
    return tuple(told)


def unchecked(account: PeriodAccount) -> tuple[str, ...]:
    """Readings that no other reading checks: an error in them would not be seen."""
    if account.answer is None:
        return ()
    return tuple(
        r.address
        for r in account.answer.readings
        if r.used and r.kind == "measured" and (r.detectability or 0.0) < UNCHECKED_BELOW
    )


def reading_parts(account: PeriodAccount) -> tuple[ReadingResult, ...]:
    """Every reading as the reconciliation saw it, then those kept and not used."""
    out = []
    answer = account.answer
    if answer is not None:
        for r in answer.readings:
            if r.kind != "measured":
                continue
            a = r.address
            rows = account.gathered.origins.get(a, [r.reading])
            out.append(replace(
                _with_sigma(account, r.reading, rows),
                adjusted=show(account, a, r.adjusted, False), sigma=show(account, a, r.sigma, True),
                standardised=r.standardised, redundant=r.redundant,
                detectability=r.detectability, used=r.used,
            ))  # fmt: skip
    else:
        for read in account.gathered.readings:
            rows = account.gathered.origins.get(read.address, [read])
            out.append(replace(_with_sigma(account, read, rows), why_not="no cane was crushed",
                               why_not_kind=WhyNot.NO_CANE))  # fmt: skip
    for kept in account.gathered.shown:
        row = kept.row
        value = units.from_inside(row.value, row.unit) if row.unit else row.value
        out.append(replace(_plain(account, row.address, [row], value), why_not=kept.why,
                           why_not_kind=kept.kind))  # fmt: skip
    return tuple(out)


def _with_sigma(account: PeriodAccount, read: Reading, rows: Sequence[Reading]) -> ReadingResult:
    """A reading of the period with its own uncertainty, both as it was given."""
    total = ((read.sigma or 0.0) ** 2 + read.common**2) ** 0.5
    address = read.address
    return replace(
        _plain(account, address, rows, show(account, address, read.value, False)),
        unit=reading_unit(account, address)[0],
        sigma_given=show(account, address, total, True),
    )


def entered_by(account: PeriodAccount, rows: Sequence[Reading]) -> tuple[str, str]:
    """When the newest of the rows came into the records, in the mill's zone, and by whose login."""
    known = [(r.entered, r.entered_by) for r in rows if r.entered is not None]
    if not known:
        return "", ""
    at, who = max(known)
    return account.mill.calendar.to_local(at).isoformat(timespec="seconds"), who


def _plain(
    account: PeriodAccount, address: str, rows: Sequence[Reading], value: float | None
) -> ReadingResult:
    zone = account.mill.calendar.to_local
    first, last = rows[0], rows[-1]
    start = first.start or account.gathered.period.start
    sources = [r.source for r in rows if r.source]
    entered, who = entered_by(account, rows)
    return ReadingResult(
        address, zone(start).isoformat(), zone(last.end).isoformat() if last.end else None, value,
        first.unit or info_of(account, address).unit,
        name=called(account, address),
        source=sources[0] if len(sources) == 1 else f"{len(rows)} rows" if sources else "",
        note=first.note,
        entered=entered,
        entered_by=who,
    )  # fmt: skip
