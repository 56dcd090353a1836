"""The page of cleaning: scale on each effect, what waiting costs, which cleans pay and when."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date as date_type

from ratoon.plans.clean.result import Clean, CleanResult, EffectScale, LawFit
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import Shown, grouped, show, show_money
from ratoon.web.days import DayPlace

UNIT = "kW/m2.K"
WEEK = 7
SPANS = (14, 30, 60, 90)
"""Days ahead that a person can choose; the page opens with the second."""
RATES = (("free", "cane waits"), ("crop", "a crop to finish"))


@dataclass(frozen=True, slots=True)
class EffectRow:
    """An effect as it stands: figures as people read them."""

    name: str
    cleaned: str
    crushed: str
    clean: Shown
    now: Shown
    week: Shown
    brix: str


@dataclass(frozen=True, slots=True)
class LawRow:
    """One law of scale of an effect, or of a vessel that is told apart."""

    of: str
    law: str
    slope: str
    chi2: str
    weight: str


@dataclass(frozen=True, slots=True)
class CleanRow:
    """A clean that is advised."""

    day: str
    what: str
    hours: str
    gain: Shown
    least: str
    stop: str
    by_law: str


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """What scale costs on a day if nothing is cleaned, and what is known of that day."""

    day: str
    cost: Shown
    stands: str
    rain: str


@dataclass(frozen=True, slots=True)
class CleanPage:
    """When to clean, from a mill day; `result` is what ``ratoon clean --json`` gives."""

    place: DayPlace
    title: str
    mill_name: str
    line: str
    notes: tuple[str, ...]
    spans: tuple[int, ...]
    span: int
    rates: tuple[tuple[str, str], ...]
    rate: str
    effects: tuple[EffectRow, ...]
    laws: tuple[LawRow, ...]
    plan: tuple[CleanRow, ...]
    waiting: tuple[WaitingRow, ...]
    result: CleanResult


def clean_page(
    result: CleanResult, place: DayPlace, mill_name: str, span: int,
    rates: tuple[tuple[str, str], ...] = (), rate: str = "free",
) -> CleanPage:  # fmt: skip
    """The page of an answer; `rates` are what can be chosen instead."""
    sign, notes = result.currency, list(result.notes)
    if result.from_ != place.date:
        notes.insert(0, f"No cane was crushed on {place.date}: it goes from {result.from_}.")
    return CleanPage(
        place, day_in_words(place.date), mill_name, _line(result), tuple(notes), SPANS, span,
        rates, rate,
        tuple(_effect(e) for e in result.effects), tuple(_laws(result)),
        tuple(_clean(c, sign) for c in result.plan),
        tuple(WaitingRow(_day(w.date), show_money(w.money_a_day, None, sign),
                         f"{d.stands:.0f} h" if d.stands else "",
                         "" if d.rain is None else f"{100.0 * d.rain:.0f} %")
              for w, d in zip(result.waiting, result.days)), result,
    )  # fmt: skip


def _line(result: CleanResult) -> str:
    """What to do, in a sentence or two."""
    if not result.waiting:
        return "No scale can be seen yet: see below what is lacking."
    tomorrow = result.waiting[0].money_a_day
    text = "The effects are as clean as cleans leave them: scale costs nothing yet. "
    if tomorrow > 0.0:
        cost = show_money(tomorrow, None, result.currency).text
        text = f"Scale costs {cost} tomorrow beside clean effects. "
    if result.plan:
        first = result.plan[0]
        gain = show_money(first.gain, first.sigma, result.currency)
        text += (f"Clean {first.name} on {_day(first.date)} ({first.stop}): it gains about "
                 f"{gain.text}, and {_least(first, result.currency)} or more under every law of "
                 "scale.")  # fmt: skip
    elif any("cleaning.groups" in one for one in result.lacking):
        text += "No clean is planned: the mill file does not say what is cleaned together."
    else:
        text += "No clean in these days gains more than its uncertainty under every law of scale."
    rain = next((d for d in result.days if d.in_rain), None)
    if rain is not None:
        since = "tomorrow" if rain is result.days[0] else _day(rain.date)
        text += f" Should rain stop the mill from {since} on, clean {rain.in_rain}, then ask again."
    return text


def _least(c: Clean, sign: str) -> str:
    return show_money(c.least, c.least / 8.0, sign).text


def _day(iso: str) -> str:
    day = date_type.fromisoformat(iso)
    return f"{day:%A} {day.day} {day:%B}"


def _effect(e: EffectScale) -> EffectRow:
    week = e.forecast[min(WEEK, len(e.forecast)) - 1]
    return EffectRow(f"Effect {e.effect}", _day(e.cleaned) if e.cleaned else "",
                     f"{e.days_crushed:.1f}", show(e.clean, None, UNIT),
                     show(e.htc, e.sigma, UNIT), show(week.value, week.sigma, UNIT),
                     f"{e.brix:.1f}")  # fmt: skip


def _laws(result: CleanResult) -> Iterator[LawRow]:
    for e in result.effects:
        yield from _rows(f"Effect {e.effect}", e.laws)
        for v in e.vessels:
            now = show(v.htc, v.sigma, UNIT)
            name = f"Effect {e.effect}, vessel {v.vessel}: {now.text} ± {now.interval} now"
            yield from _rows(name, v.laws)


def _rows(of: str, laws: Sequence[LawFit]) -> Iterator[LawRow]:
    for law in laws:
        slope = f"{law.slope:.3g} ± {1.96 * law.sigma:.2g}"
        yield LawRow(of, law.name, slope, f"{law.chi2:.1f}", f"{100.0 * law.weight:.0f}")


def _clean(c: Clean, sign: str) -> CleanRow:
    shown = [(n, show_money(g.gain, g.sigma, sign)) for n, g in c.by_law.items()]
    laws = "; ".join(f"{n}: {g.text} ± {g.interval}" for n, g in shown)
    what = f"{c.name} ({', '.join(map(str, c.effects))})"
    gain = show_money(c.gain, c.sigma, sign)
    return CleanRow(_day(c.date), what, grouped(c.hours, 0), gain, _least(c, sign), c.stop, laws)
