"""The settings that earn the most, from an accounted day."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from ratoon.account.readings.given import from_account
from ratoon.base import units
from ratoon.base.errors import BadInput, RatoonError, UnknownName
from ratoon.base.records import Decision
from ratoon.jobs.sheet.day import has_records
from ratoon.jobs.sheet.to_date import load
from ratoon.jobs.trial.choices import Choices
from ratoon.plans.best.advice import told
from ratoon.plans.best.asked import Bound, Found, Rate
from ratoon.plans.best.ladder import curve, ladder
from ratoon.plans.best.moves import draws, moves
from ratoon.plans.best.result import SOLVERS, BestResult, LadderResult, NoBest, SolverName, WhyNot
from ratoon.plans.best.search import MillSearch, NoBestFound

if TYPE_CHECKING:
    from ratoon.account.period import PeriodAccount
    from ratoon.account.readings.gathered import Gathered
    from ratoon.jobs.mills import OpenMill

MOST_DRAWS = 20_000
Range = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asks of the best settings, in trade units.

    Parameters
    ----------
    rate : "held" at the day's, "free" within its range, "crop" for a crop to finish, or
        t/h. free, limits : ranges by address, narrower than the mill file's, and limits in their
        place or beside them. draws : of the day's uncertainty; with None neither these nor curves
        are made. solver : which one looks for the best. choices : whether vessels, pans
        and bleeds are tried too.
    """

    rate: Rate = "held"
    free: Mapping[str, Range] | None = None
    limits: Mapping[str, Range] | None = None
    draws: int | None = 200
    solver: str = "ipopt"
    choices: bool = False


def best_of(opened: OpenMill, day: date, asked: Asked) -> BestResult:
    """The best settings of a day's works.

    Raises
    ------
    BadInput, UnknownName : a day without cane or account, an address that is not known or cannot
        be free, a range wider than the mill file's, a mill file without ranges or prices.
    NoneFound : no best state was found.
    """
    if asked.draws is not None and not 1 <= asked.draws <= MOST_DRAWS:
        raise BadInput("is no number of draws", where="--draws", value=asked.draws,
                       allowed=f"1 to {MOST_DRAWS:,}", todo="--no-draws leaves them out.",
                       )  # fmt: skip
    return _best(_Question.of(opened, day, asked), day, asked)


def both_of(opened: OpenMill, day: date, asked: Asked) -> tuple[BestResult, LadderResult]:
    """The best settings and the ladders of one account of the day. Raises as `best_of`."""
    question = _Question.of(opened, day, asked)
    return _best(question, day, asked), _ladder(opened, question, day)


def _best(question: _Question, day: date, asked: Asked) -> BestResult:
    search, found, answer = question.search, question.found(), question.today.answer
    assert answer is not None
    others = question.others()
    barred = question.suspects()
    moved = [m for m in moves(search, found, others.values()) if m.address not in barred]
    drawn = draws(search, found, answer, asked.draws, moved) if asked.draws else None
    curves = {}
    for address in found.free.keys() & search.curved if asked.draws else ():
        if (made := curve(search, found, address)) is not None:
            curves[address] = made
    best = told(search, found, question.rate, day.isoformat(), moved, drawn, curves, others)
    if not asked.choices:
        return best
    return replace(best, choices=Choices(search, found).told())


def ladder_of(opened: OpenMill, day: date, asked: Asked) -> LadderResult:
    """The ladders of limits from a day, with the rate free. Raises as `best_of`."""
    return _ladder(opened, _Question.of(opened, day, replace(asked, rate="free")), day)


def _ladder(opened: OpenMill, question: _Question, day: date) -> LadderResult:
    found = replace(question, rate="free").found()
    return ladder(question.search, found, day.isoformat(), opened.mill.settings.best)


def why_none(error: NoBestFound, day: date) -> NoBest:
    """What stands in the way where `best_of` found nothing."""
    found = error.search.in_the_way(error.asked)
    told = "; ".join(f"{b.name} {'at least' if b.side == 'low' else 'at most'} "
                     f"{b.limit:.4g} {b.unit}".rstrip() for b in found)  # fmt: skip
    words = f"not kept together: {told}" if found else "nothing in particular was found"
    return NoBest(day.isoformat(), "none found", WhyNot(found, words))


