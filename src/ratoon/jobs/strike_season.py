"""What a season's strikes say of one another: a grade's constants, false grain, what went wrong.

A strike is held against those of the weeks round it, which are read whenever it is asked for. A fit
takes half a minute of a processor, so it is kept, and made anew only when somebody asks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.base.strikes import StrikeFigure, strike_figure
from ratoon.jobs.strikes.rows import STRIKE, TRACE, rows_in, traces_in
from ratoon.plant.pan.constants import Constant
from ratoon.plant.pan.faults import faults
from ratoon.plant.pan.grain import Grain, grains
from ratoon.plant.pan.records import StrikeRecord, strikes_of
from ratoon.store.answers import last_before, newest_result
from ratoon.store.cane import kept as cane
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import seen_by

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

KIND = "strike fit"
TOLD = "strikes told"
DAYS, ROUND, BACK = 14, timedelta(days=7), timedelta(days=21)
"""Days of which strikes are told together, beside those of how long round them; how long back a
running strike's and a fit's forerunners go."""
SEASON = 1000
"""Strikes of a season, where fewer are on record: for how many a false call is to be expected."""
NEWEST, FEWEST = 40, 15
"""Strikes of a grade that a fit takes, and without which there is none."""
_EVER = Period(datetime(1950, 1, 2, tzinfo=UTC), datetime(2200, 1, 2, tzinfo=UTC))


@dataclass(frozen=True, slots=True)
class FalseGrain:
    """False grain in a strike; `time` is the middle of when it can have been made."""

    time: str
    fines: StrikeFigure
    chance: float
    why: str


@dataclass(frozen=True, slots=True)
class Said:
    """What is to be said of a strike beside the others."""

    false_grain: FalseGrain | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class GradeFit:
    """A grade's constants as kept: of how many strikes, how much worse than they were read."""

    grade: str
    constants: Mapping[str, Constant]
    strikes: int
    worse: float
    converged: bool


def season_of(opened: OpenMill, at: datetime, grade: str) -> list[StrikeRecord]:
    """The strikes of a grade in the weeks before a moment."""
    return _told(opened, Period(at - BACK, at + timedelta(minutes=1)), grade)


def _told(opened: OpenMill, near: Period, grade: str | None = None) -> list[StrikeRecord]:
    rows = [r for r in opened.store.ask(rows_in, near) if grade in (None, r.grade)]
    return strikes_of(rows, opened.store.ask(traces_in, near, {r.strike for r in rows}))


def said_of(opened: OpenMill, s: StrikeRecord) -> Said:
    """What is to be said of one strike; what is said of a fortnight's is kept until it changes."""
    if s.drop is None or s.contradictions:
        return Said()
    ask, calendar = opened.store.ask, opened.mill.calendar
    first = calendar.day_of(s.drop).toordinal() // DAYS * DAYS
    period = Period(calendar.period(date.fromordinal(first)).start,
                    calendar.period(date.fromordinal(first + DAYS)).start)  # fmt: skip
    near = Period(period.start - ROUND, period.end + ROUND)
    kept = ask(newest_result, TOLD, period)
    if kept is None or ask(cane.appended, [STRIKE, TRACE], ask(seen_by, kept), near):
        made = to_json(_all_said(opened, near))
        opened.store.add_result(TOLD, period, digest(made), {}, made)
    else:
        made = kept.answer
    return from_json(Said, made[s.id]) if s.id in made else Said()


def _all_said(opened: OpenMill, near: Period) -> dict[str, Said]:
    """What is to be said of the strikes of some weeks, those alone of which something is."""
    mill = opened.mill_on(opened.mill.calendar.day_of(near.end))
    by_grade: dict[str, list[StrikeRecord]] = {}
    for one in _told(opened, near):
        if not one.contradictions:
            by_grade.setdefault(one.grade, []).append(one)
    clock = _clock(mill)

    def written(at: datetime) -> str:
        return mill.calendar.to_local(at).isoformat(timespec="minutes")

    lines = faults(by_grade, _shift(mill), clock)
    tested = max(sum(map(len, by_grade.values())), SEASON)
    found = {name: Said(None, tuple(notes)) for name, notes in lines.items()}
    for strikes in by_grade.values():
        for name, grain in grains(strikes, tested).items():
            said = _said(grain, lines.get(name, []), clock, written)
            if said.notes:
                found[name] = said
    return found


