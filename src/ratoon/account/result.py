"""The day's result: figures, losses, readings, suspects, words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from ratoon.account.figures.chemicals import chemicals
from ratoon.account.figures.working import workings
from ratoon.account.learn import learnt_words
from ratoon.account.losses import by_place as losses
from ratoon.account.losses.evidence import loss_evidence
from ratoon.account.losses.sugar_in_water import sugar_in_water
from ratoon.account.losses.swing import swing_part
from ratoon.account.losses.undetermined import judge
from ratoon.account.money.actions import actions
from ratoon.account.money.worth import own_works, target_worth, worth_part
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.gathered import NoteKind
from ratoon.account.readings.moved import moved_part
from ratoon.account.readings.shifts import shift_parts, shifts_apart
from ratoon.account.results.day import (
    DayPeriod,
    DayResult,
    FigureResult,
    Load,
    LostTime,
    Seconds,
    Span,
    Status,
    StopResult,
    ToDate,
    Versions,
    Words,
)
from ratoon.account.results.trust import GlobalTest, Judged, WithAll
from ratoon.account.results.worth import Prices
from ratoon.account.trust import suspects as doubts
from ratoon.account.trust.next_reading import next_reading
from ratoon.account.trust.robust import robust_part
from ratoon.base.records import Period, Stop, joined, main_cause
from ratoon.plant.stations.stocks import is_stock


@dataclass(frozen=True, slots=True)
class Made:
    """The accounts to date that end with a day, and what its result was made from and by."""

    to_date: Mapping[Span, ToDate]
    inputs_digest: str
    versions: Versions
    seconds: Seconds


OF_COVERAGE = (NoteKind.UNREAD, NoteKind.COVERAGE)
BASIS = (
    "sucrose; pol counts as sucrose in juices, liquor and sugar; massecuites and molasses by true "
    "dry substance and true purity"
)


def figure_part(account: PeriodAccount, address: str) -> FigureResult:
    f = account.figure(address)
    return FigureResult(f.value, f.unit, f.sigma, f.kind, f.name)


def figures(account: PeriodAccount) -> dict[str, FigureResult]:
    """The figures that are always there, and those the sheet shows beside them."""
    return {a: figure_part(account, a) for a in (*account.mill.always, *account.mill.also)}


def with_all(account: PeriodAccount) -> dict[str, WithAll] | None:
    """The figures as they would be with every reading in."""
    whole = account.with_all
    if whole is None:
        return None
    found = {a: whole.figure(a) for a in (*account.mill.always, *account.mill.also,
                                          *losses.LOSS_ADDRESSES)}  # fmt: skip
    return {a: WithAll(f.value, f.sigma) for a, f in found.items()}


def global_test(account: PeriodAccount) -> GlobalTest | None:
    if account.answer is None:
        return None
    test = account.answer.global_test
    return GlobalTest(test.statistic, test.dof, test.p)


def to_date_part(account: PeriodAccount, first: date, days: int) -> ToDate:
    """An account of several days, as sheets show it.

    Parameters
    ----------
    first : its first mill day. days : how many of its days are recorded.
    """
    judged = judge(account, called_it="stretch of days")
    return ToDate(
        from_=first.isoformat(),
        days=days,
        figures=figures(account),
        losses=losses.loss_parts(account),
        pol=losses.pol_parts(account),
        undetermined_is_real=judged.shown,
        undetermined=judged,
        global_test=global_test(account),
    )


def fullest(account: PeriodAccount, most: int = 3) -> tuple[Load, ...]:
    """The stations nearest to their ratings while crushing, the fullest first; one of each kind."""
    if account.gathered.crushing <= 0.0:
        return ()
    rated = [one.address for station in account.mill.plant.works.stations
             for one in station.limits() if one.is_load]  # fmt: skip
    found = [account.figure(address) for address in rated]
    loads = [Load(f.address, f.name, f.value, f.sigma) for f in found if f.value is not None]
    kinds: dict[str, Load] = {}
    for one in sorted(loads, key=lambda one: -one.value):
        kinds.setdefault(one.address.partition(".")[0], one)
    return tuple(kinds.values())[:most]


def status_of(account: PeriodAccount) -> Status:
    """complete: every headline figure is determined; partial; or no crush."""
    if account.gathered.crushing <= 0.0:
        return "no crush"
    addresses = account.mill.addresses
    wanted = [a for a in account.mill.always if a in addresses]
    if any(account.figure(a).value is None for a in wanted):
        return "partial"
    asked = {a for a in account.mill.settings.readings if not is_stock(a)}
    missing = asked - account.read_addresses
    return "partial" if len(missing) > 0.25 * len(asked) else "complete"


def stop_parts(account: PeriodAccount, stops: list[Stop]) -> tuple[StopResult, ...]:
    """Stops cut to the period, in order."""
    period, zone = account.gathered.period, account.mill.calendar.to_local
    out = []
    for s in sorted(stops, key=lambda s: (s.start, s.end)):
        begin, end = max(s.start, period.start), min(s.end, period.end)
        if end > begin:
            out.append(StopResult(zone(begin).isoformat(), zone(end).isoformat(), s.station,
                                  s.cause, s.note, Period(begin, end).hours))  # fmt: skip
    return tuple(out)


def lost_time(account: PeriodAccount, stops: list[Stop]) -> tuple[LostTime, ...]:
    """Crushing hours lost to each cause; time under two stops at once counts to the first."""
    from ratoon.account.readings.gather import MILLS

    period, reached = account.gathered.period, account.gathered.period.start
    hours: dict[str, float] = dict(account.gathered.lost)
    count = Counter[str]()
    for s in joined(stops):
        if s.station.strip().lower() not in MILLS:
            continue
        begin, end = max(s.start, reached), min(s.end, period.end)
        if end > begin:
            cause = main_cause(s.cause)
            hours[cause] = hours.get(cause, 0.0) + (end - begin).total_seconds() / 3600.0
            count[cause] += 1
            reached = end
    return longest_first(hours, count)


def longest_first(hours: Mapping[str, float], count: Mapping[str, int]) -> tuple[LostTime, ...]:
    """Hours by cause, the longest first; of hours without clock times nobody knows the stops."""
    return tuple(LostTime(c, h, count.get(c))
                 for c, h in sorted(hours.items(), key=lambda x: -x[1]))  # fmt: skip


def day_result(
    account: PeriodAccount,
    day: date,
    stops: list[Stop],
    made: Made,
    judged: Judged | None = None,
    steady: tuple[PeriodAccount, str] | None = None,
) -> DayResult:
    """Everything a sheet shows of a day, but for what other days' results tell.

    Parameters
    ----------
    made : its accounts to date, and what it was made from and by.
    judged : its undetermined loss judged with the day before; by itself where none is given.
    steady : an account of more days and what it is called, for a day that rests on stock.
    """
    swing = swing_part(account, steady)
    judged = replace(judged or judge(account), evidence=loss_evidence(account))
    mill, gathered, settings = account.mill, account.gathered, account.mill.settings
    zone, prices = mill.calendar.to_local, account.mill.settings.prices
    shown, listed = figures(account), doubts.suspects(account)
    own = own_works(account)
    worth = worth_part(account, own)
    made_of_it = DayResult(
        date=day.isoformat(),
        mill=mill.name,
        status=status_of(account),
        period=DayPeriod(
            zone(gathered.period.start).isoformat(), zone(gathered.period.end).isoformat(),
            gathered.whole / 3600.0, gathered.crushing / 3600.0,
        ),
        basis=BASIS,
        figures=shown,
        pol=losses.pol_parts(account),
        losses=losses.loss_parts(account, steady if swing else None),
        swing=swing,
        readings=doubts.reading_parts(account),
        suspects=listed,
        moved=moved_part(account, [*shown, *losses.LOSS_ADDRESSES]),
        global_test=global_test(account),
        undetermined_is_real=judged.shown,
        undetermined=judged,
        set_aside=doubts.set_aside(account),
        with_all=with_all(account),
        mill_name=mill.name,
        invented=settings.mill.invented,
        stops=stop_parts(account, stops),
        lost_time_by_cause=lost_time(account, stops),
        targets=dict(settings.targets),
        stocks=losses.stock_parts(account),
        unchecked=doubts.unchecked(account),
        words=Words(
            judged.words,
            doubts.suspect_words(listed, account.settled.marked if account.settled else set()),
            tuple(n.words for n in gathered.notes if n.kind in OF_COVERAGE),
            (*(n.words for n in gathered.notes if n.kind not in OF_COVERAGE),
             *learnt_words(mill, min((date.fromisoformat(p.from_) for p in made.to_date.values()),
                                     default=day))),
        ),
        working=workings(account, [*shown, *losses.LOSS_ADDRESSES]),
        prices=Prices(
            settings.mill.currency, prices.sugar, prices.molasses, prices.bagasse, prices.power
        ),
        shifts=shift_parts(account),
        shifts_apart=shifts_apart(account),
        worth=worth,
        target_worth=target_worth(account, worth),
        next_reading=next_reading(account),
        sugar_in_water=sugar_in_water(account),
        robust=robust_part(account),
        chemicals=chemicals(account),
        loads=fullest(account),
        to_date=made.to_date,
        inputs_digest=made.inputs_digest,
        versions=made.versions,
        seconds=made.seconds,
    )  # fmt: skip
    return replace(made_of_it, actions=actions(account, made_of_it, own))
