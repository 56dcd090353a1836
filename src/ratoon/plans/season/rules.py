"""The mill's own rules of a season, from its mill file or from tables of one."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from ratoon.base.clock import WEEKDAYS, parse_date
from ratoon.base.errors import BadInput
from ratoon.plans.season.futures import Change
from ratoon.plans.season.given import Rules
from ratoon.settings.read import table_of
from ratoon.settings.records import Settings
from ratoon.settings.season import PlannedStop, SeasonSettings

LATEST = timedelta(weeks=33)
"""From the start to the latest finish where the mill gives none."""
LIMITS = {
    "rate": (-300.0, 300.0, "t/h"), "extraction": (-20.0, 4.0, "points"),
    "crop": (-90.0, 100.0, "%"), "lost": (-1000.0, 5000.0, "h"), "stop": (0.0, 1000.0, "h"),
}  # fmt: skip
"""How far a change may go; 4 points of extraction are all that is not extracted."""
_NONE = PlannedStop(first=date.max, hours=0.0)


def rules(settings: Any, at: date) -> Rules:
    """Rules from settings, or from a dictionary with tables of a mill file.

    Raises
    ------
    BadInput : a table that cannot be; dates out of order.
    """
    if isinstance(settings, Settings):
        return _checked(Rules(
            settings.mill.season_start or at, date.max, settings.season, settings.planned_stops,
            settings.prices.sugar, settings.prices.cane + settings.prices.beside_cane,
            settings.mill.currency, WEEKDAYS.index(settings.mill.week_start),
            _lacking(settings.mill.season_start, settings.season, settings.planned_stops, True),
        ))  # fmt: skip
    tables: Mapping[str, Any] = settings or {}
    for name, kind in (("season", Mapping), ("planned_stops", (list, tuple)), ("mill", Mapping),
                       ("prices", Mapping)):  # fmt: skip
        if name in tables and not isinstance(tables[name], kind):
            raise BadInput("is no such table", where=name, value=tables[name])
    season = table_of(SeasonSettings, _plain(tables.get("season", {})), "season")
    stops = tuple(table_of(PlannedStop, _plain(row), "planned_stops")
                  for row in tables.get("planned_stops", ()))  # fmt: skip
    mill, prices = _plain(tables.get("mill", {})), tables.get("prices", {})
    start = mill.get("season_start")
    cane = sum(float(prices.get(k, 0.0)) for k in ("cane", "other_on_cane", "variable"))
    return _checked(Rules(
        start or at, date.max, season, stops, float(prices.get("sugar", 0.0)), cane,
        str(mill.get("currency", "$")), _weekday(mill.get("week_start", WEEKDAYS[0])),
        _lacking(start, season, stops, "sugar" in prices),
    ))  # fmt: skip


def planned_ahead(
    stops: Sequence[PlannedStop], at: date, days: int
) -> list[tuple[int, PlannedStop]]:
    """The planned stops of the days ahead, each with its day, in order."""
    since = [(n, (at + timedelta(days=n) - stop.first).days, stop)
             for stop in stops for n in range(days)]  # fmt: skip
    return sorted(
        ((n, stop) for n, ago, stop in since
         if ago == 0 or (stop.every and ago > 0 and ago % stop.every == 0)), key=lambda s: s[0],
    )  # fmt: skip


def _weekday(name: Any) -> int:
    if name not in WEEKDAYS:
        raise BadInput("unknown first day of the week", where="mill: week_start", value=name,
                       allowed=", ".join(WEEKDAYS))  # fmt: skip
    return WEEKDAYS.index(name)


def _plain(table: Mapping[str, Any]) -> dict[str, Any]:
    """Dates written as text are dates."""
    made = {}
    for key, value in table.items():
        is_date = isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value)
        made[key] = parse_date(value) if is_date else (
            value.date() if isinstance(value, datetime) else value)  # fmt: skip
    return made


def _lacking(
    start: date | None, season: SeasonSettings, stops: tuple[PlannedStop, ...], priced: bool
) -> tuple[str, ...]:
    made = []
    if start is None:
        made.append("the season's start (season_start): taken as the day of the forecast")
    if season.latest_finish is None:
        made.append("the latest finish (latest_finish): taken as 33 weeks after the start")
    if not stops:
        made.append("planned stops ([[planned_stops]]): taken as the mean of the days on record")
    if not priced:
        made.append("prices: money counts none")
    return tuple(made)


def _checked(made: Rules) -> Rules:
    s = made.season
    latest = s.latest_finish or made.start + LATEST
    for name, early, late in (
        ("planned_finish", made.start, s.planned_finish), ("latest_finish", made.start, latest),
        ("latest_finish", s.planned_finish, latest),
    ):  # fmt: skip
        if early and late and late < early:
            raise BadInput(f"{name} is out of order", where="season", value=late.isoformat(),
                           allowed=f"{early} or later")  # fmt: skip
    return replace(made, latest=latest)


def change_of(words: list[str], at: date) -> Change:
    """What `--change` says: `rate=+10`, `crop=-5%`, `close=DATE` and the like.

    Raises
    ------
    BadInput : a change of an unknown kind, or one that is none.
    """
    made = Change()
    for word in words:
        kind, _, value = word.partition("=")
        if kind == "close":
            made = replace(made, close=_ahead(value, at, word) + 1)
        elif kind == "stop":
            day, _, hours = value.partition(":")
            made = replace(made, stops=(*made.stops, (_ahead(day, at, word),
                                                      _within(kind, hours, word))))  # fmt: skip
        elif kind == "crop":
            share = _within(kind, value.removesuffix("%"), word)
            made = replace(made, crop=made.crop + share / 100.0)
        elif kind in LIMITS:
            made = replace(made, **{kind: getattr(made, kind) + _within(kind, value, word)})
        else:
            raise BadInput("a change of an unknown kind", where="--change", value=word,
                           allowed="rate=+10, extraction=+1, crop=-5%, lost=+24, close=DATE,"
                           " stop=DATE:HOURS")  # fmt: skip
    return made


def _within(kind: str, text: str, word: str) -> float:
    low, high, unit = LIMITS[kind]
    allowed = f"{low:+g} to {high:+g} {unit}"
    if not re.fullmatch(r"[+-]?\d+(\.\d+)?", text):
        raise BadInput("no number", where="--change", value=word, allowed=allowed)
    if not low <= float(text) <= high:
        raise BadInput("a change out of reach", where="--change", value=word, allowed=allowed)
    return float(text)


def _ahead(text: str, at: date, word: str) -> int:
    days = (parse_date(text) - at).days
    if days < 0:
        raise BadInput("a day that is past", where="--change", value=word, allowed=f"from {at} on")
    return days
