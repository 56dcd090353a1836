"""Where the purity of molasses is lost or won: what `ratoon exhaustion` answers, in trade units.

The rules of `results` hold here, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ratoon.base.strikes import StrikeFigure


@dataclass(frozen=True, slots=True)
class StepFall:
    """A step, and by how much the purity of the mother liquor falls over it [units of purity].

    Parameters
    ----------
    usual : mean fall on the season's earlier days. recent : mean of the last days. change : recent
        less usual; all three None where too few days tell. lost : whether it is surely below zero.
    worth : money of one unit more fall in a day as long as this one; None where the plant does not
        answer, or nothing is priced. look : what to look at.
    """

    grade: str
    step: str
    before: StrikeFigure
    after: StrikeFigure
    fall: StrikeFigure
    usual: StrikeFigure | None
    recent: StrikeFigure | None
    change: StrikeFigure | None
    lost: bool
    worth: float | None
    look: str


@dataclass(frozen=True, slots=True)
class ExhaustionDay:
    """A day of the season: purity of final molasses, what was expected, fall over each step."""

    date: str
    purity: StrikeFigure | None
    expected: StrikeFigure | None
    difference: StrikeFigure | None
    falls: Mapping[str, StrikeFigure]


@dataclass(frozen=True, slots=True)
class VolumePoint:
    """Purity of the sugar of the last massecuite, and what it makes of its volume."""

    purity: float
    volume: float
    molasses: float


@dataclass(frozen=True, slots=True)
class Recirculation:
    """How the volume of the last massecuite [m3/h] goes by the purity of its sugar."""

    grade: str
    at: float
    points: tuple[VolumePoint, ...]


@dataclass(frozen=True, slots=True)
class Washed:
    """Wash on massecuite, pol of the sugar, and crystal of the massecuite that was lost.

    `most` is what the wash could dissolve at the massecuite's temperature, of its crystal; the
    first is the day asked for, the others the days before it.
    """

    date: str
    grade: str
    wash: StrikeFigure
    pol: StrikeFigure
    lost: StrikeFigure
    most: float | None


@dataclass(frozen=True, slots=True)
class Cooling:
    """Hours in the crystallisers, temperatures, and courses of cooling: (hours, degC) each."""

    hours: StrikeFigure
    dropped: StrikeFigure
    leaves: StrikeFigure
    in_an_hour: StrikeFigure
    courses: Mapping[str, tuple[tuple[float, float], ...]]


@dataclass(frozen=True, slots=True)
class Part:
    """A footing or feed: dry substance [t/h], its share of the massecuite's, purity."""

    feed: str
    dry: float
    share: float
    purity: float


@dataclass(frozen=True, slots=True)
class Mixture:
    """What a massecuite was boiled from, richest first, and the purity that it comes to."""

    grade: str
    parts: tuple[Part, ...]
    purity: float


@dataclass(frozen=True, slots=True)
class Exhaustion:
    """The answer of a day; figures with their standard uncertainty, money in `currency`."""

    from_: str
    currency: str
    steps: tuple[StepFall, ...]
    days: tuple[ExhaustionDay, ...]
    recirculation: Recirculation | None
    washed: tuple[Washed, ...]
    cooling: Cooling | None
    mixtures: tuple[Mixture, ...]
    words: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
