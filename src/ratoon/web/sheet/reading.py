"""One quantity over a period: as read, as reconciled, and every row as it was entered."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.account.trust.suspects import BY_ACCOUNT
from ratoon.base.clock import in_reach
from ratoon.base.errors import BadInput
from ratoon.base.records import Reading
from ratoon.base.words import capital
from ratoon.plant.flowsheet import EVAPORATING
from ratoon.reports.numbers import Shown, show, signed, unit_as_read
from ratoon.reports.of_the_day import of_the_day
from ratoon.web.days import DayPlace
from ratoon.web.plant.trend_drawing import Point

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.results.day import DayResult
    from ratoon.base.addresses import AddressInfo
    from ratoon.jobs.sheet.history import DayFacts
    from ratoon.store import Version

BASES = {"crushing": "while crushing", "evaporator": "while the evaporators ran",
         "period": "over the whole mill day"}  # fmt: skip
"""Over which hours a flow is a mean, by how the mill file says it is read."""
FLOWS = ("t/h", "m3/h", "MW", "kW")
LONGEST = 400  # days shown at once
USUAL = 30
DIGITS = 10  # more than any instrument has


@dataclass(frozen=True, slots=True)
class DayRow:
    """A mill day: as read, as reconciled, how far the reading was moved, and its standing."""

    date: str
    given: Shown
    reconciled: Shown
    standardised: str
    moved: float | None
    standing: str
    doubted: bool


@dataclass(frozen=True, slots=True)
class EnteredRow:
    """A row as it was entered; `in_force` is false once another has replaced it."""

    start: str
    end: str
    value: str
    unit: str
    in_force: bool
    place: str
    entered: str
    who: str
    reason: str
    note: str


@dataclass(frozen=True, slots=True)
class ReadingPage:
    """One quantity over a period of mill days; `said`: how it counts on the day shown."""

    place: DayPlace
    address: str
    name: str
    unit: str
    basis: str
    mill_name: str
    first: str
    last: str
    others: tuple[tuple[str, str], ...]
    days: tuple[DayRow, ...]
    read: tuple[Point, ...]
    reconciled: tuple[Point, ...]
    target: float | None
    entered: tuple[EnteredRow, ...]
    corrections: int
    said: str | None = None


def period_of(place: DayPlace, first: str, last: str) -> tuple[date, date]:
    """The days asked for; by default the last thirty up to the day shown, never more than 400.

    Raises
    ------
    BadInput : not dates.
    """
    end = _date("to", last) or date.fromisoformat(place.date)
    start = _date("from", first) or end - timedelta(days=USUAL - 1)
    start, end = min(start, end), max(start, end)
    return max(start, end - timedelta(days=LONGEST - 1)), end


def _date(where: str, text: str) -> date | None:
    try:
        return in_reach(date.fromisoformat(text)) if text else None
    except ValueError:
        raise BadInput("is not a date", where=where, value=text[:40],
                       todo="Write it as 2031-08-14.") from None  # fmt: skip


def _hours_of(mill: Mill, address: str) -> str:
    """Over which hours a flow is read; "" for what is no mean of a flow."""
    setting, info = mill.settings.readings.get(address), mill.addresses[address]
    if info.unit not in FLOWS:
        return ""
    return setting.hours if setting is not None else "crushing"


def _over(facts: DayFacts, hours: str) -> float:
    """Crushing hours over the hours of a reading: flows of the plant are means while crushing."""
    crushing = facts.result.period.crushing_hours or 0.0
    whole = {
        "period": facts.result.period.hours,
        "evaporator": facts.works.get("figures", {}).get(EVAPORATING, (None,))[0],
    }
    return crushing / (whole.get(hours) or crushing) if crushing else 1.0


def _day_row(
    info: AddressInfo, day: str, facts: DayFacts, address: str, hours: str
) -> tuple[DayRow, Point, Point]:
    mine = [r for r in facts.result.readings if r.address == address]
    part = next(iter(of_the_day(replace(facts.result, readings=tuple(mine)))), None)
    suspects = {a for s in facts.result.suspects
                for a in (s.reading, *s.equivalent)}  # fmt: skip
    value, sigma = facts.works.get("figures", {}).get(address, (None, None))
    if part is not None and part.used and part.adjusted is not None:
        value, sigma = part.adjusted, part.sigma
    elif value is not None and hours:
        over = _over(facts, hours)
        value, sigma = value * over, sigma * over if sigma is not None else None
    given = show(None, None, info.unit)
    standing, moved, doubted = "not read", None, False
    if part is not None:
        given = show(part.value, part.sigma_given, part.unit)
        doubted = address in suspects
        if not part.used:
            standing = f"not used: {part.why_not}".rstrip(": ")
        else:
            standing = ("suspect" if doubted else
                        "checked" if part.redundant else "not checked by others")  # fmt: skip
        if part.standardised is not None:
            moved = part.standardised
    told = "" if moved is None else signed(moved, 1)
    row = DayRow(day, given, show(value, sigma, info.unit), told, moved, standing, doubted)
    read = Point(day, given.value, given.sigma, doubted)
    return row, read, Point(day, value, sigma)


def _entered(mill: Mill, versions: Sequence[Version]) -> tuple[EnteredRow, ...]:
    local = mill.calendar.to_local
    rows = []
    for v in versions:
        r = v.record
        assert isinstance(r, Reading) and r.start is not None
        rows.append(EnteredRow(
            f"{local(r.start):%Y-%m-%d %H:%M}",
            f"{local(r.end):%Y-%m-%d %H:%M}" if r.end else "",
            f"{r.given:.10g}" if r.given is not None else "",
            unit_as_read(r.unit), v.in_force, r.source or v.place,
            f"{local(v.entered):%Y-%m-%d %H:%M}", v.who, v.reason, r.note,
        ))  # fmt: skip
    return tuple(rows)


def reading_page(
    mill: Mill,
    days: Mapping[str, DayFacts],
    place: DayPlace,
    address: str,
    first: date,
    last: date,
    versions: Sequence[Version],
) -> ReadingPage:
    """The page of an address that the mill has."""
    info = mill.addresses[address]
    kept = [d for d in days if first.isoformat() <= d <= last.isoformat()]
    hours = _hours_of(mill, address)
    made = [_day_row(info, d, days[d], address, hours) for d in kept]
    others = tuple((a, mill.addresses[a].name) for a in mill.settings.readings
                   if a in mill.addresses)  # fmt: skip
    return ReadingPage(
        place=place,
        address=address,
        name=capital(info.name),
        unit=unit_as_read(info.unit),
        basis=BASES.get(hours, ""),
        mill_name=mill.name,
        first=first.isoformat(),
        last=last.isoformat(),
        others=others,
        days=tuple(row for row, _, _ in reversed(made)),
        read=tuple(p for _, p, _ in made),
        reconciled=tuple(p for _, _, p in made),
        target=mill.settings.targets.get(address),
        entered=_entered(mill, list(reversed(versions))),
        corrections=sum(not v.in_force for v in versions),
        said=_said(days[place.date].result, address) if place.date in days else None,
    )


def _said(result: DayResult, address: str) -> str | None:
    """How a reading of a day counts; None for a day without it."""
    if not any(r.address == address and r.kind == "measured" for r in result.readings):
        return None
    aside = next((s for s in result.set_aside if s.reading == address), None)
    if aside is None:
        return "It counts in the account of this mill day."
    by = "the account itself" if aside.by == BY_ACCOUNT else aside.by
    return f"It is set aside, by {by}: {aside.why}. The figures of this mill day stand without it."


HEAD = ("address", "day", "unit given", "given", "sigma given", "unit", "reconciled",
        "sigma reconciled", "adjustment in sigma", "standing")  # fmt: skip
ENTERED_HEAD = ("address", "start", "end", "value", "unit", "in force", "source", "entered", "who",
                "reason", "note")  # fmt: skip


def day_cells(page: ReadingPage) -> list[tuple[Any, ...]]:
    """The days as rows of a file, oldest first; numbers as typed, empty where there is none."""
    return [
        (page.address, r.date, r.given.unit, _number(r.given.value), _number(r.given.sigma),
         page.unit, _number(r.reconciled.value), _number(r.reconciled.sigma),
         None if r.moved is None else round(r.moved, 3), r.standing)
        for r in reversed(page.days)
    ]  # fmt: skip


def entered_cells(page: ReadingPage) -> list[tuple[Any, ...]]:
    """The rows as entered, oldest first."""
    return [
        (page.address, r.start, r.end, float(r.value) if r.value else None, r.unit,
         "yes" if r.in_force else "replaced", r.place, r.entered, r.who, r.reason, r.note)
        for r in reversed(page.entered)
    ]  # fmt: skip


def _number(value: float | None) -> float | int | None:
    """A number without the dust that turning units there and back leaves: 491, as it was typed."""
    if value is None:
        return None
    short = float(f"{value:.{DIGITS}g}")
    return int(short) if short.is_integer() else short


def _safe(cell: Any) -> Any:
    """Text that a spreadsheet would take for a formula is kept from becoming one."""
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@") else cell


def as_csv(page: ReadingPage) -> str:
    """The days as comma-separated text."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEAD)
    for row in day_cells(page):
        writer.writerow(["" if c is None else _safe(c) for c in row])
    return out.getvalue()
