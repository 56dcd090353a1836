"""A picture of a proof slide with a person's changes: what it tells, and kept of its strike.

Kept are rows of the strike, as typed ones are, and a record of who measured which picture and how.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.base.strikes import StrikeFigure
from ratoon.jobs.files.typed import Entered, enter
from ratoon.jobs.strikes.records import strike_record
from ratoon.jobs.strikes.rows import rows_in
from ratoon.jobs.strikes.slide_pictures import FoundSlide
from ratoon.laboratory.slide_edits import edited
from ratoon.laboratory.slide_sizes import (
    Basis,
    SlideFigure,
    SlideResult,
    distribution,
    shape_of,
    sized,
    spread_of,
)
from ratoon.plant.pan.records import StrikeRecord, strikes_of
from ratoon.store.answers import newest_results

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

KIND = "slide"
SCALE_OFF, SHAPE_OFF = 0.003, 0.02
"""Standard uncertainty of a micrometer's scale, and of a width as a sieve reads it; our own."""


@dataclass(frozen=True, slots=True)
class SlideAsked:
    """How a picture is to be looked at: when it was taken, micrometres a pixel, basis, changes."""

    time: str
    scale: float | None
    basis: Basis = "mass"
    edits: str = ""


@dataclass(frozen=True, slots=True)
class AsSieves:
    """MA [mm] and CV [%] by the widths of crystals, which is what a sieve reads; fines [%]."""

    ma: StrikeFigure
    cv: StrikeFigure
    fines: StrikeFigure


@dataclass(frozen=True, slots=True)
class KeptSlide:
    """A picture as it was kept of a strike: by whom, and how it was looked at."""

    strike: str
    picture: str
    name: str
    asked: SlideAsked
    who: str
    count: int
    rejected: int
    conglomerates: int
    as_sieves: AsSieves
    widths: tuple[float, ...]
    made: str = ""


@dataclass(frozen=True, slots=True)
class SlideLook:
    """A picture with a person's changes: what it tells now, and as what it is on record.

    Attributes
    ----------
    seen : crystals before any change. numbers, touching : of each crystal of `slide`, what it is
        called and whether it touched another. distribution : share that is smaller
        [%] and the size [um], pixels where there is no scale. widths : of crystals [um].
    """

    strike: str
    picture: str
    name: str
    wide: int
    high: int
    asked: SlideAsked
    seen: int
    numbers: tuple[int, ...]
    touching: tuple[bool, ...]
    slide: SlideResult
    conglomerates: int
    distribution: tuple[tuple[float, SlideFigure], ...]
    widths: tuple[float, ...]
    as_sieves: AsSieves | None
    kept: KeptSlide | None


def strike_alone(opened: OpenMill, name: str) -> StrikeRecord:
    """A strike by its own rows, without its trace and what its neighbours contradict.

    Raises
    ------
    UnknownName : no such strike.
    """
    rows = opened.store.ask(rows_in, None, name)
    return strikes_of(rows, ())[0] if rows else strike_record(opened, name)


def look_of(opened: OpenMill, s: StrikeRecord, one: FoundSlide, asked: SlideAsked) -> SlideLook:
    """What a picture tells with a person's changes."""
    kept = next((k for k in kept_of(opened, s) if k.picture == one.picture), None)
    after = edited(one.found, asked.edits)
    outlines = after.found.outlines
    shapes = [shape_of(o) for o in outlines]
    slide = sized(after.found, asked.scale or 1.0, asked.basis, shapes)
    spread, widths, sieved = [], [], None
    if outlines:
        spread = distribution(np.array(slide.sizes), asked.basis)
    if outlines and asked.scale:
        widths = [round(asked.scale * one.width, 2) for one in shapes]
        sieved = _as_sieves(widths, slide, asked.basis)
    return SlideLook(
        s.id, one.picture, one.name, one.wide, one.high, asked,
        len(one.found.outlines), after.numbers, tuple(after.found.parted), slide,
        sum(s.is_conglomerate for s in shapes), tuple(spread), tuple(widths), sieved, kept,
    )  # fmt: skip


