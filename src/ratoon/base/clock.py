"""The mill's clock: mill day, shift, week and season, in the mill's own zone.

A mill day bears the date on which it starts. Times are kept in UTC, and a length is a difference
in UTC, so a day with a change of the clocks has 23 or 25 hours. Nothing here asks the machine
what time it is: "today" is the newest mill day with readings.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from itertools import pairwise
from typing import TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from ratoon.base.errors import BadInput, nearest_names
from ratoon.base.records import Period

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
YEARS = (1950, 2199)
"""Years that a mill's records can be of; the calendar itself ends at 1 and 9999."""
_ONE_DAY = timedelta(days=1)
_Day = TypeVar("_Day", date, datetime)


_KEPT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(\.\d+)?(Z|\+00:00)")


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift: its name and the local time at which it starts."""

    name: str
    start: time


@dataclass(frozen=True)
class Calendar:
    """How a mill counts time.

    Parameters
    ----------
    zone : IANA name of the mill's zone, such as "Australia/Brisbane".
    day_start : local time at which the mill day starts.
    week_start : English name of the first day of the week.
    season_start : first mill day of the season; None when it is not known.
    earlier_seasons : first mill days of the seasons before it, in any order.
    shifts : shifts of the mill day in order; the first starts the day. May be empty.

    Raises
    ------
    BadInput : unknown zone or weekday, or shifts that do not start with the day.
    """

    zone: str = "UTC"
    day_start: time = time(6)
    week_start: str = "Monday"
    season_start: date | None = None
    shifts: tuple[Shift, ...] = ()
    earlier_seasons: tuple[date, ...] = ()

    def __post_init__(self) -> None:
        _ = self._zone
        if self.week_start not in WEEKDAYS:
            near = nearest_names(self.week_start, WEEKDAYS, 1)
            todo = f"Did you mean {near[0]}?" if near else ""
            raise BadInput(
                "unknown first day of the week",
                value=self.week_start,
                allowed=", ".join(WEEKDAYS),
                todo=todo,
            )
        if self.earlier_seasons and (
            self.season_start is None or max(self.earlier_seasons) >= self.season_start
        ):
            raise BadInput(
                "earlier seasons start before the season",
                value=max(self.earlier_seasons).isoformat(),
                allowed=f"days before {self.season_start or 'season_start, which is not given'}",
            )
        if self.shifts:
            after = [self._since_day_start(shift.start) for shift in self.shifts]
            if after[0] != 0 or any(b <= a for a, b in pairwise(after)):
                raise BadInput(
                    "shifts must follow each other from the start of the mill day",
                    value=", ".join(f"{s.name} {s.start:%H:%M}" for s in self.shifts),
                    allowed=f"the first at {self.day_start:%H:%M}, then later ones in order",
                )

    @cached_property
    def _zone(self) -> ZoneInfo:
        try:
            return ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            from zoneinfo import available_timezones

            near = nearest_names(self.zone, available_timezones(), 2)
            raise BadInput(
                f"unknown time zone {self.zone!r}",
                todo=f"Did you mean {' or '.join(near)}?"
                if near
                else "Give an IANA name, such as Australia/Brisbane",
            ) from None

    def _since_day_start(self, at: time) -> int:
        minutes = (at.hour * 60 + at.minute) - (self.day_start.hour * 60 + self.day_start.minute)
        return minutes % (24 * 60)

    # -- local time and UTC -------------------------------------------------------------------

    def to_utc(self, local: datetime) -> datetime:
        """The UTC instant of a local time without offset.

        Raises
        ------
        BadInput : a year out of reach; the clocks are put forward over that time, so it does not
            exist, or back over it, so it exists twice; nothing is guessed.
        """
        in_reach(local)
        first = local.replace(tzinfo=self._zone, fold=0).astimezone(UTC)
        second = local.replace(tzinfo=self._zone, fold=1).astimezone(UTC)
        if first == second:
            return first
        if first.astimezone(self._zone).replace(tzinfo=None) != local:
            raise BadInput(
                f"local time does not exist in {self.zone}: the clocks are put forward over it",
                value=_shown(local),
            )
        offsets = " or ".join(_shown(at.astimezone(self._zone)) for at in (first, second))
        raise BadInput(
            f"local time exists twice in {self.zone}: the clocks are put back over it",
            value=_shown(local),
            todo=f"Write it with its offset: {offsets}",
        )

    def is_twice(self, local: datetime) -> bool:
        """True when the local time exists twice, so that only an offset can tell which."""
        first = local.replace(tzinfo=self._zone, fold=0).astimezone(UTC)
        second = local.replace(tzinfo=self._zone, fold=1).astimezone(UTC)
        return first < second

    def read(self, text: str) -> datetime:
        """The UTC instant of a time as people write it: `2031-04-06T02:30`, if need be with offset.

        Raises
        ------
        BadInput : no such time, one that `to_utc` refuses, or an offset of another place.
        """
        try:
            at = datetime.fromisoformat(text)
        except ValueError as error:
            raise BadInput(f"no such time: {error}", value=text[:40]) from None
        if at.tzinfo is None:
            return self.to_utc(at)
        # another place's offset is more often a slip than meant; UTC is a recorder's own
        if at.utcoffset() not in (self.to_local(in_reach(at)).utcoffset(), timedelta(0)):
            raise BadInput(
                f"this offset does not occur then in {self.zone};"
                " allowed: the mill's own, Z for UTC, or none",
                value=text[:40],
            )
        return at.astimezone(UTC)

    def written(self, instant: datetime) -> str:
        """An instant as `read` takes it back: local time, with its offset where it comes twice."""
        local = self.to_local(instant)
        plain = local.replace(tzinfo=None)
        return _shown(local if self.is_twice(plain) else plain)

    def to_local(self, instant: datetime) -> datetime:
        """The mill's local time, with offset, of an instant."""
        return instant.astimezone(self._zone)

    def in_words(self, text: str) -> str:
        """A moment that is kept as UTC text in the mill's local time; any other text as it is."""
        if not _KEPT.fullmatch(text):
            return text
        return f"{self.to_local(datetime.fromisoformat(text)):%Y-%m-%d %H:%M:%S}"

    # -- mill days ----------------------------------------------------------------------------

    def start_of(self, day: date) -> datetime:
        """The instant [UTC] at which a mill day starts.

        A start that the change of clocks skips is the first instant after it; one that comes
        twice is the first of the two: a day has to start.
        """
        local = datetime.combine(day, self.day_start)
        first = local.replace(tzinfo=self._zone, fold=0).astimezone(UTC)
        second = local.replace(tzinfo=self._zone, fold=1).astimezone(UTC)
        return min(first, second) if first <= second else self._after_gap(second, first)

    def _after_gap(self, low: datetime, high: datetime) -> datetime:
        """The instant between `low` and `high` at which the clocks are put forward."""
        before = low.astimezone(self._zone).utcoffset()
        while high - low > timedelta(seconds=1):
            middle = low + (high - low) / 2
            if middle.astimezone(self._zone).utcoffset() == before:
                low = middle
            else:
                high = middle
        return high.replace(microsecond=0)

    def period(self, day: date) -> Period:
        """The mill day `day` as a period in UTC."""
        return Period(self.start_of(day), self.start_of(day + _ONE_DAY))

    def day_of(self, instant: datetime) -> date:
        """The mill day in which an instant lies; the start belongs to the day, the end does not."""
        day = instant.astimezone(self._zone).date()
        if instant < self.start_of(day):
            return day - _ONE_DAY
        if instant >= self.start_of(day + _ONE_DAY):
            return day + _ONE_DAY
        return day

    def days_of(self, period: Period) -> list[date]:
        """The mill days that a period touches, in order."""
        first, last = self.day_of(period.start), self.day_of(period.end - timedelta(microseconds=1))
        return [first + timedelta(days=n) for n in range((last - first).days + 1)]

    # -- shifts, weeks, season ------------------------------------------------------------------

    def shift_periods(self, day: date) -> list[tuple[Shift, Period]]:
        """The shifts of a mill day with their periods in UTC."""
        starts = [
            self.start_of(day) + timedelta(minutes=self._since_day_start(shift.start))
            for shift in self.shifts
        ]
        ends = [*starts[1:], self.start_of(day + _ONE_DAY)]
        return [(s, Period(a, b)) for s, a, b in zip(self.shifts, starts, ends)]

    def first_of_week(self, day: date) -> date:
        """The mill day on which the week of `day` starts."""
        return day - timedelta(days=(day.weekday() - WEEKDAYS.index(self.week_start)) % 7)

    def first_of_season(self, day: date) -> date:
        """The first mill day of the season of `day`, or `day` itself where none that early is set.

        A season lasts to the start of the next.
        """
        return self._season_start(day) or day

    def _season_start(self, day: date) -> date | None:
        starts = (*self.earlier_seasons, self.season_start)
        return max((s for s in starts if s is not None and s <= day), default=None)

    def first_of_week_to_date(self, day: date) -> date:
        """The first mill day of the week of `day`, never before its season."""
        return max(self.first_of_week(day), self._season_start(day) or date.min)

    def same_season(self, one: date, other: date) -> bool:
        """Whether two mill days stand in one season; all days before the first one known do."""
        return self._season_start(one) == self._season_start(other)


