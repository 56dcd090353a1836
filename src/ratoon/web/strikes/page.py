"""The pages Strikes and one strike as records: what they show, ready to be written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup

from ratoon.base.strikes import EVENTS, SIEVE, StrikeFigure, usual_unit
from ratoon.jobs.strikes.records import StrikeDetail, StrikeLine
from ratoon.reports.numbers import decimals_for, grouped, half_interval
from ratoon.web.days import DayPlace
from ratoon.web.strikes.drawing import trace_drawing, traced

SIEVES = ("1.18", "0.85", "0.6", "0.425", "0.3", "0.212")
"""Apertures that the form offers [mm]; others come in by a file."""
NOTES = {"footing": "from=magma", "feed": "of=liquor", "cut": "to=", "slide": "basis=number",
         "drop": "to=", "cure": "machine="}  # fmt: skip
NAMES = {"ma": "MA", "cv": "CV", "steam_pressure": "steam pressure", "runoff": "run-off"}
CONSTANTS = {
    "growth": ("growth, m/s", 1.0), "purity": ("power of purity", 1.0),
    "slope": ("fall of solubility", 1.0), "births": ("births, millionths", 1e6),
    "dispersion": ("dispersion, µm", 1e6), "coefficient": ("heat coefficient, W/m²K", 1.0),
    "by_level": ("its power of level", 1.0), "by_viscosity": ("its power of viscosity", 1.0),
}  # fmt: skip
"""What each constant is called, and in what part of its unit it is shown."""
STATUS = {"running": "boils", "dropped": "", "contradictory": "contradicts itself"}


@dataclass(frozen=True, slots=True)
class StrikeRowShown:
    """A strike in the day's list."""

    id: str
    pan: str
    grade: str
    start: str
    drop: str
    status: str
    odd: bool
    figures: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Box:
    """One quantity of the form: its field, what it is called, its unit, what was typed."""

    name: str
    label: str
    unit: str
    value: str


@dataclass(frozen=True, slots=True)
class TypedForm:
    """The form by which an event is typed."""

    event: str
    events: tuple[str, ...]
    boxes: tuple[Box, ...]
    typed: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class StrikesPage:
    """The page of a mill day."""

    place: DayPlace
    title: str
    mill_name: str
    rows: tuple[StrikeRowShown, ...]
    held: tuple[tuple[str, str], ...]
    held_at: str
    pans: tuple[str, ...]
    grades: tuple[str, ...]
    form: TypedForm
    line: str = ""
    refused: tuple[str, ...] = ()
    picture: Markup = Markup("")


@dataclass(frozen=True, slots=True)
class StrikePage:
    """The page of one strike."""

    mill_name: str
    date: str
    row: StrikeRowShown
    told: tuple[tuple[str, str, str, str, str], ...]
    pictures: tuple[tuple[str, str, Markup], ...]
    moments: tuple[tuple[str, ...], ...]
    to_come: tuple[tuple[str, str], ...] = ()
    constants: tuple[tuple[str, str, str], ...] = ()


def shown(figure: StrikeFigure | None) -> str:
    """A figure with its 95 % interval, to the digits that this leaves."""
    if figure is None:
        return ""
    half = half_interval(figure.sigma)
    if half is None:
        return grouped(figure.value, decimals_for(abs(figure.value) / 100.0 or 1.0))
    places = decimals_for(half)
    return f"{grouped(figure.value, places)} ± {grouped(half, places)}"


def row_of(s: StrikeLine) -> StrikeRowShown:
    """A strike as the list shows it."""
    figures = tuple(shown(f) for f in (s.volume, s.brix, s.purity, s.crystal, s.ma, s.cv))
    return StrikeRowShown(s.id, s.pan, s.grade, _clock(s.start), _clock(s.drop), STATUS[s.status],
                          s.status == "contradictory", figures, s.notes)  # fmt: skip


def _clock(time: str | None) -> str:
    return "" if time is None else f"{time[8:10]}. {time[11:16]}"


def form_of(event: str, typed: Mapping[str, str]) -> TypedForm:
    """The form of an event; `typed` is what stands in it."""
    event = event if event in EVENTS else "drop"
    names = [f"{SIEVE}{a}" for a in SIEVES] if event == "sieve" else EVENTS[event]
    boxes = tuple(Box(n, _label(n), usual_unit(n), typed.get(n, "")) for n in names)
    return TypedForm(event, tuple(EVENTS), boxes, {"note": NOTES.get(event, ""), **typed})


def _label(quantity: str) -> str:
    if quantity.startswith(SIEVE):
        return f"on {quantity.removeprefix(SIEVE)} mm"
    return NAMES.get(quantity, quantity)


def strike_page(
    mill_name: str, date: str, s: StrikeDetail, told: tuple[tuple[str, str, str, str, str], ...]
) -> StrikePage:
    """The page of one strike; `told` are its rows: time, event, quantity, value, where from."""
    pictures = []
    for name, label, unit in (
        ("supersaturation", "Supersaturation", ""), ("crystal", "Crystal", "%"),
        ("mother_liquor_purity", "Purity of mother liquor", "%"), ("brix", "Brix", "%"),
        ("level", "Level", "m3"), ("evaporation", "Water boiled off", "t/h"),
    ):  # fmt: skip
        drawn = trace_drawing(label, unit, traced(s.trace, name))
        if drawn:
            pictures.append((label, unit, Markup(drawn)))
    moments = tuple(
        (p.time[11:16], _band(p.supersaturation), shown(p.crystal), shown(p.mother_liquor_purity),
         shown(p.brix), shown(p.level), shown(p.evaporation), shown(p.ma), shown(p.cv))
        for p in s.trace
    )  # fmt: skip
    return StrikePage(mill_name, date, row_of(s), told, tuple(pictures), moments, _to_come(s),
                      _constants(s))  # fmt: skip


def _constants(s: StrikeDetail) -> tuple[tuple[str, str, str], ...]:
    """The grade's constants with their 95 % intervals, and what tells each."""
    rows = []
    for name, (label, part) in CONSTANTS.items():
        if name in s.fit:
            one = s.fit[name]
            figure = StrikeFigure(part * one.value, part * one.sigma, "", one.kind)
            rows.append((label, shown(figure), one.told_by))
    return tuple(rows)


def _to_come(s: StrikeDetail) -> tuple[tuple[str, str], ...]:
    """What a strike that still boils is to be dropped at."""
    drop = s.expected_drop
    if drop is None:
        return ()
    time = f"{_clock(drop.time.value)} ± {1.96 * drop.time.sigma:.1f} h"
    figures = (
        ("brix", drop.brix),
        ("purity", drop.purity),
        ("MA, mm", drop.ma),
        ("CV, %", drop.cv),
    )
    return (("drop", time), *((name, shown(f)) for name, f in figures if f))


def _band(figure: object) -> str:
    if figure is None:
        return ""
    value, sigma = (float(getattr(figure, n)) for n in ("value", "sigma"))
    return f"{value:.2f} ± {sigma:.2f}"
