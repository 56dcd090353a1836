"""Suspect readings, readings nobody checks, and the plain words about them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.as_read import called, info_of, reading_unit, show
from ratoon.account.readings.gathered import WhyNot
from ratoon.account.results.trust import Member, ReadingResult, SetAside, SuspectResult
from ratoon.account.trust.slips import slip_of
from ratoon.base import units
from ratoon.base.records import Reading
from ratoon.equations.gross_errors import RARE
from ratoon.equations.records import Suspect
from ratoon.plant.stations.stocks import without_end

UNCHECKED_BELOW = 0.5
BY_ACCOUNT = "account"
CANNOT_TELL = "the readings cannot tell which"


def suspects(account: PeriodAccount) -> tuple[SuspectResult, ...]:
    """The path of suspects, the first one first: those set aside, then those that still count.

    In a set the one comes first whose instrument would have to be the least far off.
    """
    if account.answer is None:
        return ()
    whole = account.settled.whole if account.settled else account.answer
    plain = {r.address: r.standardised for r in whole.readings} if whole is not None else {}
    out = []
    for s in account.suspects:
        members = [_member(account, s.address, s.standardised, s.size)]
        members += [_member(account, a, z, size) for a, (z, size) in zip(s.equivalent, s.each)]
        first, *rest = members
        rest.sort(key=_rarity)
        slips = {m.reading: found for m in members if (found := slip_of(account, m.reading))}
        out.append(SuspectResult(
            first.reading, first.standardised, first.size, tuple(s.equivalent), first.check,
            tuple(s.losses), tuple(called(account, a) for a in s.losses),
            tuple(called(account, a) for a in s.equivalent), (first, *rest),
            plain.get(s.address), first.kind, first.unit, first.name, first.has_own_check,
            first.instrument_sigmas, slips.get(first.reading) or next(iter(slips.values()), None),
            s.address in account.aside,
        ))  # fmt: skip
    return tuple(out)


def _rarity(m: Member) -> float:
    """How rare it would be that a member is the wrong one, the likeliest least."""
    return RARE * math.log(max(m.instrument_sigmas or 1.0, 1.0)) - m.standardised**2


def set_aside(account: PeriodAccount) -> tuple[SetAside, ...]:
    """The readings without which the figures stand, and why; assumptions are no readings."""
    out = []
    read = {r.address: r for r in account.gathered.readings}
    for address, suspect in account.aside.items():
        if address not in read:
            continue
        said = account.gathered.decisions.get(address)
        same = [a for a, s in account.aside.items() if a != address and s is suspect]
        others = [called(account, a) for a in same] if suspect is not None else []
        if said is not None:
            why, by = said.why, said.by
        else:
            why, by = _why(account, address, suspect, others), BY_ACCOUNT
        says, spread = what_others_say(account, address)
        unit = reading_unit(account, address)[0]
        was = show(account, address, read[address].value, False)
        out.append(SetAside(address, why, by, called(account, address), unit, was, says, spread))
    return tuple(out)


def aside_words(account: PeriodAccount) -> tuple[str, ...]:
    """What an account of several days sets aside itself, in words."""
    return tuple(f"{s.name} is set aside: {s.why}." for s in set_aside(account))


def _why(
    account: PeriodAccount, address: str, suspect: Suspect | None, others: Sequence[str]
) -> str:
    if slip := slip_of(account, address):
        return f"cannot be, likely a slip: {slip}"
    if suspect is None:
        return "cannot be: outside what the quantity can be"
    if not math.isfinite(suspect.standardised):
        return "cannot be: far from what is usual"
    far = f"{abs(suspect.standardised):.1f} sigma from the value implied by other readings"
    return f"{far}, as are {', '.join(others)}: {CANNOT_TELL}" if others else far


def what_others_say(account: PeriodAccount, address: str) -> tuple[float | None, float | None]:
    """What the account finds at a reading's address, in the reading's unit; None: nothing."""
    answer = account.answer
    if answer is None or not answer.determined(address):
        return None, None
    return (show(account, address, answer.value(address), False),
            show(account, address, answer.sigma(address), True))  # fmt: skip


def _member(account: PeriodAccount, address: str, standardised: float, size: float) -> Member:
    """One reading or assumption of a set that explains the day, as if it were the one."""
    read = next((r for r in account.gathered.readings
                 if r.address == address and r.kind == "measured"), None)  # fmt: skip
    assumed = read is None
    var = account.mill.plant.equations.variables.get(address)
    own = math.hypot(read.sigma or 0.0, read.common) if read else (var.sigma if var else 0.0)
    info = account.mill.addresses.get(without_end(address))
    check = (read.check if read else "") or (
        "This is an assumption: compare it with the mill's own figures."
        if assumed
        else f"Check {called(account, address)}."
    )
    return Member(
        address, called(account, address), standardised, show(account, address, size, True),
        reading_unit(account, address)[0], check, "assumed" if assumed else "measured",
        bool(info and info.check), abs(size) / own if own else None,
    )  # fmt: skip


def suspect_words(
    listed: Sequence[SuspectResult], marked: AbstractSet[str] = frozenset()
) -> tuple[str, ...]:
    """What each suspect seems to be, in plain words; sizes and checks stand beside them.

    `marked` are suspects that would be set aside, did not a headline figure rest on them.

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
        words += f"; likely a slip: {s.slip}" if s.slip else ""
        if s.set_aside:
            words += ". Set aside: the figures stand without it"
        elif s.reading in marked:
            words += ". All readings count: without it a headline figure would rest on too little"
        told.append(f"{words}.")
    return tuple(told)


def _aside(account: PeriodAccount, read: Reading) -> ReadingResult:
    """A reading that is set aside beside what the others say of it."""
    rows = account.gathered.origins.get(read.address, [read])
    says, spread = what_others_say(account, read.address)
    why = next(s.why for s in set_aside(account) if s.reading == read.address)
    return replace(
        _with_sigma(account, read, rows), adjusted=says, sigma=spread, redundant=says is not None,
        standardised=_off(account, read.address), why_not=f"set aside: {why}",
        why_not_kind=WhyNot.SET_ASIDE,
    )  # fmt: skip


def _off(account: PeriodAccount, address: str) -> float | None:
    """How far a reading that is set aside is from what the others say, in its sigmas."""
    suspect = account.aside[address]
    if suspect is None or not math.isfinite(suspect.standardised):
        return None
    each = dict(zip((suspect.address, *suspect.equivalent),
                    (suspect.standardised, *(z for z, _ in suspect.each))))  # fmt: skip
    return each.get(address)


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
        out += [_aside(account, r) for r in account.gathered.readings
                if r.address in account.aside]  # fmt: skip
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
