"""Readings to doubt, readings nobody checks, and the plain words about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ratoon.account.gathered import WhyNot
from ratoon.account.period import PeriodAccount
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


def suspects(account: PeriodAccount) -> list[dict[str, Any]]:
    """The path of suspects, the first one first."""
    if account.answer is None:
        return []
    checks = {r.address: r.check for r in account.gathered.readings}
    plain = {r.address: r.standardised for r in account.answer.readings}
    out = []
    for s in account.answer.suspects:
        rest = sorted(zip(s.equivalent, s.each), key=lambda one: -abs(one[1][0]))
        members = [_member(account, s.address, s.standardised, s.size, checks)]
        members += [_member(account, a, z, size, checks) for a, (z, size) in rest]
        first = members[0]
        out.append(
            {
                **first,
                "by_itself": plain.get(s.address),
                "equivalent": list(s.equivalent),
                "equivalent_names": [called(account, a) for a in s.equivalent],
                "losses": list(s.losses),
                "loss_names": [called(account, a) for a in s.losses],
                "members": members,
            }
        )
    return out


def _member(account: PeriodAccount, address: str, standardised: float, size: float,
            checks: Mapping[str, str]) -> dict[str, Any]:  # fmt: skip
    """One reading or assumption of a set that explains the day, as if it were the one."""
    assumed = address in account.assumed_addresses
    setting = account.mill.settings.readings.get(without_end(address))
    check = checks.get(address) or (
        "This is an assumption: compare it with the mill's own figures."
        if assumed
        else f"Check {called(account, address)}."
    )
    return {
        "reading": address,
        "name": called(account, address),
        "standardised": standardised,
        "size": show(account, address, size, True),
        "unit": reading_unit(account, address)[0],
        "check": check,
        "kind": "assumed" if assumed else "measured",
        "has_own_check": bool(setting and setting.check),
    }


def suspect_words(listed: list[dict[str, Any]]) -> list[str]:
    """What each suspect seems to be, in plain words; sizes and checks stand beside them.

    A suspect after the first is judged with those before it left out: its statistic by itself, as
    it stands at the reading, is another.
    """
    told = []
    for i, s in enumerate(listed):
        several = len(s["members"]) > 1 or s["losses"]
        words = CANNOT_TELL if several else f"seems {'high' if (s['size'] or 0.0) > 0 else 'low'}"
        if i:
            words += " (with those above left out"
            if s["by_itself"] is not None and not several:
                words += f"; {s['by_itself']:+.1f} sigma with them".replace("-", "\u2212")
            words += ")"
        told.append(f"{words}.")
    return told


def unchecked(account: PeriodAccount) -> list[str]:
    """Readings that no other reading checks: an error in them would not be seen."""
    if account.answer is None:
        return []
    return [
        r.address
        for r in account.answer.readings
        if r.used and r.kind == "measured" and (r.detectability or 0.0) < UNCHECKED_BELOW
    ]


def reading_parts(account: PeriodAccount) -> list[dict[str, Any]]:
    """Every reading as the reconciliation saw it, then those kept and not used."""
    out = []
    if account.answer is not None:
        for r in account.answer.readings:
            if r.kind != "measured":
                continue
            rows = account.gathered.origins.get(r.address, [r.reading])
            total = ((r.reading.sigma or 0.0) ** 2 + r.reading.common**2) ** 0.5
            out.append(_part(account, r.address, rows, r.reading.value, total, r.adjusted, r.sigma,
                             r.standardised, r.redundant, r.detectability, r.used))  # fmt: skip
    else:
        for read in account.gathered.readings:
            rows = account.gathered.origins.get(read.address, [read])
            total = ((read.sigma or 0.0) ** 2 + read.common**2) ** 0.5
            out.append(_part(account, read.address, rows, read.value, total, None, None, None,
                             False, None, False, "no cane was crushed",
                             WhyNot.NO_CANE))  # fmt: skip
    for kept in account.gathered.shown:
        row = kept.row
        value = units.from_inside(row.value, row.unit) if row.unit else row.value
        out.append(_plain(account, row.address, [row], value, kept.why, kept.kind))
    return out


def _part(account: PeriodAccount, address: str, rows: list[Any], value: float, sigma: float,
          adjusted: float | None, after: float | None, standardised: float | None,
          redundant: bool, detectability: float | None, used: bool, why: str = "",
          kind: WhyNot | None = None) -> dict[str, Any]:  # fmt: skip
    part = _plain(account, address, rows, show(account, address, value, False), why, kind)
    part.update(
        unit=reading_unit(account, address)[0],
        sigma_given=show(account, address, sigma, True),
        adjusted=show(account, address, adjusted, False),
        sigma=show(account, address, after, True),
        standardised=standardised,
        redundant=redundant,
        detectability=detectability,
        used=used,
    )
    return part


def entered_part(account: PeriodAccount, rows: Sequence[Reading]) -> dict[str, str]:
    """When the newest of the rows came into the records, in the mill's zone, and by whose login."""
    known = [(r.entered, r.entered_by) for r in rows if r.entered is not None]
    if not known:
        return {"entered": "", "entered_by": ""}
    at, who = max(known)
    return {
        "entered": account.mill.calendar.to_local(at).isoformat(timespec="seconds"),
        "entered_by": who,
    }


def _plain(account: PeriodAccount, address: str, rows: list[Any], value: float | None,
           why: str = "", kind: WhyNot | None = None) -> dict[str, Any]:  # fmt: skip
    zone = account.mill.calendar.to_local
    first, last = rows[0], rows[-1]
    start = first.start or account.gathered.period.start
    sources = [r.source for r in rows if r.source]
    part: dict[str, Any] = {
        "address": address,
        "start": zone(start).isoformat(),
        "end": zone(last.end).isoformat() if last.end else None,
        "value": value,
        "unit": first.unit or info_of(account, address).unit,
        "sigma_given": None,
        "adjusted": None,
        "sigma": None,
        "standardised": None,
        "redundant": False,
        "detectability": None,
        "used": False,
        "name": called(account, address),
        "kind": "measured",
        "source": sources[0] if len(sources) == 1 else f"{len(rows)} rows" if sources else "",
        "note": first.note,
        **entered_part(account, rows),
    }
    if kind is not None:
        part |= {"why_not": why, "why_not_kind": str(kind)}
    return part
