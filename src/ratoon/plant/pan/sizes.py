"""What a strike's crystals should be as it boils, by its charge, feed and its grade's constants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from ratoon.base.strikes import StrikeRow
from ratoon.plant.pan.constants import Constant
from ratoon.plant.pan.course import OWN, Series, courses, predicted
from ratoon.plant.pan.course_of import courses_of
from ratoon.plant.pan.fit import MIDDLE, PRIORS, constants_of
from ratoon.plant.pan.growth import PURITY
from ratoon.plant.pan.records import StrikeRecord
from ratoon.plant.pan.together import CONSTANTS, boiled

Floats = NDArray[np.float64]
DRAWS = 60
"""How often a strike is boiled with what is unsure of it drawn anew."""
POINTS = 25
ENOUGH = 0.8
"""Share of the draws that must be boiled to the end, or nothing is told."""
WIDEST = 1.0
"""Width of MA's 95 % interval, on MA, from which on the model tells nothing."""


@dataclass(frozen=True, slots=True)
class ModelSize:
    """A moment of the model: MA [m] and CV [-] by mass, each with the ends of its 95 % interval."""

    time: datetime
    ma: tuple[float, float, float]
    cv: tuple[float, float, float]


def model_sizes(
    s: StrikeRecord, dry_on_brix: float, full: float, fitted: Mapping[str, Constant] | None
) -> list[ModelSize]:
    """MA and CV against time, as far as the model tells them; none where the strike does not say
    what was charged and fed.

    Parameters
    ----------
    fitted : the grade's constants; None: what is usual, with the width that it has. Constants and
        what is unsure of the charge are drawn apart from one another.
    """
    if s.grade not in MIDDLE:
        return []
    if s.drop is None:  # as far as it has come: a course ends somewhere
        end = StrikeRow(s.id, s.pan, s.grade, "drop", s.seen, "temperature", 0.0)
        s = replace(s, rows=(*s.rows, end))
    many = courses_of([s], dry_on_brix, full)
    if not many:
        return []
    rng = np.random.default_rng(1)  # the same strike gives the same band
    own = rng.standard_normal((1, DRAWS + 1, len(OWN)))
    own[:, 0] = 0.0  # the first is as it was told
    moved, circulation = courses(many, own)
    told = boiled(moved, _constants(s.grade, fitted, rng), circulation)
    since = np.linspace(many[0].seeded, many[0].seconds, POINTS + 1)[1:]
    nothing = 0.0 * since
    with np.errstate(all="ignore"):  # a draw that cannot be boiled is NaN from there on
        both = np.array([predicted(many[0], Series(n, since, nothing, nothing), told)
                         for n in ("ma", "cv")])  # fmt: skip
    sound = np.isfinite(both).all(axis=(0, 1))
    if not sound[0] or sound.mean() < ENOUGH:
        return []
    found = np.array([both[:, :, 0], *np.percentile(both[:, :, sound], [2.5, 97.5], axis=2)])
    middle, low, high = found[:, 0]
    told_of = (high - low) < WIDEST * middle
    return [
        ModelSize(s.start + timedelta(seconds=t), _three(found[:, 0, k]), _three(found[:, 1, k]))
        for k, t in enumerate(since.tolist()) if told_of[k]
    ]  # fmt: skip


def _three(values: Floats) -> tuple[float, float, float]:
    value, low, high = values.tolist()
    return value, low, high


def _constants(
    grade: str, fitted: Mapping[str, Constant] | None, rng: np.random.Generator
) -> Floats:
    """The grade's constants, the first column as they are, the others drawn."""
    drawn = rng.standard_normal((len(CONSTANTS), DRAWS + 1))
    drawn[:, 0] = 0.0
    if not fitted:
        return constants_of(grade, drawn)
    found = np.empty_like(drawn)
    for k, name in enumerate(CONSTANTS):
        one, by_log = fitted[name], PRIORS[name][2]
        spread = drawn[k] * one.sigma
        found[k] = one.value * np.exp(spread / one.value) if by_log else one.value + spread
    if fitted["growth"].told_by == "strikes":  # it is said at the middle purity
        found[0] *= np.exp((found[1] - PURITY) * (1.0 - MIDDLE[grade]))
    return found
