"""What is read at the bench, worked out: with its correction and its uncertainty.

A determination is a table of what is read and one formula of this room. The uncertainties of what
is read are those of ordinary instruments (common practice, no source), carried through the formula
by its slopes. That of the day's figure is the mill's own, and larger: it holds the sampling.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from ratoon.base.errors import BadInput, OutOfRange
from ratoon.laboratory.bagasse_analysis import bagasse_from_extract, pol_of_mud
from ratoon.laboratory.polarimetry import pol_of_juice, pol_of_weighed_sample
from ratoon.laboratory.refractometry import brix_at_20

REPEATABILITY = 2.8
"""Repeatability limit over the standard deviation of a repeat, 95 %: [ISO5725], from memory."""
CLEARED = ("", "lead", "filter aid", "nothing")
"""How a sample for the polarimeter was cleared; told beside its pol, never corrected."""


@dataclass(frozen=True, slots=True)
class Read:
    """One thing that is read: its words, its unit, its range and its uncertainty.

    `usual` stands in its box where nearly every bench has it so.
    """

    key: str
    words: str
    unit: str
    low: float
    high: float
    sigma: float
    usual: str = ""


@dataclass(frozen=True, slots=True)
class Method:
    """A determination in %: of which quality, what is read, and the formula in the units read."""

    name: str
    words: str
    quality: str
    reads: tuple[Read, ...]
    formula: Callable[..., float]
    corrects: str = ""
    """What is read of the figure itself, beside which the correction is told."""
    cleared: bool = False


@dataclass(frozen=True, slots=True)
class Determined:
    """A result in %, the correction in it, its standard uncertainty, and what was read."""

    value: float
    correction: float | None
    sigma: float
    told: str


def _brix(reading: float, temperature: float) -> float:
    return 100.0 * float(brix_at_20(reading / 100.0, temperature))


def _juice(reading: float, brix: float) -> float:
    return 100.0 * float(pol_of_juice(reading, brix / 100.0))


def _weighed(reading: float, grams: float, tube: float) -> float:
    return 100.0 * float(pol_of_weighed_sample(reading, grams, tube / 1000.0))


def _mud(reading: float, grams: float, volume: float) -> float:
    return 100.0 * float(pol_of_mud(reading, grams / 1000.0, volume / 1e6))


def _bagasse(bagasse: float, water: float, reading: float, moisture: float, purity: float) -> float:
    found = bagasse_from_extract(bagasse, water, reading, moisture / 100.0, purity / 100.0)
    return 100.0 * float(found.pol)


def _moisture(dish: float, wet: float, dry: float) -> float:
    return 100.0 * (wet - dry) / (wet - dish)


_DEGZ = Read("reading", "polarimeter, 200 mm tube", "degZ", 0.0, 120.0, 0.05)
METHODS: dict[str, Method] = {m.name: m for m in (
    Method("refractometer", "refractometer, scale at 20 degC", "brix", (
        Read("reading", "brix as read", "%", 0.0, 75.0, 0.05),
        Read("temperature", "prism", "degC", 10.0, 35.0, 0.3, "20"),
    ), _brix, "reading"),
    Method("juice", "juice as it is, by its brix", "pol", (
        _DEGZ, Read("brix", "brix of the same sample", "%", 0.0, 80.0, 0.06),
    ), _juice, cleared=True),
    Method("weighed", "weighed sample made up to 100 mL", "pol", (
        Read("reading", "polarimeter", "degZ", 0.0, 120.0, 0.05),
        Read("grams", "sample", "g", 1.0, 60.0, 0.002, "26.000"),
        Read("tube", "tube", "mm", 50.0, 400.0, 0.02, "200"),
    ), _weighed, cleared=True),
    Method("mud", "mud or cake made up to a flask", "pol", (
        _DEGZ, Read("grams", "sample", "g", 5.0, 200.0, 0.05, "50"),
        Read("volume", "flask", "mL", 50.0, 1000.0, 0.2, "200"),
    ), _mud, cleared=True),
    Method("bagasse", "bagasse, wet disintegrator", "pol", (
        Read("bagasse", "bagasse", "g", 20.0, 2000.0, 0.5),
        Read("water", "water", "g", 200.0, 20000.0, 2.0),
        Read("reading", "polarimeter, 400 mm tube", "degZ", 0.0, 20.0, 0.02),
        Read("moisture", "moisture of the bagasse", "%", 30.0, 70.0, 0.3),
        Read("purity", "purity of the last expressed juice", "%", 40.0, 95.0, 1.0),
    ), _bagasse, cleared=True),
    Method("dish", "dish before and after drying", "moisture", (
        Read("dish", "empty dish", "g", 0.5, 5000.0, 0.002),
        Read("wet", "dish with sample", "g", 0.5, 9000.0, 0.002),
        Read("dry", "dish with dried sample", "g", 0.5, 9000.0, 0.002),
    ), _moisture),
)}  # fmt: skip


def methods_for(address: str) -> list[Method]:
    """The determinations that give a quantity, by its last word."""
    quality = address.rpartition(".")[2]
    return [m for m in METHODS.values() if m.quality == quality]


def determine(method: Method, read: Mapping[str, str], cleared: str = "") -> Determined:
    """Work out a determination from what was written down.

    Raises
    ------
    BadInput : what was read is no number, or cannot be.
    """
    values = [_number(r, read.get(r.key, "")) for r in method.reads]
    if method.name == "dish":
        dish, wet, dry = values
        if not dish < dry <= wet:
            raise BadInput("the dish weighs least empty and most with the sample", where="dish",
                           value=f"{dish:g}, {dry:g}, {wet:g} g", allowed="empty < dried <= wet"
                           )  # fmt: skip
    value = method.formula(*values)
    spread = [_slope(method.formula, values, n) * r.sigma for n, r in enumerate(method.reads)]
    own = next((v for r, v in zip(method.reads, values) if r.key == method.corrects), None)
    told = ", ".join(f"{r.words} {v:g} {r.unit}" for r, v in zip(method.reads, values))
    if cleared:
        told += f", cleared with {cleared}"
    return Determined(value, None if own is None else value - own, hypot(*spread), told)


def differs(results: Sequence[float], sigma: float) -> tuple[float, float]:
    """How far results of one sample lie apart, and the most that repeats may; both in their unit.

    Parameters
    ----------
    sigma : standard deviation of a repeat.
    """
    return max(results) - min(results), REPEATABILITY * sigma


def _number(read: Read, text: str) -> float:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        raise BadInput("is not a number" if text.strip() else "is empty", where=read.words,
                       value=text.strip()[:40]) from None  # fmt: skip
    if not read.low <= value <= read.high:
        raise BadInput("cannot be", where=read.words, value=f"{value:g} {read.unit}",
                       allowed=f"{read.low:g} to {read.high:g} {read.unit}")  # fmt: skip
    return value


def _slope(formula: Callable[..., float], at: Sequence[float], n: int) -> float:
    step = 1e-4 * max(abs(at[n]), 1.0)
    # inwards where the range of a formula ends
    up = [v + (step if k == n else 0.0) for k, v in enumerate(at)]
    down = [v - (step if k == n else 0.0) for k, v in enumerate(at)]
    try:
        return (formula(*up) - formula(*down)) / (2.0 * step)
    except OutOfRange:
        middle = formula(*at)
        try:
            return (formula(*up) - middle) / step
        except OutOfRange:
            return (middle - formula(*down)) / step
