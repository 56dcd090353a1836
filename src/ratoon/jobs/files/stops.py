"""What is wrong or odd about a stop before it is kept: nothing is corrected, all of it is said.

A stop of the mills takes crushing time out of every day it touches, so a slip in its end is a slip
in the account of each of them. What cannot be is refused. What can be and is seldom meant is asked
where a person types; a file cannot be asked, so there its slips are refused with what to do, and
the rest is kept and said. Both go through this one room.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.errors import nearest_names
from ratoon.base.records import Period, Stop, main_cause
from ratoon.plant.stages import places
from ratoon.store.entries import newest_day, stops_in

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store

LOOKING_BACK = timedelta(days=120)
FAR = timedelta(days=2)
AHEAD = timedelta(minutes=15)
"""How far clocks of a plant may differ: a stop that ends later than that has not happened yet."""
ALIKE = 0.8
"""From this likeness on, a name that stands nowhere is taken for a slip in one that does."""
LONG = timedelta(hours=24)
"""A stop of a file that lasts longer is said: the usual slip of an end is a whole day."""
MOST_TOLD = 3
"""Most stops at the same time that are told one by one."""
GROUPS = ("mills", "evaporators", "pans", "centrifugals")
"""Stations that stand for several places of the works."""
CALLED_TOO = {"mill": "mills"}


@dataclass(slots=True)
class Judged:
    """A stop with its station as the mill spells it, and what is to be said of it.

    `refused`: it cannot be. `slips` and `asked`: it is kept only when its writer says that it
    is so. `odd`: it is kept, and this is said. In a file slips are refused, and `odd_in` is kept
    and said; both name the column they stand in.
    """

    stop: Stop
    refused: list[str] = field(default_factory=list)
    slips: list[tuple[str, str]] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)
    odd_in: list[tuple[str, str]] = field(default_factory=list)

    @property
    def to_ask(self) -> list[str]:
        """What a person at the form is asked."""
        return [*(text for _, text in self.slips), *self.asked]


def station_key(station: str) -> str:
    """A station's name as names are compared: two spellings of one station are one station."""
    name = " ".join(station.split()).lower()
    return CALLED_TOO.get(name, name)


def known_stations(mill: Mill, seen: Iterable[str] = ()) -> tuple[str, ...]:
    """The names under which a stop may stand: the plant's own places, and those used before."""
    own = {p.title[:1].lower() + p.title[1:] if p.title[1:2].islower() else p.title
           for p in places(mill.plant.works).values()}  # fmt: skip
    by_key = {station_key(n): n for n in (*seen, *own, *GROUPS)}
    return tuple(sorted(by_key.values()))


def judge(
    mill: Mill,
    store: Store,
    stop: Stop,
    page_day: date,
    *,
    before_it: bool = False,
    instead_of: Stop | None = None,
    now: datetime | None = None,
) -> Judged:
    """Judge a typed stop against the mill's day, its stations and the stops that stand.

    Parameters
    ----------
    page_day : the mill day on whose page it was typed.
    before_it : the stop is kept already; it is compared with the others.
    instead_of : the stop that it replaces, with which it is not compared.
    now : the present, in UTC; by default the machine's clock says it.
    """
    calendar = mill.calendar
    before = _standing(store, [stop])
    left_out = stop if before_it else instead_of
    if left_out is not None:
        before = [s for s in before if not _is_itself(s, left_out)]
    names = {station_key(n): n for n in known_stations(mill, (s.station for s in before))}
    out = _judged(mill, before, stop, names, clock_of(mill, store, now))
    out.refused += [text for _, text in out.slips]  # a time that is not yet
    out.slips.clear()
    stop, day = out.stop, calendar.day_of(stop.start)
    if station_key(stop.station) not in names:
        near = nearest_names(stop.station.lower(), names.values())
        meant = f"Did you mean {' or '.join(near)}?" if near else _some(names.values())
        out.slips.append(("station", f"station {stop.station!r} is not one of this mill. {meant}"))
    if stop.end > calendar.period(day).end and not stop.running:
        out.asked.append(_over_the_day(mill, stop))
    if abs(day - page_day) > FAR:
        out.asked.append(f"the stop begins on mill day {day.isoformat()}, "
                         f"{abs((day - page_day).days)} days from this page's.")  # fmt: skip
    causes = {main_cause(s.cause) for s in before}
    cause = main_cause(stop.cause)
    if causes and cause.lower() not in {c.lower() for c in causes}:
        near = nearest_names(cause, causes)
        meant = f" Did you mean {' or '.join(near)}?" if near else ""
        out.odd.append(f"no stop of the last {LOOKING_BACK.days} days had the cause "
                       f"{cause!r}: it gets a line of its own.{meant}")  # fmt: skip
    if station_key(stop.station) != "mills":
        out.odd.append("only stops of the station mills count as lost crushing time")
    return out