@dataclass(frozen=True)
class _Question:
    """A day's account, and what is asked of its works."""

    search: MillSearch
    gathered: Gathered
    today: PeriodAccount
    rate: Rate
    free: Mapping[str, Bound]
    limits: Mapping[str, Bound]

    @classmethod
    def of(cls, opened: OpenMill, day: date, asked: Asked) -> _Question:
        from ratoon.account.period import account

        season = load(opened, day)
        has_records(opened, season, day)
        mill = season.mill
        search = MillSearch(mill, opened.mill.settings.best, tuple(asked.limits or ()),
                            _solver(asked.solver))  # fmt: skip
        today = account(mill, season.day(day))
        if today.answer is None:
            raise BadInput(f"no cane was crushed on {day.isoformat()}: there is nothing to set",
                           todo="Choose a day with an account.")  # fmt: skip
        rate = asked.rate
        if isinstance(rate, float):
            rate = units.to_inside(rate, mill.plant.addresses[search.rate].unit)
        return cls(
            search, season.day(day), today, rate,
            {search.figure(a): _narrower(search, a, r) for a, r in (asked.free or {}).items()},
            {a: _stated(search, a, r) for a, r in (asked.limits or {}).items()},
        )  # fmt: skip

    def found(self, today: PeriodAccount | None = None) -> Found:
        """The best settings of the day's plant, or of another account of the day."""
        answer = (today or self.today).answer
        assert answer is not None
        given = from_account(self.search.plant, answer, self.gathered.constants)
        return self.search.ask(given, answer.state, self.rate, self.free, self.limits)

    def others(self) -> dict[str, Found]:
        """Where readings contradict one another: the best with each of those suspect left out."""
        from ratoon.account.period import account

        found = {}
        doubted = self.doubted()
        for one in doubted:
            period = self.gathered.period
            said = {a: Decision(period.start, period.end, a, a == one, "doubted", "ratoon best")
                    for a in doubted}  # fmt: skip
            other = replace(self.gathered, decisions={**self.gathered.decisions, **said},
                            notes=list(self.gathered.notes))  # fmt: skip
            try:
                found[one] = self.found(account(self.search.mill, other))
            except RatoonError:
                continue  # without it the day has no account, or no best settings
        return found

    def suspects(self) -> set[str]:
        """Readings that the others speak against or that are set aside: no move stands on them."""
        answer, settled = self.today.answer, self.today.settled
        told = {a for s in (answer.suspects if answer else ()) for a in (s.address, *s.equivalent)}
        return told | {*(settled.aside if settled else ())}

    def doubted(self) -> list[str]:
        """The readings of the first set that the others speak against, where any is."""
        answer, settled = self.today.answer, self.today.settled
        assert answer is not None
        first = next((s for s in (settled.aside if settled else {}).values() if s), None)
        first = first or next(iter(answer.suspects), None)
        read = {r.address for r in self.gathered.readings if r.kind == "measured"}
        return [a for a in (first.address, *first.equivalent) if a in read] if first else []


def _solver(name: str) -> SolverName:
    for one in SOLVERS:
        if one == name:
            return one
    raise BadInput("unknown solver", where="--solver", value=name, allowed=", ".join(SOLVERS))


def _narrower(search: MillSearch, address: str, asked: Range) -> Bound:
    """A range of `--free`, inside the mill file's."""
    if address not in search.plant.addresses:
        raise UnknownName("address", address, search.plant.addresses, where="--free")
    figure = search.figure(address)
    known = search.free.get(figure)
    if known is None:
        raise BadInput("has no range in the mill file, so it is not free", where="--free",
                       value=address, allowed=", ".join(search.free))  # fmt: skip
    low, high = search.inside(figure, *asked, where=f"--free {address}")
    low, high = (k if math.isinf(x) else x for x, k in ((low, known.low), (high, known.high)))
    if low < known.low or high > known.high:
        unit = search.plant.addresses[figure].unit
        ends = [units.from_inside(x, unit) for x in (known.low, known.high)]
        raise BadInput("is wider than the mill file's range", where=f"--free {address}",
                       value=f"{asked[0]}:{asked[1]}",
                       allowed=f"{ends[0]:g} to {ends[1]:g} {unit}".strip())  # fmt: skip
    return Bound(low, high, low, high, "asked for")


def _stated(search: MillSearch, address: str, asked: Range) -> Bound:
    low, high = search.inside(address, *asked, where=f"--limit {address}")
    return Bound(low, high, low, high, "asked for")
