"""The season's forecast from the store: what it rests on is read, and each week's kept as made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeVar

from ratoon.base.as_json import NAMED, from_json, to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.records import Period
from ratoon.base.season import RAIN, MillDay, ZoneRow
from ratoon.cane.supply import grouped
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.cane.season import days_in_short
from ratoon.jobs.files.far_days import why_too_far
from ratoon.plans.season.answer import DateSpread, SeasonForecast, Spread
from ratoon.plans.season.forecast import FUTURES, forecast
from ratoon.plans.season.given import Given, given
from ratoon.plans.season.rules import change_of, rules
from ratoon.store.answers import newest_parts, newest_result, results_after
from ratoon.store.cane import kept as stored
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import newest_file, seen_by
from ratoon.store.chain.reach import newest_event
from ratoon.store.entries import newest_day, readings_in, stops_in
from ratoon.store.records import NoRecordsYet, Result

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

KIND = "season forecast"
_EVER = datetime(1950, 1, 2, tzinfo=UTC)
T = TypeVar("T")
NEWEST = "newest_day"
"""Under which a kept forecast tells the newest mill day on record when it was made."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asks of a season's forecast."""

    futures: int = FUTURES
    seed: int = 0
    changes: tuple[str, ...] = ()


def day_of(opened: OpenMill, day: date | None) -> date:
    """The day of a forecast: the one asked for, else the morning after the newest on record."""
    newest = _newest(opened)
    if day is not None:
        if far := why_too_far(opened.mill.calendar, newest, day):
            raise BadInput(far)
        return day
    if newest is None:
        raise NoRecordsYet(str(opened.folder))
    return newest + timedelta(days=1)


def _newest(opened: OpenMill) -> date | None:
    """The newest mill day on record, accounted or in short form."""
    calendar, ask = opened.mill.calendar, opened.store.ask
    written = ask(stored.newest, "mill day")
    days = [ask(newest_day, calendar), calendar.day_of(written) if written else None]
    return max((d for d in days if d is not None), default=None)


def forecast_of(
    opened: OpenMill, day: date | None, asked: Asked, on: Executor | None = None
) -> SeasonForecast:
    """The season's forecast on the morning of a mill day, kept as it was made without changes.

    Raises
    ------
    BadInput : nothing to forecast from, a change or number that cannot be.
    """
    at = day_of(opened, day)
    change = change_of(list(asked.changes), at)
    made = forecast(given_of(opened, at), asked.futures, asked.seed, change=change,
                    change_words=", ".join(asked.changes), on=on)  # fmt: skip
    if not asked.changes:
        _keep(opened, at, made)
    return made


def kept_forecast(opened: OpenMill, at: date) -> SeasonForecast | None:
    """The forecast kept last for a morning, unless files came in since or the mill file changed."""
    return kept_of(opened, KIND, at, SeasonForecast)


def kept_of(opened: OpenMill, kind: str, at: date, form: type[T]) -> T | None:
    """What of a kind is kept for a morning, unless files came in since or the mill file changed."""
    ask, period = opened.store.ask, opened.mill.calendar.period(at)
    kept = ask(newest_result, kind, period)
    if kept is None or kept.versions.get("settings") != _mark(opened, at):
        return None
    now, then = ask(newest_event)[0], ask(seen_by, kept)
    if ask(newest_file, now) != ask(newest_file, then):
        return None
    return from_json(form, kept.answer)


def make_forecast(opened: OpenMill, at: date) -> None:
    """Make and keep a morning's forecast: the job of a worker."""
    forecast_of(opened, at, Asked())


def keep_week(opened: OpenMill, day: date) -> None:
    """Keep a forecast after the last mill day of a week, where none is kept and one can be made."""
    at = day + timedelta(days=1)
    if at == opened.mill.calendar.first_of_week(at) and kept_forecast(opened, at) is None:
        with suppress(RatoonError):  # a mill without estimates has none
            make_forecast(opened, at)


def finishes_on_record(opened: OpenMill, at: date) -> list[tuple[date, DateSpread]]:
    """The finish as each week's first forecast of this season told it before `at`, oldest first."""
    first, made = opened.mill.calendar.first_of_season(at), dict[date, DateSpread]()
    for day, kept in _of_weeks(opened):
        if first <= day < at and day not in made and str(kept.answer[NEWEST]) < day.isoformat():
            made[day] = from_json(SeasonForecast, kept.answer).finish
    return list(made.items())