def judge_rows(
    mill: Mill, store: Store, stops: Sequence[Stop], now: datetime | None = None
) -> Iterator[Judged]:
    """Judge the stops of a file one after the other, each against those kept before it.

    A stop that is refused, or has slips, is not kept, so the next is not compared with it. Of the
    questions at the form only what is likely a slip is said: a file holds a season of rows.
    """
    if not stops:
        return
    before = _standing(store, stops)
    names = {station_key(n): n for n in known_stations(mill, (s.station for s in before))}
    present = clock_of(mill, store, now)
    for stop in stops:
        out = _judged(mill, before, stop, names, present)
        stop = out.stop
        if station_key(stop.station) not in names:
            none = f"station {stop.station!r} is not one of this mill"
            if near := nearest_names(stop.station.lower(), names.values(), 1, ALIKE):
                out.slips.append(("station", f"{none}. Did you mean {near[0]}?"))
            else:
                out.odd_in.append(("station", f"{none}: it is kept under that name, and takes no "
                                   "crushing time"))  # fmt: skip
        if stop.end - stop.start > LONG:
            out.odd_in.append(("end", _over_the_day(mill, stop).rstrip(".")))
        known, cause = {main_cause(s.cause) for s in before}, main_cause(stop.cause)
        near = nearest_names(cause, known, 1, ALIKE)
        if near and cause.lower() not in {c.lower() for c in known}:
            out.odd_in.append(("cause", f"no stop of the last {LOOKING_BACK.days} days had the "
                               f"cause {cause!r}: did you mean {near[0]}?"))  # fmt: skip
        if not out.refused and not out.slips:
            before.append(stop)
        yield out


def _judged(
    mill: Mill, before: Sequence[Stop], stop: Stop, names: dict[str, str], now: datetime | None
) -> Judged:
    """What is judged of any stop, however it came: its spelling, its station, its times."""
    key = station_key(stop.station)
    same = next(
        (s for s in before if s.start == stop.start and station_key(s.station) == key), None
    )
    spelt = same.station if same else names.get(key, stop.station)
    out = Judged(replace(stop, station=spelt))
    if ahead := _not_yet(mill, stop, now):
        out.slips.append(("end", ahead))
    out.refused.extend(_overlaps(mill, out.stop, before))
    return out


def _standing(store: Store, stops: Sequence[Stop]) -> list[Stop]:
    first, last = min(s.start for s in stops), max(max(s.start, s.end) for s in stops)
    return store.ask(stops_in, Period(first - LOOKING_BACK, last))


def clock_of(mill: Mill, store: Store, now: datetime | None) -> datetime | None:
    """The present, against which a stop can lie ahead; None where the clock cannot be right.

    An invented mill lives in a time of its own, and so does a machine that has readings of mill
    days which by its clock have not begun.
    """
    if now is not None:
        return now
    now = datetime.now(UTC)
    newest = store.ask(newest_day, mill.calendar)
    ahead = newest is not None and mill.calendar.period(newest).start > now
    return None if mill.settings.mill.invented or ahead else now


def _not_yet(mill: Mill, stop: Stop, now: datetime | None) -> str:
    """Why a stop has not begun or ended yet; "" when it has, or no clock can tell."""
    does, at = ("begins", stop.start) if stop.running else ("ends", stop.end)
    if now is None or at <= now + AHEAD:
        return ""
    local = mill.calendar.to_local
    todo = "a stop is written down once it has begun, its end once it is over."
    return (f"the stop {does} at {local(at):%Y-%m-%d %H:%M}, and by this machine's clock it is "
            f"{local(now):%Y-%m-%d %H:%M}: {todo}")  # fmt: skip


def _over_the_day(mill: Mill, stop: Stop) -> str:
    local, day = mill.calendar.to_local, mill.calendar.day_of(stop.start)
    return (f"the stop ends at {local(stop.end):%Y-%m-%d %H:%M}, after the mill day "
            f"{day.isoformat()} is over ({local(mill.calendar.period(day).end):%Y-%m-%d %H:%M}): "
            f"it lasts {stop.hours:.1f} h and takes time from "
            f"{_days(mill.calendar.days_of(_of(stop)))}.")  # fmt: skip


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
    if len(found) > MOST_TOLD:
        found[MOST_TOLD:] = [f"and {len(found) - MOST_TOLD} times more"]
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
