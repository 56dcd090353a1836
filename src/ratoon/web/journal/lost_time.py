"""What the journal says of lost time: by cause, most first, and by the equipment that stopped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ratoon.account.equipment import by_equipment
from ratoon.base.records import Stop, main_cause
from ratoon.reports.morning import Ribbon
from ratoon.reports.numbers import duration

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.sheet.history import DayFacts

LOOKING_BACK = 30


@dataclass(frozen=True, slots=True)
class CauseRow:
    """Time lost to one cause: on the day and over the last days, in hours."""

    cause: str
    day: float
    last: float
    day_text: str
    last_text: str
    share: str = ""
    """Part of the time lost over the last days, of this cause and those before it."""


@dataclass(frozen=True, slots=True)
class EquipmentRow:
    """Stops of one piece of equipment this season, in words."""

    name: str
    stops: int
    hours: str
    share: str
    between: str
    between_range: str
    repair: str
    repeats: tuple[str, ...]


def cause_rows(ribbon: Ribbon, days: Mapping[str, DayFacts], until: str) -> tuple[CauseRow, ...]:
    """Lost crushing time by cause; the last days are those accounted, the day is as it stands."""
    day: dict[str, float] = {}
    for cut in ribbon.cuts:
        cause = main_cause(cut.label.removesuffix(f" {duration(cut.hours)}"))
        day[cause] = day.get(cause, 0.0) + cut.hours
    last = dict(day)
    for date_ in [d for d in days if d < until][-(LOOKING_BACK - 1) :]:
        for part in days[date_].result.lost_time_by_cause:
            last[part.cause] = last.get(part.cause, 0.0) + part.hours
    listed = sorted(last.items(), key=lambda x: -x[1])
    # a stop that begins this minute has lost nothing yet
    total, so_far, rows = sum(last.values()) or 1.0, 0.0, []
    for c, h in listed:
        so_far += h
        rows.append(CauseRow(c, day.get(c, 0.0), h, duration(day[c]) if c in day else "",
                             duration(h), f"{100 * so_far / total:.0f}\u202f%"))  # fmt: skip
    return tuple(rows)


def equipment_rows(
    mill: Mill, days: Mapping[str, DayFacts], day: date, ribbon: Ribbon, stops: Sequence[Stop]
) -> tuple[tuple[EquipmentRow, ...], str]:
    """The season's stops by equipment, and the hours run: those of accounted days and of this."""
    first, until = mill.calendar.first_of_season(day).isoformat(), day.isoformat()
    counted = [d for d in days if first <= d < until]
    ran = sum(mill.calendar.period(date.fromisoformat(d)).hours
              - sum(part.hours for part in days[d].result.lost_time_by_cause)
              for d in counted)  # fmt: skip
    ran += ribbon.hours if ribbon.reached is None else ribbon.reached
    ran -= sum(cut.hours for cut in ribbon.cuts)
    since = mill.calendar.period(date.fromisoformat(min(counted, default=until))).start
    rows = tuple(
        EquipmentRow(
            e.name, e.stops, duration(e.hours), f"{100 * e.share:.0f}\u202f%",
            f"{e.between:.0f}\u202fh", f"{e.low:.0f} to {e.high:.0f}\u202fh", duration(e.repair),
            tuple(f"{r.fault}, {_times(r.times)} within 7 days" for r in e.repeats),
        )
        for e in by_equipment([s for s in stops if s.start >= since], max(ran, 0.0))
    )  # fmt: skip
    return rows, f"{max(ran, 0.0):,.0f}\u202fh"


def _times(n: int) -> str:
    return "again once" if n == 1 else f"again {n} times"
