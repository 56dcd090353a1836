"""What is wrong or odd about a stop before it is kept: nothing is corrected, all of it is said.

A stop of the mills takes crushing time out of every day it touches, so a slip in its end is a slip
in the account of each of them. What cannot be is refused; what can be and is seldom meant is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.errors import nearest_names
from ratoon.base.records import Period, Stop
from ratoon.plant.stages import places

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store

LOOKING_BACK = timedelta(days=120)
FAR = timedelta(days=2)
GROUPS = ("mills", "evaporators", "pans", "centrifugals")
"""Stations that stand for several places of the works."""
CALLED_TOO = {"mill": "mills"}


@dataclass(slots=True)
class Judged:
    """A stop with its station as the mill spells it, and what is to be said of it.

    `refused`: it cannot be. `asked`: it is kept only when whoever typed it says that it is so.
    `odd`: it is kept, and this is said.
    """

    stop: Stop
    refused: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)


def station_key(station: str) -> str:
    """A station's name as names are compared: two spellings of one station are one station."""
    name = " ".join(station.split()).lower()
    return CALLED_TOO.get(name, name)


def known_stations(mill: Mill, seen: Iterable[str] = ()) -> tuple[str, ...]:
    """The names under which a stop may stand: the works' own places, and those used before."""
    own = {p.title[:1].lower() + p.title[1:] if p.title[1:2].islower() else p.title
           for p in places(mill.plant.works, mill.settings).values()}  # type: ignore[arg-type]  # fmt: skip
    by_key = {station_key(n): n for n in (*seen, *own, *GROUPS)}
    return tuple(sorted(by_key.values()))


def judge(
    mill: Mill, store: Store, stop: Stop, page_day: date, *, before_it: bool = False
) -> Judged:
    """Judge a stop against the mill's day, its stations and the stops that stand.

    Parameters
    ----------
    page_day : the mill day on whose page it was typed.
    before_it : the stop is kept already; it is compared with the others.
    """
    calendar = mill.calendar
    day = calendar.day_of(stop.start)
    period = calendar.period(day)
    before = store.stops(Period(stop.start - LOOKING_BACK, max(stop.end, stop.start)))
    if before_it:
        before = [s for s in before if not _is_itself(s, stop)]
    stations = {station_key(n): n for n in known_stations(mill, (s.station for s in before))}
    spelt = stations.get(station_key(stop.station))
    out = Judged(stop if spelt is None
                 else Stop(stop.start, stop.end, spelt, stop.cause, stop.note))  # fmt: skip
    if spelt is None:
        near = nearest_names(stop.station.lower(), stations.values())
        meant = f"Did you mean {' or '.join(near)}?" if near else _some(stations.values())
        out.asked.append(f"station {stop.station!r} is not one of this mill. {meant}")
    if stop.end > period.end:
        local = calendar.to_local
        out.asked.append(
            f"the stop ends at {local(stop.end):%Y-%m-%d %H:%M}, after the mill day "
            f"{day.isoformat()} is over ({local(period.end):%Y-%m-%d %H:%M}): it lasts "
            f"{stop.hours:.1f} h and takes time from {_days(calendar.days_of(_of(stop)))}."
        )
    if abs(day - page_day) > FAR:
        out.asked.append(f"the stop begins on mill day {day.isoformat()}, "
                         f"{abs((day - page_day).days)} days from this page's.")  # fmt: skip
    out.refused.extend(_overlaps(mill, out.stop, before))
    causes = {s.cause for s in before}
    if causes and stop.cause.lower() not in {c.lower() for c in causes}:
        near = nearest_names(stop.cause, causes)
        meant = f" Did you mean {' or '.join(near)}?" if near else ""
        out.odd.append(f"no stop of the last {LOOKING_BACK.days} days had the cause "
                       f"{stop.cause!r}: it gets a line of its own.{meant}")  # fmt: skip
    if station_key(stop.station) != "mills":
        out.odd.append("only stops of the station mills count as lost crushing time")
    return out


def _of(stop: Stop) -> Period:
    return Period(stop.start, max(stop.end, stop.start + timedelta(seconds=1)))


def _overlaps(mill: Mill, stop: Stop, standing: Sequence[Stop]) -> list[str]:
    local, same = mill.calendar.to_local, station_key(stop.station)
    found = [
        f"from {local(s.start):%Y-%m-%d %H:%M} to {_until(s.end, s.start, mill)} ({s.cause})"
        for s in standing
        if station_key(s.station) == same and s.end > s.start and not _is_itself(s, stop)
        and s.start < stop.end and s.end > stop.start
    ]  # fmt: skip
    if not found:
        return []
    return [f"{stop.station} already stood {', '.join(found)}: one station cannot stand twice at a "
            "time. Correct what is written there, or change these times."]  # fmt: skip


def _is_itself(standing: Stop, typed: Stop) -> bool:
    """Kept under the same start and station: a correction, for which a reason is asked."""
    return (standing.start, standing.station) == (typed.start, typed.station)


def _until(end: datetime, start: datetime, mill: Mill) -> str:
    a, b = mill.calendar.to_local(start), mill.calendar.to_local(end)
    return f"{b:%H:%M}" if a.date() == b.date() else f"{b:%Y-%m-%d %H:%M}"


def _days(days: Sequence[date]) -> str:
    return f"{len(days)} mill days" if len(days) > 2 else " and ".join(d.isoformat() for d in days)


def _some(names: Iterable[str]) -> str:
    return "Its stations: " + ", ".join(sorted(names, key=str.lower)) + "."