def _of_weeks(opened: OpenMill) -> list[tuple[date, Result]]:
    """Every forecast kept for the first morning of a week, each morning's in the order made."""
    calendar = opened.mill.calendar
    kept = ((calendar.day_of(r.period.start), r)
            for _, r in opened.store.ask(results_after, [KIND], 0))  # fmt: skip
    return sorted((k for k in kept if k[0] == calendar.first_of_week(k[0])), key=lambda k: k[0])


def _mark(opened: OpenMill, at: date) -> str:
    return digest(opened.mill_on(at).settings.text)


def given_of(opened: OpenMill, at: date) -> Given:
    """All that the store knew when a mill day began."""
    mill, ask = opened.mill_on(at), opened.store.ask
    calendar = mill.calendar
    until = calendar.period(at).start
    ever = Period(_EVER, until)
    days = {d.date: d for d in map(record_of, ask(stored.records, "mill day", ever))}
    for period, _, figures in ask(newest_parts, "day", "figures", ever):
        day = calendar.day_of(period.start)
        days[day] = _accounted(day, figures or {}, days.get(day))
    rain = [(calendar.day_of(r.start), 1000.0 * r.value)
            for r in ask(readings_in, ever, None, [RAIN]) if r.start]  # fmt: skip
    fell = dict(rain)
    days = {d: replace(row, rain=fell[d]) if row.rain is None and d in fell else row
            for d, row in days.items()}  # fmt: skip
    stops = [replace(s, start=calendar.to_local(s.start), end=calendar.to_local(min(s.end, until)))
             for s in ask(stops_in, ever)]  # fmt: skip
    zones = _cut_by_blocks(opened, [record_of(r) for r in ask(stored.records, "zone")])
    start = calendar.first_of_season(at)
    told = replace(mill.settings, mill=replace(mill.settings.mill, season_start=start))
    own = rules(told, at)
    return given(days.values(), stops, rain, zones, own, at, calendar.day_start)


def _cut_by_blocks(opened: OpenMill, zones: list[ZoneRow]) -> list[ZoneRow]:
    """Zones whose row tells no `cut`: it is the cane received from their blocks until that day.

    Cane of no known block is shared out as the rest; where it is more than half, nothing is told.
    """
    wanting = {z.as_of for z in zones if z.cut is None and z.area_cut}
    blocks = [record_of(r) for r in opened.store.ask(stored.records, "block")] if wanting else []
    zone_of = {b.block: b.zone for b in blocks if b.zone}
    days = days_in_short(opened.store) if zone_of else []
    cut: dict[tuple[date, str], float] = {}
    for as_of in wanting:
        first = opened.mill.calendar.first_of_season(as_of).isoformat()
        tonnes = defaultdict[str, float](float)
        for group in grouped([d for d in days if first <= d.date < f"{as_of}"], "block"):
            tonnes[zone_of.get(group.name, "")] += group.kilograms / 1000.0
        whole, unknown = sum(tonnes.values()), tonnes.pop("", 0.0)
        if 2 * unknown < whole:
            cut |= {(as_of, z): t * whole / (whole - unknown) for z, t in tonnes.items()}
    return [replace(z, cut=cut.get((z.as_of, z.zone))) if z.cut is None and z.area_cut else z
            for z in zones]  # fmt: skip


def _accounted(day: date, figures: dict[str, Any], written: MillDay | None) -> MillDay:
    """An accounted day in short form; what its account does not tell stays as it was written."""

    def figure(address: str) -> float | None:
        value = (figures.get(address) or {}).get("value")
        return max(float(value), 0.0) if value is not None else None

    base = written or MillDay(day)
    cane, ccs, sugar = (figure(f"account.{n}") for n in ("cane", "ccs", "sugar"))
    return replace(base, cane=cane if cane is not None else base.cane, ccs=ccs or base.ccs,
                   sugar=sugar if sugar is not None else base.sugar)  # fmt: skip


