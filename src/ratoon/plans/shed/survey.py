"""What a survey says of a shed beside its book, and the stock that both together tell."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ratoon.base.sugar import ShedSurvey
from ratoon.plans.shed.pile import Pile

ANGLE, DENSITY, HEIGHT, LENGTH = 1.0, 0.02, 0.1, 1.0
"""Standard uncertainty of what a survey of a pile measures: degrees, t/m3, m, m (mill's choice)."""
WEIGHED = 0.005
"""Lasting relative error of what weighs sugar in, and of what weighs it out (mill's choice)."""
TELLING = 1.96
"""Standard errors beyond which a difference says something."""


@dataclass(frozen=True, slots=True)
class Surveyed:
    """Tonnes of a survey, and the parts of their uncertainty [t].

    `common` parts, angle and density, are the same error in all piles of one survey.
    """

    tonnes: float
    common: tuple[float, float]
    own: float

    @property
    def sigma(self) -> float:
        return math.hypot(*self.common, self.own)


def surveyed(survey: ShedSurvey, pile: Pile | None) -> Surveyed:
    """What a survey says: its tonnes as they stand, else by the shape of the pile.

    Parameters
    ----------
    pile : the shed or cell; with the survey's own length, angle and density where it has them.
        Without one a survey by shape says nothing: ask for tonnes.
    """
    if survey.tonnes is not None and (survey.sigma is not None or survey.height is None):
        return Surveyed(survey.tonnes, (0.0, 0.0), survey.sigma or 0.0)
    if pile is None or survey.height is None:
        raise ValueError("a survey by shape of a shed without width and length")
    shape = replace(pile, length=survey.length or pile.length, angle=survey.angle or pile.angle,
                    density=survey.density or pile.density)  # fmt: skip
    height = survey.height

    def moved(step: float, change: Callable[[float], Pile]) -> float:
        """Half the difference of tonnes between a step up and a step down."""
        return 0.5 * (change(step).tonnes(height) - change(-step).tonnes(height))

    angle = moved(ANGLE, lambda d: replace(shape, angle=shape.angle + d))
    density = moved(DENSITY, lambda d: replace(shape, density=shape.density + d))
    length = moved(LENGTH, lambda d: replace(shape, length=max(shape.length + d, 0.1)))
    ridge = 0.5 * (shape.tonnes(height + HEIGHT) - shape.tonnes(max(height - HEIGHT, 0.0)))
    found = Surveyed(shape.tonnes(height), (angle, density), math.hypot(length, ridge))
    if survey.sigma is not None:  # what who measured says, goes
        found = replace(found, common=(0.0, 0.0), own=survey.sigma)
    return replace(found, tonnes=survey.tonnes) if survey.tonnes is not None else found


def together(parts: Sequence[Surveyed]) -> Surveyed:
    """Several piles of one survey: errors of angle and density add up, the others in squares."""
    return Surveyed(
        sum(p.tonnes for p in parts),
        (sum(p.common[0] for p in parts), sum(p.common[1] for p in parts)),
        math.hypot(*(p.own for p in parts)),
    )


@dataclass(frozen=True, slots=True)
class Book:
    """What a book says [t]: `came` and `went` are all that was weighed in and out since it began,
    or since `since`, its last survey."""

    tonnes: float
    came: float
    went: float

    @property
    def sigma(self) -> float:
        """In and out are weighed by two weighers, each with an error that lasts."""
        return WEIGHED * math.hypot(self.came, self.went)


@dataclass(frozen=True, slots=True)
class Stock:
    """Stock [t] by book and survey, and what the survey's difference from the book says."""

    value: float
    sigma: float
    difference: float | None = None
    significant: bool | None = None


def stock(now: Book, then: Book | None = None, survey: Surveyed | None = None) -> Stock:
    """The stock now.

    A survey that differs by no more than both errors allow is weighed with the book; where it says
    something, sugar came or went that was not recorded, and the survey stands.

    Parameters
    ----------
    then : the book at the survey; `came` and `went` of `now` count on from there as of the start.
    """
    if then is None or survey is None:
        return Stock(now.tonnes, now.sigma)
    off, before = survey.tonnes - then.tonnes, then.sigma
    both = math.hypot(before, survey.sigma)
    significant = abs(off) > TELLING * both
    weight = 1.0 if significant or both == 0.0 else (before / both) ** 2
    at_survey = survey.sigma if significant else before * survey.sigma / (both or 1.0)
    since = Book(0.0, now.came - then.came, now.went - then.went).sigma
    return Stock(now.tonnes + weight * off, math.hypot(at_survey, since), off, significant)
