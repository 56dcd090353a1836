"""What one accounted day tells the charts: how far each reading stands from what all others say of
it, and the unknown loss of each section, with the parts of their uncertainty that last or not.

A chart looks for a change, so uncertainty is split by how long it lasts: `random` is new each day;
`common` stays, until an instrument is calibrated. An assumption may be out by the same amount all
season or by another one each day; nobody knows, so its uncertainty counts in both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.account.figures.pol_account import SECTIONS
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.base.as_json import to_json
from ratoon.base.records import Reading
from ratoon.equations import Reconciled

Floats = NDArray[np.float64]
METHOD = "random errors alone"
"""How points are worked out; kept ones of another method are made anew."""
NOTED = 0.3  # detectability from which a day's point is kept at all
ALIKE = 0.5  # correlation from which two charts are said to move together


@dataclass(frozen=True, slots=True)
class Point:
    """One chart's figure of one day.

    Parameters
    ----------
    address : of the reading, or of a section's undetermined loss (share of pol in cane).
    size : reading less what the others say of it, or the loss; on the reading itself where the
        mill file states its uncertainty so, else in inside units.
    random, common : standard uncertainty of `size`, new each day and lasting.
    stated : the reading's own random standard uncertainty, in the unit of `size`; 0 for a loss.
    detectability : of the reading that day; 1 for a loss.
    calibrated : lasting part that ends when an instrument is calibrated, by instrument.
    alike : correlation with other charts that move together with this one that day.
    """

    address: str
    size: float
    random: float
    common: float
    stated: float
    detectability: float
    calibrated: dict[str, float]
    alike: dict[str, float]


@dataclass(frozen=True, slots=True)
class Directions:
    """How the figures of a day's charts depend on the readings' errors, and what they are.

    weights : (charts, readings). facts : address, stated random sigma, detectability, scale.
    """

    weights: Floats
    values: Floats
    facts: tuple[tuple[str, float, float, float], ...]


def day_points(account: PeriodAccount) -> list[Point]:
    """The points of an accounted day; none where no cane was crushed."""
    answer = account.charted
    if answer is None or not answer.dof:
        return []
    return points_of(account.mill, answer.problem.readings, directions(account))


def points_of(mill: Mill, readings: list[Reading], found: Directions) -> list[Point]:
    """Points with the parts of their uncertainty, from how they depend on the readings."""
    weights, facts = found.weights, found.facts
    if not facts:
        return []
    own = np.array([float(r.sigma or 0.0) for r in readings])
    random = np.sqrt((weights**2) @ (own**2))
    parts = {name: weights @ column for name, column in lasting(readings).items()}
    common = np.sqrt(sum((p**2 for p in parts.values()), np.zeros(len(facts))))
    together = (weights * own**2) @ weights.T / np.outer(random, random)
    dated = mill.calibrated
    out = []
    for i, (address, stated, checked, scale) in enumerate(facts):
        near = np.flatnonzero(np.abs(together[i]) >= ALIKE)
        alike = {facts[j][0]: float(together[i, j]) for j in near if j != i}
        ends = {n: abs(float(parts[n][i])) / scale for n in parts if n in dated}
        out.append(
            Point(address, float(found.values[i]) / scale, float(random[i]) / scale,
                  float(common[i]) / scale, stated / scale, checked,
                  {n: c for n, c in ends.items() if c > 0.0}, alike)
        )  # fmt: skip
    return out


def directions(account: PeriodAccount) -> Directions:
    """How the figures of the charts depend on the readings, on an accounted day.

    Notes
    -----
    A chart learns what lasts, so the others' word on a reading is weighed by errors that are new
    each day (`changes`); it finds a change with less uncertainty than the day's own test would.
    """
    answer = account.charted
    assert answer is not None
    w, d = changes(answer)
    rows: list[Floats] = []
    values: list[float] = []
    facts: list[tuple[str, float, float, float]] = []
    for j, result in enumerate(answer.readings[: len(answer.problem.readings)]):
        checked = result.detectability or 0.0
        if result.kind == "assumed" or not result.redundant or checked < NOTED:
            continue
        information = float(w[j, j])
        rows.append(w[j] / information)
        values.append(float(d[j]) / information)
        scale = _scale(account.mill, result.reading)
        facts.append((result.address, float(result.reading.sigma or 0.0), checked, scale))
    for section in SECTIONS:
        address = f"account.undetermined_{section}"
        if address not in account.mill.addresses or not answer.determined(address):
            continue
        rows.append(answer.gradient(address))
        values.append(answer.value(address))
        facts.append((address, 0.0, 1.0, 1.0))
    return Directions(np.array(rows), np.array(values), tuple(facts))


def changes(answer: Reconciled) -> tuple[Floats, Floats]:
    """Test directions and statistics of all readings, with errors that are new each day alone.

    Notes
    -----
    With C the lasting errors as columns, S = S_new + C C'. On what the equations contradict, W is
    the inverse of S, and the identity of Woodbury turns it into that of S_new:
    W_new = W + W C (I - C' W C)^-1 C' W, and d in the same way.
    """
    tests = answer.tests
    readings = answer.problem.readings
    columns = [c for c in lasting(readings, assumed=False).values() if c.any()]
    if not columns:
        return tests.w, tests.d
    c = np.column_stack(columns)
    wc = tests.w @ c
    gain = wc @ np.linalg.inv(np.eye(c.shape[1]) - c.T @ wc)
    return tests.w + gain @ wc.T, tests.d + gain @ (c.T @ tests.d)


def is_relative(mill: Mill, address: str) -> bool:
    """Whether a reading's uncertainty is stated on the reading itself."""
    setting = mill.settings.readings.get(address)
    return setting is not None and setting.relative is not None


def _scale(mill: Mill, reading: Reading) -> float:
    return abs(reading.value) or 1.0 if is_relative(mill, reading.address) else 1.0


def is_assumption(reading: Reading) -> bool:
    """Whether a figure is out by the same amount every day; what a day carries over is not."""
    return reading.kind == "assumed" and reading.start is None


def lasting(readings: list[Reading], assumed: bool = True) -> dict[str, Floats]:
    """Lasting error of each instrument, and of each assumption, as a column over the readings."""
    columns: dict[str, Floats] = {}
    for i, r in enumerate(readings):
        size = r.common
        if is_assumption(r):
            size = float(r.sigma or 0.0) if assumed else 0.0
        if size > 0.0:
            column = columns.setdefault(r.instrument or r.address, np.zeros(len(readings)))
            column[i] = size
    return columns


def as_record(points: list[Point]) -> list[dict[str, Any]]:
    """The points as plain records, to be kept beside the day's account."""
    return [to_json(p) for p in points]


def from_record(kept: Mapping[str, Any]) -> Point:
    """One point as it was kept."""
    return Point(**kept)