def _keep(opened: OpenMill, at: date, made: SeasonForecast) -> None:
    """Keep a week's forecast as it was made, unless the same one stands."""
    newest = _newest(opened)
    period = opened.mill.calendar.period(at)
    kept = opened.store.ask(newest_result, KIND, period)
    if kept is not None and kept.inputs_digest == made.answer_digest:
        return
    answer = to_json(made) | {NEWEST: newest.isoformat() if newest else ""}
    keep(opened, KIND, at, made.answer_digest, answer)


def keep(opened: OpenMill, kind: str, at: date, mark: str, answer: dict[str, Any]) -> None:
    """Keep an answer of a morning with the mill file that it was made by."""
    settings = {"settings": _mark(opened, at)}
    opened.store.add_result(kind, opened.mill.calendar.period(at), mark, settings, answer)


@dataclass(frozen=True, slots=True)
class Scored:
    """One figure of a kept forecast beside what came.

    `week`: first mill day of the week that it is of, empty for the season's. `hindsight`: made
    when what came was on record already; it counts for nothing. `place`: share of the forecast's
    distribution below what came, between its quantiles.
    """

    __pydantic_config__ = NAMED

    from_: str
    made: str
    hindsight: bool
    what: str
    week: str
    q05: float | None
    q25: float | None
    q50: float | None
    q75: float | None
    q95: float | None
    came: float
    held50: bool
    held90: bool
    place: float


def scored(opened: OpenMill) -> list[Scored]:
    """The weeks of each week's first forecast, as kept, against what came of them, oldest first.

    Of a morning's forecasts the first that was made before a week began counts for it.
    """
    newest = _newest(opened)
    if newest is None:
        return []
    season = {d.date: d for d in given_of(opened, newest + timedelta(days=1)).days}
    made: list[Scored] = []
    counted: set[tuple[date, date]] = set()
    for at, kept in _of_weeks(opened):
        told = from_json(SeasonForecast, kept.answer)
        known = str(kept.answer.get(NEWEST, ""))
        starts = [date.fromisoformat(week.start) for week in told.weeks]
        for n, week in enumerate(told.weeks):
            first = starts[n]
            after = starts[n + 1] if n + 1 < len(starts) else first + timedelta(days=7)
            if after > newest + timedelta(days=1):
                break
            days = [first + timedelta(days=k) for k in range((after - first).days)]
            came = [season[d] for d in days if d in season]
            cane = sum(d.cane or 0.0 for d in came)
            sweet = sum((d.cane or 0.0) * (d.ccs or 0.0) for d in came)
            figures = {"cane": cane, "ccs": sweet / cane if cane else None,
                       "sugar": sum(d.sugar or 0.0 for d in came)}  # fmt: skip
            hindsight = known >= first.isoformat()
            if not hindsight and (at, first) in counted:
                continue
            if not hindsight:
                counted.add((at, first))
            made += [_score(told.from_, kept.made, hindsight, what, week.start, q, value)
                     for what, q, value in (("cane", week.cane, figures["cane"]),
                                            ("ccs", week.ccs, figures["ccs"]),
                                            ("sugar", week.sugar, figures["sugar"]))
                     if value is not None and q.q50 is not None]  # fmt: skip
    return made


def _score(
    from_: str, at: datetime, hindsight: bool, what: str, week: str, q: Spread, came: float
) -> Scored:
    levels, values = (0.05, 0.25, 0.5, 0.75, 0.95), _values(q)
    place = _between(came, values, levels)
    held50, held90 = (values[k] <= came <= values[-1 - k] for k in (1, 0))
    return Scored(from_, at.isoformat(), hindsight, what, week, *values, came, held50, held90,
                  place)  # fmt: skip


def _values(q: Spread) -> tuple[float, float, float, float, float]:
    low = q.q05 or 0.0
    return low, q.q25 or low, q.q50 or low, q.q75 or low, q.q95 or low


def _between(came: float, values: Sequence[float], levels: Sequence[float]) -> float:
    if came <= values[0]:
        return 0.0 if came < values[0] else levels[0]
    for a, b, la, lb in zip(values, values[1:], levels, levels[1:], strict=False):
        if came <= b:
            return la + (lb - la) * ((came - a) / (b - a) if b > a else 1.0)
    return 1.0