def _shown(at: datetime) -> str:
    return at.isoformat(timespec="minutes" if at.second == 0 else "seconds")


def in_reach(day: _Day) -> _Day:
    """The same date or time, where the calendar can reckon with it.

    Raises
    ------
    BadInput : a year out of `YEARS`: a slip of the hand, and days beside it may not exist.
    """
    low, high = YEARS
    if low <= day.year <= high:
        return day
    side = f"before {low}" if day.year < low else f"after {high}"
    raise BadInput(f"a year {side}", value=day.isoformat(), allowed=f"years {low} to {high}")


def parse_date(text: str) -> date:
    """A mill day written as YYYY-MM-DD.

    Raises
    ------
    BadInput : any other form; one that two people may read differently is told apart.
    """
    clean = text.strip()
    try:
        if len(clean) == 10 and clean[4] == clean[7] == "-":
            return in_reach(date.fromisoformat(clean))
    except ValueError as error:
        raise BadInput(
            f"no such date: {error}", value=text, allowed="YYYY-MM-DD, such as 2031-08-14"
        ) from None
    raise BadInput(
        "not a date the tool can be sure of", value=text, allowed="YYYY-MM-DD", todo=_guess(clean)
    )


def _guess(text: str) -> str:
    """What a date with slashes, points or short numbers may have meant, for the message."""
    import re

    head = re.match(r"(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})", text)
    if head is None:
        return ""
    one, two, three = (int(part) for part in head.groups())
    orders = [(one, two, three)] if one > 31 else [(three, two, one), (three, one, two)]
    found = []
    for year, month, day in orders:
        try:
            found.append(date(year + 2000 if year < 100 else year, month, day).isoformat())
        except ValueError:
            continue
    found = list(dict.fromkeys(found))
    if len(found) == 2:
        return f"It may be {found[0]} or {found[1]}: write the one you mean"
    return f"Write {found[0]}" if found else ""
