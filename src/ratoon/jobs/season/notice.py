"""The week's notice to growers: what was crushed, what is planned, when the mill will finish.

It tells no money and nothing of any one grower. What lies ahead is the newest forecast kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.records import Period
from ratoon.store.answers import newest_parts

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

FORECAST = "season forecast"
DAY = timedelta(days=1)
AHEAD = 21
"""Days to come of which stops and weeks are told."""

Told = tuple[float | None, float | None, float | None]


@dataclass(frozen=True, slots=True)
class NoticeWeek:
    """Cane of a week to come [t]: 5, 50 and 95 % of the futures stay below."""

    start: str
    cane: Told


@dataclass(frozen=True, slots=True)
class NoticeStop:
    """A stop of the mill that is planned."""

    date: str
    hours: float
    cause: str
    movable: int


@dataclass(frozen=True, slots=True)
class Notice:
    """A week's notice; None for what is not accounted or not forecast.

    `cane` [t] and `ccs` [%] are of the week and the season to the day; `share` of the crop that is
    crushed [%]; `crop` [t] and `finish` (dates, None past the latest finish) tell 5, 50 and 95 %.
    """

    date: str
    week_from: str
    cane: tuple[float | None, float | None]
    ccs: tuple[float | None, float | None]
    made: str
    finish: tuple[str | None, str | None, str | None] | None
    left_chance: float | None
    crop: Told | None
    share: float | None
    weeks: tuple[NoticeWeek, ...]
    stops: tuple[NoticeStop, ...]


def notice_of(opened: OpenMill, day: date) -> Notice:
    """The notice on the morning after a mill day."""
    calendar, ask = opened.mill.calendar, opened.store.ask
    spans = [part for _, _, part in ask(newest_parts, "day", "to_date", calendar.period(day))]
    week, season = ((spans[0] or {}).get(k) if spans else None for k in ("week", "season"))
    first = calendar.period(calendar.first_of_season(day)).start
    within = Period(first, calendar.period(day + DAY).end)
    told: dict[str, Any] = {}
    made = ""
    for key in ("finish", "left_chance", "crop", "weeks"):
        parts = ask(newest_parts, FORECAST, key, within)
        if parts:
            told[key] = parts[-1][2]
            made = calendar.day_of(parts[-1][0].start).isoformat()
    crop, finish = told.get("crop"), told.get("finish")
    crushed = _figure(season, "account.cane")
    share = None
    if crushed is not None and crop is not None and crop["q50"]:
        share = 100.0 * crushed / crop["q50"]
    last = (day + AHEAD * DAY).isoformat()
    weeks = tuple(NoticeWeek(w["start"], _three(w["cane"])) for w in told.get("weeks") or ()
                  if day.isoformat() < w["start"] <= last and w["cane"]["q95"])  # fmt: skip
    return Notice(
        day.isoformat(), str((week or {}).get("from") or calendar.first_of_week_to_date(day)),
        (_figure(week, "account.cane"), crushed),
        (_figure(week, "account.ccs"), _figure(season, "account.ccs")),
        made, None if finish is None else (finish["q05"], finish["q50"], finish["q95"]),
        told.get("left_chance"), None if crop is None else _three(crop), share, weeks,
        tuple(_stops(opened, day)),
    )  # fmt: skip


def _figure(span: dict[str, Any] | None, address: str) -> float | None:
    figure = ((span or {}).get("figures") or {}).get(address) or {}
    value = figure.get("value")
    return None if value is None else float(value)


def _three(q: dict[str, float | None]) -> Told:
    return q["q05"], q["q50"], q["q95"]


def _stops(opened: OpenMill, day: date) -> Iterator[NoticeStop]:
    """The mill file's planned stops of the days to come, oldest first."""
    found = []
    for stop in opened.mill_on(day).settings.planned_stops:
        at = stop.first
        while stop.every and at <= day:
            at += timedelta(days=stop.every)
        while day < at <= day + AHEAD * DAY:
            found.append(NoticeStop(at.isoformat(), stop.hours / 3600.0, stop.cause, stop.movable))
            if not stop.every:
                break
            at += timedelta(days=stop.every)
    yield from sorted(found, key=lambda s: s.date)
