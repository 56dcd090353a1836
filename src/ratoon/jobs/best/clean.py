"""When to clean the evaporator, from the accounted days of a season."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any, Literal

from ratoon import __version__
from ratoon.account.figures.surfaces import Season
from ratoon.base import units
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.history import DayFacts, History
from ratoon.plans.best.asked import Found
from ratoon.plans.best.scale import MoneyByScale, Scale, Surface, money_by_scale
from ratoon.plans.best.search import MillSearch
from ratoon.plans.clean.advice import Ahead, days_ahead, sets_of, told, ways_of
from ratoon.plans.clean.programme import Question
from ratoon.plans.clean.result import CleanResult
from ratoon.settings.cleaning import CleaningSettings
from ratoon.store.answers import newest_result
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.figures.since_clean import SinceClean
    from ratoon.account.mill import Mill

Waits = Literal["free", "crop"]
Settings = Literal["best", "held"]
KINDS: Mapping[Waits, str] = {"free": "clean", "crop": "clean, crop to finish"}
"""The kind of answer that is kept, by what cane does: it waits, or a crop is to be finished."""
MOST_DAYS, USUAL_DAYS = 200, 30
LOOK_BACK = 30  # accounted days whose hours tell what an ordinary day crushes
NEARLY = 0.75  # of an ordinary day's hours, from which a day's plant is an ordinary one
SLOWEST = 0.3  # of the rate aimed at, down to which the plan may see the mill slowed by scale


def clean_of(
    history: History, day: date | None = None, shown: int = USUAL_DAYS, rate: Waits = "free",
    settings: Settings = "best",
) -> CleanResult:  # fmt: skip
    """When to clean the evaporator, and what waiting costs.

    Parameters
    ----------
    day : the accounted mill day from which to go; the newest that crushed when left out.
    shown : how many days after it. rate : "free" where cane waits, "crop" for a crop to finish.
    settings : "best" for each state of scale, or "held" as on the day while scale grows.

    Raises
    ------
    BadInput : a day without cane or account, days outside 1 to 200, a mill file without prices or
        ranges, or one whose groups are not of this evaporator; a crop to finish where no hour of
        the season has a cost.
    """
    posed = pose(history, day, shown, rate, settings)
    mill, ahead, scales = history.mill, posed.ahead, posed.scales
    unseen = [e for e, _ in enumerate(mill.settings.effects, 1) if e not in scales]
    lacking = [*_lacking(mill, ahead), *(f"effect {e}: {NO_SCALE}" for e in unseen)]
    notes = _notes(mill, posed, rate, settings) if scales else []
    return told(posed.start, mill.settings.mill.currency, posed.season, scales, ahead,
                posed.question, posed.money, lacking, notes)  # fmt: skip


@dataclass(frozen=True)
class Posed:
    """The question of cleaning, as a day's account poses it; no scale seen, no question.

    `plant` is the day whose plant, cane and settings stand for those ahead.
    """

    start: date
    plant: date
    season: Season
    scales: Mapping[int, SinceClean]
    ahead: Ahead
    money: MoneyByScale | None = None
    question: Question | None = None


def pose(
    history: History, day: date | None, shown: int, rate: Waits = "free",
    settings: Settings = "best",
) -> Posed:  # fmt: skip
    """What `clean_of` answers, and raises as it does."""
    if not 1 <= shown <= MOST_DAYS:
        raise BadInput("is no number of days to plan", where="--days", value=shown,
                       allowed=f"1 to {MOST_DAYS}")  # fmt: skip
    start, mill = _start(history.days(), day), history.mill
    season = season_to(mill, history.days(), start.isoformat())
    stated = mill.settings.cleaning or CleaningSettings()
    # what is wrong in the mill file is said before any work is done
    sets = sets_of(stated.groups, range(1, len(mill.settings.effects) + 1))
    search = MillSearch(mill, mill.settings.best)
    scales = scales_of(season)
    crushes, plant = _ordinary(season)
    ahead = days_ahead(start + timedelta(days=1), shown, crushes, stated,
                       mill.settings.planned_stops)  # fmt: skip
    if not scales:
        return Posed(start, plant, season, scales, ahead)
    seen = _only(sets, scales)
    asked = asked_of(search, history.works(plant.isoformat()), rate, settings)
    money = _money(asked, search, season, plant, scales, seen, ahead)
    question = Question(money.expected(), ways_of(stated.groups, seen), ahead.days, len(seen))
    return Posed(start, plant, season, scales, ahead, money, question)


WAITS: Mapping[Waits, str] = {
    "free": "cane waits: an hour that the mill stands is an hour's earnings lost",
    "crop": "a crop is to be finished: cane that waits is crushed later for what the day's best "
    "settings earn, and an hour that the mill stands costs an hour of the season",
}
NO_SCALE = "too few coefficients, or no clean on record ([[effects]] cleaned): no scale to see"


def kept_clean(
    history: History, day: date, make: Callable[[], CleanResult], rate: Waits = "free"
) -> CleanResult:
    """The plan of the usual days from a day as it was kept, else as it is made now and kept.

    Parameters
    ----------
    day : an accounted day that crushed. make : makes the plan.
    """
    same = history.mill.calendar.same_season
    made_from = digest({
        "days": {d: f.number for d, f in history.days().items()
                 if d <= day.isoformat() and same(date.fromisoformat(d), day)},
        "settings": history.mark, "program": __version__, "shown": USUAL_DAYS,
    })  # fmt: skip
    store, period = history.opened.store, history.mill.calendar.period(day)
    kept = store.ask(newest_result, KINDS[rate], period)
    if kept is not None and kept.inputs_digest == made_from:
        return from_json(CleanResult, kept.answer)
    told = make()
    store.add_result(KINDS[rate], period, made_from, {}, to_json(told))
    return told


def scales_of(season: Season) -> dict[int, SinceClean]:
    """The effects whose scale can be seen."""
    numbers = range(1, len(season.mill.settings.effects) + 1)
    return {e: s for e in numbers if (s := season.effect(e)) is not None}


def clean_in(folder: str, day: str, shown: int, rate: Waits = "free") -> CleanResult:
    """`clean_of` in a process of its own: numbers in, numbers out."""
    with open_mill(Path(folder)) as opened:
        history = History(opened.folder, lambda: opened.store)
        return clean_of(history, date.fromisoformat(day), shown, rate)


def season_to(mill: Mill, days: Mapping[str, DayFacts], until: str) -> Season:
    """The evaporator over the accounted days of a season up to a day."""
    same, last = mill.calendar.same_season, date.fromisoformat(until)
    facts = {d: f for text, f in days.items() if text <= until
             and same(d := date.fromisoformat(text), last)}  # fmt: skip
    return Season(
        mill,
        {d: f.works["figures"] for d, f in facts.items() if f.works.get("figures")},
        {d: (f.result.period.crushing_hours or 0.0) / 24.0 for d, f in facts.items()},
    )


def _start(days: Mapping[str, DayFacts], day: date | None) -> date:
    """The accounted day to go from: it crushed."""
    ran = [date.fromisoformat(d) for d, f in days.items() if f.result.period.crushing_hours]
    if day is None and not ran:
        raise BadInput("no mill day with cane is accounted yet", todo="ratoon day DATE")
    last = day or max(ran)
    if last.isoformat() not in days:
        raise BadInput("is not accounted", where="--from", value=last.isoformat(),
                       todo="ratoon day --list names the days that are.")  # fmt: skip
    if last not in ran:
        raise BadInput(f"no cane was crushed on {last.isoformat()}: there is no plant to plan for",
                       where="--from", todo="Choose a day with an account.")  # fmt: skip
    return last


def _ordinary(season: Season) -> tuple[float, date]:
    """Hours that an ordinary day crushes, and the newest day that crushed nearly as long.

    A day cut short by rain or a stop loads the hours that it crushed with what boilers and power
    house did all day, and its cane is not that of the days ahead.
    """
    ran = [(day, 24.0 * share) for day, share in sorted(season.crushed.items())
           if share and day in season.figures][-LOOK_BACK:]  # fmt: skip
    usual = median(hours for _, hours in ran)
    return usual, max(day for day, hours in ran if hours >= NEARLY * usual)


def _only(sets: list[tuple[int, ...]], scales: Mapping[int, Any]) -> list[tuple[int, ...]]:
    """Sets without the effects whose scale is not known."""
    kept = [tuple(e for e in one if e in scales) for one in sets]
    return [one for one in kept if one]


def _money(
    asked: Found, search: MillSearch, season: Season, plant: date,
    scales: Mapping[int, SinceClean], sets: list[tuple[int, ...]], ahead: Ahead,
) -> MoneyByScale:  # fmt: skip
    surfaces = tuple(_surfaces(asked, season, plant, scales))
    place = {s.effect: k for k, s in enumerate(surfaces)}
    recovery = ahead.stated.recovery
    scale = Scale(
        surfaces, tuple(tuple(place[e] for e in one) for one in sets),
        (recovery.share, recovery.share_sigma) if recovery else (1.0, 0.0),
    )  # fmt: skip
    return money_by_scale(search, asked, scale, float(ahead.days.clock[-1]))


def asked_of(
    search: MillSearch, works: Mapping[str, Any], rate: Waits = "free", settings: Settings = "best"
) -> Found:
    """What may be set from the day: the rate up to what is aimed at, down to what scale leaves."""
    given, state = works["given"], works["state"]
    at = {a: given[search.plant.set_point_of(a)] for a in search.free}
    free = dict(search.free)
    if settings == "held":
        free = {a: search.held_at(a, at[a]) for a in free}
    if search.rate in free:
        known, ran = search.free[search.rate], at[search.rate]
        aim = max(search.mill.settings.cane.rate, ran)
        top = min(aim, max(known.high, ran))
        free[search.rate] = replace(known, low=min(known.low, SLOWEST * aim), high=top)
    return search.ask(given, state, rate if search.rate in free else "held", free)


def _surfaces(
    asked: Found, season: Season, plant: date, scales: Mapping[int, SinceClean]
) -> Iterator[Surface]:
    mill = season.mill
    heats = mill.roles.keyed("heat of effect")
    for effect, since in scales.items():
        address, heat = season.coefficient(effect), heats[str(effect)]
        yield Surface(
            effect, mill.plant.set_point_of(address), since, mill.plant.addresses[address].unit,
            1.0 / season.to_usual(effect, plant)[0],
            asked.today[heat] / mill.settings.effects[effect - 1].area,
        )  # fmt: skip


def _lacking(mill: Mill, ahead: Ahead) -> Iterator[str]:
    stated = ahead.stated
    if not stated.groups:
        yield ("[[cleaning.groups]]: effects that are cleaned together, hours, cost; without it no "
               "clean is planned, and only the cost of waiting is told")  # fmt: skip
    if stated.recovery is None:
        yield "[cleaning.recovery]: how clean it gets; taken as earlier cleans left it"
    if not mill.settings.planned_stops:
        yield "[[planned_stops]]: stops in which a clean costs no crushing"
    elif not any(ahead.days.stands[: ahead.shown]):
        yield "[[planned_stops]]: none in these days"
    rain = stated.rain
    dates = [ahead.date(k) for k in range(ahead.shown)]
    silent = sorted({d.month for d in dates if rain is None or rain.chance(d) is None})
    if silent:
        named = ", ".join(date(2000, m, 1).strftime("%B") for m in silent)
        yield f"[cleaning.rain]: chance of a rain stop in {named}; taken as none"


SET: Mapping[Settings, str] = {
    "best": "Settings are the best ones for each state of scale, within the ranges of the mill "
    "file: a plant that is not set anew as scale grows bears less of it (--settings held).",
    "held": "Settings stay as on the day; where scale leaves no more, liquor gets thinner within "
    "its range, and then the mill slows.",
}


def _notes(mill: Mill, posed: Posed, asked: Waits, settings: Settings) -> list[str]:
    ahead, plant = posed.ahead, posed.plant.isoformat()
    rate = units.from_inside(mill.settings.cane.rate, "t/h")
    aim = "the rate stays the day's"
    if mill.roles.at("{cane}.rate") in mill.settings.best.free:
        aim = (
            f"{WAITS[asked]}; it crushes up to {rate:.0f} t/h, or what the day did, and less where "
            "scale leaves no more"
        )
    short = [] if posed.plant == posed.start else [
        f"{posed.start.isoformat()} crushed for part of a day only: plant, cane and settings are "
        f"those of {plant}, the newest day that crushed nearly as long as an ordinary one."
    ]  # fmt: skip
    return [
        *short,
        f"Taken: {aim}.",
        SET[settings],
        f"A clean's gain is counted to {ahead.date(len(ahead.days) - 1).isoformat()}, and is what "
        "leaving it out would lose with the other cleans on their days.",
        "Coefficients of neighbouring effects trade: the drop of a set of effects is surer than "
        "the slope of one, which may be off by more than its interval.",
    ]
