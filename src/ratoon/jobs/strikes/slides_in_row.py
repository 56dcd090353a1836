"""The slides of a strike in a row, MA and CV against time beside the model's."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ratoon.base.strikes import StrikeFigure, StrikeRow, strike_figure
from ratoon.jobs.mills import in_mill
from ratoon.jobs.strike_season import kept_fit
from ratoon.jobs.strikes.records import strike_record
from ratoon.jobs.strikes.slides import KeptSlide, kept_of
from ratoon.laboratory.crystal_sizes import LogNormal
from ratoon.laboratory.slide_sizes import SlideFigure
from ratoon.plant.pan.sizes import model_sizes

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill
    from ratoon.plant.pan.records import StrikeRecord


@dataclass(frozen=True, slots=True)
class SlideLine:
    """A slide on record; `picture` "" where it was typed or imported. `by_mass`: MA and CV turned
    into mass where they were counted by number."""

    time: str
    basis: str
    ma: StrikeFigure | None
    cv: StrikeFigure | None
    count: StrikeFigure | None
    fines: StrikeFigure | None
    by_mass: tuple[StrikeFigure, StrikeFigure] | None
    picture: str
    who: str
    source: str


@dataclass(frozen=True, slots=True)
class ModelLine:
    """A moment of the model: MA [mm] and CV [%] by mass, with their 95 % interval."""

    time: str
    ma: SlideFigure
    cv: SlideFigure


@dataclass(frozen=True, slots=True)
class StrikeSlides:
    """The slides of a strike in order of time, beside the model's crystals.

    Attributes
    ----------
    model_by : whether the grade's constants were fitted to its strikes, or are the usual ones.
    """

    strike: str
    pan: str
    grade: str
    date: str
    start: str
    drop: str | None
    seen: str
    slides: tuple[SlideLine, ...]
    model: tuple[ModelLine, ...]
    model_by: str


def slides_in_row(mill_dir: str, name: str) -> StrikeSlides:
    """The slides of a strike of the mill of a folder, beside the model's crystals."""
    return in_mill(Path(mill_dir), slides_of, name)


def slides_of(opened: OpenMill, name: str) -> StrikeSlides:
    """The slides of a strike in a row, MA and CV beside the model's."""
    s = strike_record(opened, name)
    calendar = opened.mill.calendar
    day = calendar.day_of(s.start)
    pan = opened.mill_on(day).settings.pans.get(s.grade)
    fitted = kept_fit(opened, s.grade)
    sizes = model_sizes(s, pan.dry_on_brix, max(pan.strikes, default=0.0), fitted) if pan else []

    def clock(at: datetime) -> str:
        return calendar.to_local(at).isoformat(timespec="minutes")

    model = tuple(
        ModelLine(clock(m.time), SlideFigure(*(1e3 * v for v in m.ma)),
                  SlideFigure(*(100.0 * v for v in m.cv))) for m in sizes
    )  # fmt: skip
    by = "" if not model else "strikes" if fitted else "usual"
    return StrikeSlides(
        s.id, s.pan, s.grade, day.isoformat(), clock(s.start), clock(s.drop) if s.drop else None,
        clock(s.seen), tuple(_lines(s, {k.picture[:12]: k for k in kept_of(opened, s)}, clock)),
        model, by,
    )  # fmt: skip


def _lines(
    s: StrikeRecord, kept: dict[str, KeptSlide], clock: Callable[[datetime], str]
) -> list[SlideLine]:
    events: dict[tuple[datetime, str], dict[str, StrikeRow]] = {}
    for row in s.rows:
        if row.event == "slide":
            basis = row.tags.get("basis", "number")
            events.setdefault((row.time, basis), {})[row.quantity] = row
    found = []
    for (at, basis), rows in sorted(events.items()):
        figures = {n: strike_figure(n, r.value, r.sigma) for n, r in rows.items()}
        one = next(iter(rows.values()))
        picture = kept.get(one.tags.get("picture", ""))
        found.append(SlideLine(
            clock(at), basis, figures.get("ma"), figures.get("cv"), figures.get("count"),
            figures.get("fines"), _by_mass(basis, figures.get("ma"), figures.get("cv")),
            picture.picture if picture else "", picture.who if picture else "", one.source,
        ))  # fmt: skip
    return found


def _by_mass(
    basis: str, ma: StrikeFigure | None, cv: StrikeFigure | None
) -> tuple[StrikeFigure, StrikeFigure] | None:
    """MA and CV by mass; sizes counted by number are taken as log-normal ones."""
    if ma is None or cv is None or basis == "mass" or ma.value <= 0.0:
        return None if ma is None or cv is None else (ma, cv)
    narrow = LogNormal.of_mass(1.0, cv.value / 100.0).sigma  # the same law holds by number
    law = LogNormal(ma.value, narrow)
    bigger = law.mean_aperture / ma.value
    return (StrikeFigure(law.mean_aperture, ma.sigma and bigger * ma.sigma, "mm", "found"),
            StrikeFigure(100.0 * law.mass_cv, cv.sigma, "%", "found"))  # fmt: skip