def _said(
    grain: Grain, notes: list[str], clock: Callable[[datetime], str],
    written: Callable[[datetime], str],
) -> Said:  # fmt: skip
    share, half = 100.0 * grain.fines, 196.0 * grain.sigma
    if grain.called:
        why = (f"the sieves keep less than of the grade's clean strikes, in the shape of fines: "
               f"{share:.1f} ± {half:.1f} % of the crystal (95 %), made between "
               f"{clock(grain.since)} and {clock(grain.until)}")  # fmt: skip
        middle = grain.since + (grain.until - grain.since) / 2
        fines = strike_figure("fines", grain.fines, grain.sigma, "found")
        return Said(FalseGrain(written(middle), fines, grain.chance, why),
                    (f"false grain: {why}", *notes))  # fmt: skip
    if grain.fines > 1.96 * grain.sigma:
        line = (f"false grain: cannot tell; fines {share:.1f} ± {half:.1f} % of the crystal, and "
                f"less than {100 * grain.least:.1f} % is not told surely here")  # fmt: skip
        notes = [*notes, line]
    return Said(None, tuple(notes))


def _clock(mill: Mill) -> Callable[[datetime], str]:
    return lambda at: f"{mill.calendar.to_local(at):%H:%M}"


def _shift(mill: Mill) -> Callable[[datetime], str]:
    """The shift of a moment."""
    names: dict[date, list[tuple[Period, str]]] = {}

    def shift(at: datetime) -> str:
        day = mill.calendar.day_of(at)
        if day not in names:
            names[day] = [
                (p, f"the {shift.name} shift") for shift, p in mill.calendar.shift_periods(day)
            ]
        return next((name for p, name in names[day] if p.start <= at < p.end), "no shift")

    return shift


def kept_fit(opened: OpenMill, grade: str) -> Mapping[str, Constant] | None:
    """A grade's constants as they were fitted last; None where they never were."""
    kept = opened.store.ask(last_before, [f"{KIND} {grade}"], _EVER)
    return None if kept is None else from_json(GradeFit, kept.answer).constants


def fit_grade(
    opened: OpenMill, grade: str, progress: Callable[[str], None] | None = None
) -> GradeFit:
    """Fit a grade's constants to its newest strikes and keep them.

    Raises
    ------
    BadInput : too few strikes that tell what a fit needs.
    """
    from ratoon.plant.pan.course_of import courses_of
    from ratoon.plant.pan.fit import MIDDLE, fit

    newest = opened.store.ask(cane.newest, STRIKE)
    pans = opened.mill.settings.pans.get(grade)
    strikes = season_of(opened, newest, grade) if newest and pans and grade in MIDDLE else []
    by_grade = {grade: [s for s in strikes if not s.contradictions]}
    odd = {k for k, lines in faults(by_grade, lambda at: "", _clock(opened.mill)).items() if lines}
    sound = [s for s in by_grade[grade] if s.drop and s.id not in odd][-NEWEST:]
    full = max(pans.strikes, default=0.0) if pans else 0.0
    many = courses_of(sound, pans.dry_on_brix, full) if pans and full else []
    if len(many) < FEWEST or newest is None:
        raise BadInput(f"{len(many)} strikes of {grade} tell what was charged, fed and read",
                       where="strikes", allowed=f"{FEWEST} or more",
                       todo="Write down start, footing or seed, feed and vacuum.")  # fmt: skip
    if progress:
        progress(f"fitting the constants of {grade} to its newest {len(many)} strikes")
    found = fit(grade, many)
    made = GradeFit(grade, found.constants(), len(found.strikes), found.misfit / found.readings,
                    found.converged)  # fmt: skip
    answer = to_json(made)
    period = opened.mill.calendar.period(opened.mill.calendar.day_of(newest))
    opened.store.add_result(f"{KIND} {grade}", period, digest(answer), {}, answer)
    return made
