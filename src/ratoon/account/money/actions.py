"""What to do after a day: jobs that its figures call for, as the stations declare them.

Safety comes first, then quality, then what costs money, dearest first, then readings to confirm.
No job is priced or asked for on a figure that a suspect reading makes or moves: first the reading
is settled. A test of sugar in boiler water is the one exception; it is acted on, suspect or not.
Nothing that costs more than it gains is asked for, nor what presses on a figure that is short.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from ratoon.account.figures.pol_account import SECTIONS
from ratoon.account.losses.by_place import net_worth
from ratoon.account.losses.sugar_in_water import LADDER
from ratoon.account.money.worth import levers
from ratoon.account.period import Z95, PeriodAccount
from ratoon.account.readings.gathered import WhyNot
from ratoon.account.results.actions import ActionResult
from ratoon.account.results.day import DayResult
from ratoon.account.results.trust import SuspectResult, WaterTest
from ratoon.base import units
from ratoon.base.errors import RatoonError
from ratoon.base.records import Figure, JobKind
from ratoon.equations import Solution
from ratoon.plant.declared import (
    BOILER_WATER,
    SHOWN,
    SUPERVISOR,
    TARGET,
    Call,
    Job,
    Lever,
    Regime,
)
from ratoon.plant.plant import Plant
from ratoon.plant.stations.stocks import without_end

ORDER = ("safety", "quality", "loss", "reading")
MENDABLE = (WhyNot.UNCERTAIN, WhyNot.COVERAGE)
"""Why a reading was not used, where a person can mend it: a pH carries no weight anyhow."""
MOST_UNUSED = 4
MOST_NAMED = 3
TOLD = 2.0  # standard uncertainties: a section stands out by so much


def actions(
    account: PeriodAccount, day: DayResult, own: Solution | str
) -> tuple[ActionResult, ...]:
    """The jobs of a day, in the order in which they are to be done.

    Parameters
    ----------
    day : the day's result, all but its actions. own : the plant as the account found it.
    """
    found = [*_calls(account, day), *_levers(account, day, own), *_confirm(account, day),
             *_entries(account, day)]  # fmt: skip
    highest = {name: n for n, name in enumerate(LADDER)}
    steps = {r.address: highest.get(r.step, -1) for r in _tests(day)}
    return tuple(sorted(found, key=lambda a: (
        ORDER.index(a.kind), -max((steps.get(x, -1) for x in a.about), default=-1),
        -(a.gain_a_day or 0.0),
    )))  # fmt: skip


def doubted(account: PeriodAccount, day: DayResult) -> frozenset[str]:
    """Addresses on which no job may stand: suspects, all of their sets, and figures they move."""
    suspect = {a for s in day.suspects for a in (s.reading, *s.equivalent)}
    suspect |= {s.reading for s in day.set_aside}
    suspect |= {without_end(a) for a in suspect}
    made = {a for a, f in account.mill.figures.items() if f.reading in suspect}
    return frozenset(suspect | made | set(day.moved))


def _calls(account: PeriodAccount, day: DayResult) -> Iterator[ActionResult]:
    barred = doubted(account, day)
    for station in account.mill.plant.works.stations:
        for call in station.calls():
            if call.figure == BOILER_WATER:
                yield from _in_boiler_water(day, call)
            elif call.at == SHOWN:
                yield from _shown(account, day, call, barred)
            else:
                yield from _past(account, call, barred)


def _tests(day: DayResult) -> tuple[WaterTest, ...]:
    return day.sugar_in_water.rows if day.sugar_in_water else ()


def _in_boiler_water(day: DayResult, call: Call) -> Iterator[ActionResult]:
    for row in _tests(day):
        if row.step == call.at and day.sugar_in_water:
            level = day.sugar_in_water.ladder[LADDER.index(row.step)]
            yield replace(_job(call.job, call.kind, f"sugar:{row.address}", (row.address,)),
                          figure=row.name, value=row.highest, level=level,
                          unit=row.unit)  # fmt: skip


def _shown(
    account: PeriodAccount, day: DayResult, call: Call, barred: frozenset[str]
) -> Iterator[ActionResult]:
    """A loss that the readings show, at the section that stands out."""
    judged = day.undetermined
    if judged is None or judged.grade != "shown" or call.figure in barred:
        return
    sections = [(s, account.figure(f"account.undetermined_{s}")) for s in SECTIONS]
    out = [s for s, f in sections if f.value and f.sigma and f.value > TOLD * f.sigma]
    where = ", ".join(s.replace("_", " ") for s in out) or "all sections"
    lost = next((part for name, part in day.losses.items() if name == call.loss), None)
    money, sigma = (lost.money, lost.money_sigma) if lost else (None, None)
    job = replace(call.job, where=call.job.where or where)
    if money is None or money > 0.0:
        yield _with(_job(job, call.kind, call.figure, (call.figure,), money, sigma),
                    account.figure(call.figure), None)  # fmt: skip


def _past(account: PeriodAccount, call: Call, barred: frozenset[str]) -> Iterator[ActionResult]:
    """A figure surely past its level."""
    told = account.mill.plant.equations.variables.get(call.figure)
    about = (call.figure, *(told.told_by if told is not None else ()))
    figure = account.figure(call.figure)
    level = call.otherwise if isinstance(call.at, str) else call.at
    if call.at == TARGET:
        level = account.mill.settings.targets.get(call.figure, level)
    if level is None or figure.value is None or figure.sigma is None or barred & set(about):
        return
    over = figure.value - level if call.side == "at most" else level - figure.value
    if over <= Z95 * figure.sigma:
        return
    money = sigma = None
    if call.loss:
        lost = account.figure(f"account.loss.{call.loss}")
        worth, _ = net_worth(account, call.loss)
        if lost.value is None or worth is None or lost.value <= 0.0:
            return
        money = lost.value * worth * (1.0 - level / figure.value)
        sigma = None if lost.sigma is None else lost.sigma * worth
    yield _with(_job(call.job, call.kind, call.figure, about, money, sigma), figure, level)


def _levers(account: PeriodAccount, day: DayResult, own: Solution | str) -> Iterator[ActionResult]:
    """Jobs that bring a figure back to its target, where that surely gains."""
    if day.status == "no crush":
        return
    barred = doubted(account, day)
    every = levers(account)
    short = {x.figure for x in every if is_short(account, x)}
    for lever in every:
        job, worth = lever.job, day.target_worth.get(lever.figure)
        if job is None or worth is None or lever.figure not in short or lever.figure in barred:
            continue
        if short & set(job.presses):
            continue
        money, sigma = worth.money, worth.money_sigma
        if money is None or money <= Z95 * (sigma or 0.0):
            continue
        made = _job(job, "loss", lever.figure, (lever.figure,), money, sigma)
        made = _with(made, account.figure(lever.figure),
                     account.mill.settings.targets[lever.figure])  # fmt: skip
        yield replace(made, limited_by=limited_by(account, own, lever))


def is_short(account: PeriodAccount, lever: Lever) -> bool:
    """Whether a figure surely misses its target, on the side that its lever mends."""
    target, figure = account.mill.settings.targets.get(lever.figure), account.figure(lever.figure)
    if target is None or figure.value is None or figure.sigma is None:
        return False
    off = (target - figure.value) * (1.0 if lever.step > 0.0 else -1.0)
    return off > Z95 * figure.sigma


def limited_by(account: PeriodAccount, own: Solution | str, lever: Lever) -> str:
    """What holds a lever back on the way to its target, in words; "" where nothing does.

    The lever is moved a little, and what stands near a limit is followed in a straight line.
    """
    plant = account.mill.plant
    target, figure = account.mill.settings.targets.get(lever.figure), account.figure(lever.figure)
    point = plant.set_point_of(lever.moved)
    if isinstance(own, str) or target is None or figure.value is None:
        return ""
    here = own.given.get(point, own.values.get(point, 0.0))
    stations = plant.works.stations
    for regime in (one for station in stations for one in station.regimes()):
        holds = any(m.figure == plant.held_by(point) for m in regime.misses)
        if holds and (words := _missed(plant, regime, own.values)):
            return words
    try:
        moved = plant.solve({**own.given, point: here + lever.by}, own.values)
    except RatoonError:
        return "the plant has no answer beyond where it stands"
    step = units.spread_from_inside(moved[lever.figure] - own[lever.figure], figure.unit)
    times = (target - figure.value) / step if step else 0.0
    for limit in (one for station in stations for one in station.limits()):
        if limit.address.endswith(".load") and limit.address in own.values:
            rise = (moved[limit.address] - own[limit.address]) * times
            full = own[limit.address] + rise
            if full > 1.0 and rise > 1e-3:
                name = account.mill.addresses[limit.address].name.partition(", of")[0]
                return f"{name} would be {100.0 * full:.0f} %: {limit.clears}".rstrip(": ")
    return ""


def _missed(plant: Plant, regime: Regime, values: Mapping[str, float]) -> str:
    """What is missed of a regime, in words; "" where it is held."""
    named = {a for m in regime.misses for a in (m.figure, m.point) if a in values}
    told = {a: units.from_inside(values[a], plant.addresses[a].unit) for a in named}
    miss = regime.missed(told)
    return "" if miss is None else miss.tell(miss.words, told, lambda v: f"{v:.1f}")


def _where(account: PeriodAccount, address: str) -> str:
    """Where a reading is taken: its instrument, or the place of the plant that it belongs to."""
    settings = account.mill.settings
    named = settings.readings.get(without_end(address))
    if named is not None and named.instrument in settings.instruments:
        return settings.instruments[named.instrument].text or named.instrument
    places = [p for station in account.mill.plant.works.stations for p in station.picture()]
    best = max(places, key=lambda p: p.hold(address), default=None)
    return best.title if best is not None and best.hold(address) else "stock-take"


def _job(
    job: Job, kind: JobKind, key: str, about: tuple[str, ...], money: float | None = None,
    sigma: float | None = None,
) -> ActionResult:  # fmt: skip
    return ActionResult(job.what, job.where, job.who, money, sigma, "", job.caution, kind,
                        key.removeprefix("account."), about)  # fmt: skip


def _with(action: ActionResult, figure: Figure, level: float | None) -> ActionResult:
    """A job with the figure that calls for it, and the level that it is past."""
    return replace(action, figure=figure.name, value=figure.value, value_sigma=figure.sigma,
                   level=level, unit=figure.unit)  # fmt: skip


def _confirm(account: PeriodAccount, day: DayResult) -> Iterator[ActionResult]:
    """One job for each suspect, and each reading that cannot be: its owner confirms or sets aside.

    What a person has decided already is not asked again.
    """
    decided, asked = set(account.gathered.decisions), set[str]()
    for suspect in day.suspects:
        about = (suspect.reading, *suspect.equivalent)
        asked |= {*about}
        if decided & {*about}:
            continue
        names = [m.name for m in suspect.members if m.kind == "measured"] or [suspect.name]
        yield _to_confirm(account, _first_read(suspect) or suspect.reading, names, about,
                          suspect.check)  # fmt: skip
    for one in day.set_aside:
        if one.reading not in asked | decided:
            yield _to_confirm(account, one.reading, [one.name], (one.reading,), one.why)


def _to_confirm(
    account: PeriodAccount, first: str, names: Sequence[str], about: tuple[str, ...], check: str
) -> ActionResult:
    info = account.mill.addresses[without_end(first)]
    told = " or ".join(map(_lower, names[:MOST_NAMED]))
    more = f", or one of {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    what = f"Confirm or set aside {told}{more}. {info.check or check}".rstrip(". ")
    return _job(Job(what, _where(account, first), info.owner), "reading", f"confirm:{first}", about)


def _lower(name: str) -> str:
    """A name within a sentence; one that begins with a symbol stays as it is."""
    return name if name[1:2].isupper() or name[1:2] == " " else name[:1].lower() + name[1:]


def _first_read(suspect: SuspectResult) -> str | None:
    """The first of a set that somebody read; None where all of it is assumed."""
    each = [(m.reading, m.kind) for m in suspect.members] or [(suspect.reading, suspect.kind)]
    return next((reading for reading, kind in each if kind == "measured"), None)


def _entries(account: PeriodAccount, day: DayResult) -> Iterator[ActionResult]:
    """Entries that people can still make: causes of stops, readings that were not used."""
    for stop in day.stops:
        if not stop.cause.strip():
            begin = datetime.fromisoformat(stop.start)
            job = Job(f"Write down the cause of the stop at {begin:%H:%M} ({stop.hours:.1f} h)",
                      stop.station, SUPERVISOR)  # fmt: skip
            yield _job(job, "reading", f"cause:{stop.start}", ())
    unused = [r for r in day.readings
              if not r.used and (r.why_not_kind in MENDABLE or not r.why_not)]  # fmt: skip
    if unused and day.status != "no crush":
        names = [f"{r.name or r.address}" + (f" ({r.why_not})" if r.why_not else "")
                 for r in unused[:MOST_UNUSED]]  # fmt: skip
        more = f" and {len(unused) - MOST_UNUSED} more" if len(unused) > MOST_UNUSED else ""
        info = account.mill.addresses.get(without_end(unused[0].address))
        yield _job(Job(f"Not used, read or enter again: {', '.join(names)}{more}",
                       _where(account, unused[0].address), info.owner if info else SUPERVISOR),
                   "reading", "unused", tuple(r.address for r in unused))  # fmt: skip
