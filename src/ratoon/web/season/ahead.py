"""The pages Stops and Fuel as records: what they show, ready to be written."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from ratoon.plans.season.answer import Spread
from ratoon.plans.season.fuel_answer import FuelAnswer
from ratoon.plans.season.stops_answer import StopsAnswer
from ratoon.plant.cautions import BAGASSE_FIRE, DEFER
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import decimals_of, grouped, signed
from ratoon.web.days import DayPlace
from ratoon.web.season.drawing import share_drawing, stop_drawing

CASES = {"rain": "the next wet spell", "stop": "the next planned stop", "end": "to the finish",
         "start": "to the finish and the next start"}  # fmt: skip
BURNS = {"held": "boilers held hot", "low": "low fire", "power": "power made to sell"}
CHOICES = {"run": "run on to the planned stop", "slow": "run slowly to the planned stop",
           "stop": "stop now and mend it"}  # fmt: skip
TWO_SIGMA = 1.96


@dataclass(frozen=True, slots=True)
class StopRow:
    """The stop on one day."""

    day: str
    hours: str
    fouling: str
    risk: str
    age: str
    crew: str
    money: str
    sigma: str


@dataclass(frozen=True, slots=True)
class FaultForm:
    """A fault as it was typed, why it cannot be so, and what each choice costs with it."""

    station: str = ""
    slow: str = ""
    repair: str = ""
    worse: str = ""
    refusal: str = ""
    choices: tuple[tuple[str, str, str], ...] = ()
    stations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StopsPage:
    """The page; `none` says why there is no answer, and then nothing else is there."""

    place: DayPlace
    title: str
    mill_name: str
    at: str
    none: str = ""
    stop: str = ""
    advice: str = ""
    gain: str = ""
    picture: Markup = Markup("")
    days: tuple[StopRow, ...] = ()
    rules: tuple[tuple[str, str, str], ...] = ()
    currency: str = "$"
    lacking: tuple[str, ...] = ()
    fault: FaultForm = FaultForm()


@dataclass(frozen=True, slots=True)
class FuelRow:
    """Whether the fuel lasts a case at a burn."""

    case: str
    burn: str
    chance: str
    picture: Markup
    feeds: str
    stands: str
    short: str


@dataclass(frozen=True, slots=True)
class FuelPage:
    """The page; `none` says why there is no answer, and then nothing else is there."""

    place: DayPlace
    title: str
    mill_name: str
    at: str
    none: str = ""
    store: str = ""
    surveyed: str = ""
    net: str = ""
    worth: str = ""
    cases: tuple[FuelRow, ...] = ()
    advice: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    cautions: str = f"{BAGASSE_FIRE} {DEFER}"


def stops_page(place: DayPlace, title: str, mill_name: str, told: StopsAnswer) -> StopsPage:
    """The page of the next stop."""
    s, a, sign = told.stop, told.advice, told.currency
    stop = "" if s is None else f"{s.cause}, {s.hours:g} h, planned for {day_in_words(s.date)}"
    band = TWO_SIGMA * a.sigma
    gain = f"{sign}{grouped(a.gain, 0)}, 95 %: {sign}{grouped(a.gain - band, 0)} to {sign}" \
           f"{grouped(a.gain + band, 0)}" if a.gain else ""  # fmt: skip
    days = tuple(
        StopRow(day_in_words(d.date), grouped(d.hours_lost, 1), _money(d.fouling), _money(d.risk),
                _money(d.age), _money(d.crew), _moved(d.money, d.sigma),
                grouped(TWO_SIGMA * d.sigma, 0))
        for d in told.days
    )  # fmt: skip
    rules = tuple((r.rule, _moved(r.money, r.sigma), grouped(TWO_SIGMA * r.sigma, 0))
                  for r in told.rules)  # fmt: skip
    picture = Markup(stop_drawing(told.days, sign)) if len(told.days) > 1 else Markup("")
    return StopsPage(place, title, mill_name, day_in_words(told.from_), "", stop, a.what, gain,
                     picture, days, rules, sign, told.lacking)  # fmt: skip


def choices_of(told: StopsAnswer) -> tuple[tuple[str, str, str], ...]:
    """What is done with a fault, its money beside no fault at all, and its 95 % interval."""
    return tuple((CHOICES[c.choice], _moved(c.money, c.sigma), grouped(TWO_SIGMA * c.sigma, 0))
                 for c in told.fault or ())  # fmt: skip


def fuel_page(place: DayPlace, title: str, mill_name: str, told: FuelAnswer) -> FuelPage:
    """The page of the fuel."""
    s, n = told.store, told.net
    rows = tuple(
        FuelRow(CASES[c.case], BURNS[c.burn], f"{100 * c.lasts:.0f} %",
                Markup(share_drawing(f"{CASES[c.case]}, {BURNS[c.burn]}", c.lasts)),
                _range(c.hours), _range(c.asks), _most(c.short))
        for c in told.cases
    )  # fmt: skip
    worth = "" if told.worth_t is None else f"{told.currency}{told.worth_t:.2f}"
    return FuelPage(
        place, title, mill_name, day_in_words(told.from_), "",
        f"{grouped(s.value, -2)} t, give or take {grouped(TWO_SIGMA * s.sigma, -2)} (95 %)",
        day_in_words(s.surveyed) if s.surveyed else "never: the mill file's word",
        f"{n.value:.1f} {n.unit}, give or take {TWO_SIGMA * n.sigma:.1f} (95 %)", worth, rows,
        tuple(one.words for one in told.advice), told.lacking,
    )  # fmt: skip


def _money(value: float | None) -> str:
    return "not known" if value is None else grouped(value, 0)


def _moved(value: float, sigma: float) -> str:
    return signed(value, decimals_of(value, sigma, "")) if sigma else grouped(value, 0)


def _range(q: Spread) -> str:
    """The middle, and what nine futures in ten are between."""
    if q.q50 is None or q.q05 is None or q.q95 is None:
        return ""
    middle, low, high = (grouped(v, 0) for v in (q.q50, q.q05, q.q95))
    return middle if low == high else f"{middle} ({low} to {high})"


def _most(q: Spread) -> str:
    return "" if q.q95 is None else grouped(q.q95, 0)
