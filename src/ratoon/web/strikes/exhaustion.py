"""The page of exhaustion as a record: what each step lowers the purity, and which of them lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from ratoon.account.figures.purity_falls import TELLS
from ratoon.account.results.exhaustion import Exhaustion, ExhaustionDay, StepFall
from ratoon.base.strikes import StrikeFigure
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import show_money
from ratoon.web.days import DayPlace
from ratoon.web.plant.trend_drawing import Point, trend_drawing
from ratoon.web.strikes.exhaustion_drawing import curves, mixture_drawing, way_down
from ratoon.web.strikes.page import shown

Drawn = tuple[tuple[str, Markup], ...]


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step as the table shows it."""

    name: str
    before: str
    after: str
    fall: str
    usual: str
    recent: str
    change: str
    lost: bool
    worth: str
    look: str


@dataclass(frozen=True, slots=True)
class ExhaustionPage:
    """Why molasses is rich; `result` is what ``ratoon exhaustion --json`` gives."""

    place: DayPlace
    title: str
    mill_name: str
    purity: str
    expected: str
    difference: str
    steps: tuple[StepRow, ...]
    washed: tuple[tuple[str, str, str, str, str, str], ...]
    way: Markup
    trends: Drawn
    curves: Drawn
    mixtures: tuple[Markup, ...]
    result: Exhaustion


def exhaustion_page(found: Exhaustion, place: DayPlace, mill_name: str) -> ExhaustionPage:
    """The page of an answer."""
    today = found.days[-1]
    return ExhaustionPage(
        place, day_in_words(found.from_), mill_name, shown(today.purity), shown(today.expected),
        shown(today.difference), tuple(_row(s, found.currency) for s in found.steps),
        tuple((w.date, w.grade, shown(w.wash), shown(w.pol), shown(w.lost),
               "" if w.most is None else f"{w.most:.0f}") for w in found.washed),
        Markup(way_down(found.steps)), _trends(found.days), _curves(found),
        tuple(Markup(mixture_drawing(m)) for m in found.mixtures), found,
    )  # fmt: skip


def _row(s: StepFall, sign: str) -> StepRow:
    worth = "" if s.worth is None else show_money(s.worth, None, sign).text
    return StepRow(f"{s.grade} {s.step}", shown(s.before), shown(s.after), shown(s.fall),
                   shown(s.usual), shown(s.recent), shown(s.change), s.lost, worth,
                   s.look)  # fmt: skip


def _trends(days: Sequence[ExhaustionDay]) -> Drawn:
    """Difference to the expected purity, and the fall over each step that days tell."""
    series: dict[str, list[tuple[str, StrikeFigure | None]]] = {
        "Above the expected purity": [(d.date, d.difference) for d in days]
    }
    for name in dict.fromkeys(n for d in days for n in d.falls):
        series[name] = [(d.date, f if f and (f.sigma or 0.0) <= TELLS else None)
                        for d in days for f in (d.falls.get(name),)]  # fmt: skip
    drawn = []
    for name, found in series.items():
        points = [Point(d, f.value if f else None, f.sigma if f else None) for d, f in found]
        if sum(p.value is not None for p in points) > 1:
            drawn.append((name, Markup(trend_drawing(name, "units", points))))
    return tuple(drawn)


def _curves(found: Exhaustion) -> Drawn:
    drawn = []
    r, c = found.recirculation, found.cooling
    if r is not None:
        points = [(p.purity, p.volume) for p in r.points]
        near = min(r.points, key=lambda p: abs(p.purity - r.at))
        label = (f"{r.grade} massecuite from {points[0][1]:.1f} to {points[-1][1]:.1f} m3/h as its "
                 f"sugar goes from {points[0][0]:.1f} to {points[-1][0]:.1f} purity")  # fmt: skip
        drawn.append((f"{r.grade} massecuite by the purity of its sugar", curves(
            label, f"purity of {r.grade} sugar", "m³/h", {"": points}, (near.purity, near.volume),
        )))  # fmt: skip
    if c is not None:
        label = (f"Cooling from {c.dropped.value:.1f} to {c.leaves.value:.1f} °C in "
                 f"{c.hours.value:.0f} hours")  # fmt: skip
        drawn.append(("Courses of cooling between the day's temperatures", curves(
            label, "hours", "°C", c.courses)))  # fmt: skip
    return tuple((name, Markup(text)) for name, text in drawn)