def _as_sieves(widths: Sequence[float], slide: SlideResult, basis: Basis) -> AsSieves:
    """By widths, what finding moves on such pictures taken off; its width is in the uncertainty."""
    assert slide.bias is not None
    ma, cv, fines = spread_of(np.array(widths), basis)
    bias = slide.bias
    middle = 1e-3 * ma.value / (1.0 + bias.ma.value / 100.0)
    parts = ((ma.high - ma.low) / 3.92 / ma.value, (bias.ma.high - bias.ma.low) / 392.0,
             SCALE_OFF, SHAPE_OFF)  # fmt: skip
    spread = ((cv.high - cv.low) / 3.92, (bias.cv.high - bias.cv.low) / 3.92)
    share = min(max(fines, 100.0 / slide.count), 50.0) / 100.0
    return AsSieves(
        StrikeFigure(middle, middle * math.hypot(*parts), "mm", "found"),
        StrikeFigure(max(cv.value - bias.cv.value, 0.0), math.hypot(*spread), "%", "found"),
        StrikeFigure(fines, 100.0 * (share * (1.0 - share) / slide.count) ** 0.5, "%", "found"),
    )  # fmt: skip


def keep_slide(
    opened: OpenMill, strike: str, one: FoundSlide, asked: SlideAsked, who: str, reason: str = ""
) -> Entered:
    """Keep what a picture tells as a slide of its strike.

    Raises
    ------
    BadInput : no scale, no crystal left, or a time at which the strike did not boil.
    """
    s = strike_alone(opened, strike)
    look = look_of(opened, s, one, asked)
    if look.as_sieves is None:
        raise BadInput("a slide without " + ("its scale" if look.slide.count else "crystals") +
                       " is not kept", where=one.name, todo="Type micrometres a pixel"
                       if look.slide.count else "Undo a change")  # fmt: skip
    at = opened.mill.calendar.read(asked.time)
    if at < s.start:
        raise BadInput("the strike had not begun", where="time", value=asked.time,
                       todo="Write when the slide was taken")  # fmt: skip
    note = f"basis={asked.basis} picture={one.picture[:12]}"
    head = {"strike": s.id, "pan": s.pan, "grade": s.grade, "event": "slide", "time": asked.time,
            "note": note}  # fmt: skip
    sieved, count = look.as_sieves, StrikeFigure(float(look.slide.count), None, "", "found")
    figures = {"ma": sieved.ma, "cv": sieved.cv, "count": count, "fines": sieved.fines}
    rows = [{**head, "quantity": name, "value": f"{f.value:.5g}", "unit": f.unit,
             "sigma": "" if f.sigma is None else f"{f.sigma:.2g}"}
            for name, f in figures.items()]  # fmt: skip
    done = enter(opened.store, opened.mill, "strikes", rows, who, "slides", reason)
    if done.refused:
        return done
    kept = KeptSlide(s.id, one.picture, one.name, asked, who, look.slide.count,
                     look.slide.rejected, look.conglomerates, sieved, look.widths)  # fmt: skip
    answer = to_json(kept)
    opened.store.add_result(KIND, Period(at, at + timedelta(seconds=1)), one.picture, {}, answer)
    return done


def kept_of(opened: OpenMill, s: StrikeRecord) -> list[KeptSlide]:
    """The pictures kept of a strike; of one that was kept twice, as it was kept last."""
    within = Period(s.start, max(s.seen, s.start) + timedelta(hours=1))
    found: dict[str, KeptSlide] = {}
    results = opened.store.ask(newest_results, KIND, within)
    for result in sorted(results, key=lambda r: r.id):
        if result.answer.get("strike") == s.id:
            made = f"{result.made:%Y-%m-%dT%H:%MZ}"
            found[result.inputs_digest] = from_json(KeptSlide, {**result.answer, "made": made})
    return list(found.values())
