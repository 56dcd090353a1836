"""The pages of a strike's slides and of one picture as records: what they show, ready to write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from markupsafe import Markup

from ratoon.jobs.strikes.slides import SlideAsked, SlideLook
from ratoon.jobs.strikes.slides_in_row import StrikeSlides
from ratoon.laboratory.slide_edits import in_words
from ratoon.laboratory.slide_sizes import SlideFigure
from ratoon.reports.numbers import decimals_for, grouped, signed
from ratoon.web.strikes.page import shown
from ratoon.web.strikes.slides_drawing import in_row_drawing, picture_drawing, spread_drawing


@dataclass(frozen=True, slots=True)
class SlideRowShown:
    """A slide in the list of a strike."""

    time: str
    basis: str
    figures: tuple[str, ...]
    address: str
    who: str
    source: str


@dataclass(frozen=True, slots=True)
class SlidesPage:
    """The slides of a strike, and the form by which a picture is sent."""

    mill_name: str
    strike: str
    pan: str
    grade: str
    date: str
    rows: tuple[SlideRowShown, ...]
    pictures: tuple[tuple[str, Markup], ...]
    model_by: str
    moments: tuple[tuple[str, str, str], ...]
    typed: SlideAsked
    most_mb: int
    line: str = ""
    refused: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SlidePage:
    """One picture with the crystals on it, and the forms that change and keep it."""

    mill_name: str
    look: SlideLook
    date: str
    title: str
    place: str
    unit: str
    facts: tuple[tuple[str, str], ...]
    bias: tuple[tuple[str, str], ...]
    sieved: tuple[tuple[str, str], ...]
    spread: tuple[tuple[str, str], ...]
    words: tuple[str, ...]
    undo: str
    anew: str
    larger: str
    zoom: int
    json: str
    scale: str
    kept: tuple[str, str]
    picture: Markup
    sizes: Markup
    line: str = ""
    refused: tuple[str, ...] = ()


def slides_page(
    mill_name: str, s: StrikeSlides, typed: SlideAsked, most: int, line: str = "",
    refused: tuple[str, ...] = (),
) -> SlidesPage:  # fmt: skip
    """The page of a strike's slides."""
    rows = tuple(
        SlideRowShown(
            _clock(one.time), one.basis,
            (shown(one.ma), shown(one.cv), "" if one.count is None else grouped(one.count.value, 0),
             shown(one.fines)),
            f"/slides/{s.strike}/{one.picture}" if one.picture else "", one.who, one.source,
        ) for one in s.slides
    )  # fmt: skip
    pictures = []
    for name, label in (("ma", "MA by mass, mm"), ("cv", "CV by mass, %")):
        drawn = in_row_drawing(s, name, label)
        if drawn:
            pictures.append((label, Markup(drawn)))
    moments = tuple((m.time[11:16], _between(m.ma), _between(m.cv)) for m in s.model[::4])
    return SlidesPage(mill_name, s.strike, s.pan, s.grade, s.date, rows, tuple(pictures),
                      s.model_by, moments, typed, most // 1024**2, line, refused)  # fmt: skip


def address_of(strike: str, picture: str, asked: SlideAsked, **more: str | int) -> str:
    """Where a picture is looked at as it is asked for."""
    told = {"time": asked.time, "scale": "" if asked.scale is None else f"{asked.scale:.6g}",
            "basis": asked.basis, "edits": asked.edits, **more}  # fmt: skip
    return f"/slides/{strike}/{picture}?{urlencode({k: v for k, v in told.items() if v})}"


def slide_page(
    mill_name: str, date: str, look: SlideLook, zoom: int, line: str = "",
    refused: tuple[str, ...] = (),
) -> SlidePage:  # fmt: skip
    """The page of one picture."""
    asked, slide = look.asked, look.slide
    unit = "µm" if asked.scale else "px"
    words = tuple(in_words(w) for w in asked.edits.split())

    def at(edits: Sequence[str], zoomed: int = zoom) -> str:
        changed = replace(asked, edits=" ".join(edits))
        return address_of(look.strike, look.picture, changed, zoom=zoomed if zoomed > 1 else "")

    said = asked.edits.split()
    bias: tuple[tuple[str, str], ...] = ()
    if (off := slide.bias) is not None:
        bias = (("MA, %", _from_to(off.ma)), ("CV, units", _from_to(off.cv)),
                ("count, %", _from_to(off.count)))  # fmt: skip
    sieved: tuple[tuple[str, str], ...] = ()
    if (known := look.as_sieves) is not None:
        sieved = (("MA, mm", shown(known.ma)), ("CV, %", shown(known.cv)),
                  ("fines, %", shown(known.fines)))  # fmt: skip
    scale = "" if asked.scale is None else f"{asked.scale:.6g}"
    spread = tuple((f"{share:.0f} %", _between(f)) for share, f in look.distribution)
    return SlidePage(
        mill_name, look, date, f"Slide of strike {look.strike}",
        f"/slides/{look.strike}/{look.picture}", unit, _facts(look, unit), bias, sieved, spread,
        words,
        at(said[:-1]) if said else "", at(()) if said else "",
        at(said, 1 if zoom > 1 else 2), zoom,
        address_of(look.strike, look.picture, asked, format="json"), scale, _kept(look),
        Markup(picture_drawing(look, zoom)),
        Markup(spread_drawing(look.distribution, unit)), line, refused,
    )  # fmt: skip


def _kept(look: SlideLook) -> tuple[str, str]:
    """What is on record of the picture, and the address of that where it is another."""
    one = look.kept
    if one is None:
        return "", ""
    by = f" by {one.who}" if one.who else ""
    line = (f"On record as the slide of {_clock(one.asked.time)}: {one.count} crystals, MA "
            f"{shown(one.as_sieves.ma)} mm, kept{by} on {one.made[:10]}")  # fmt: skip
    same = one.asked == look.asked
    return line, "" if same else address_of(look.strike, look.picture, one.asked)


def _facts(look: SlideLook, unit: str) -> tuple[tuple[str, str], ...]:
    slide = look.slide
    if slide.ma is None or slide.cv is None or slide.fines is None or slide.elongation is None:
        return (("crystals", "0"), ("left out", str(slide.rejected)))
    return (
        ("crystals", grouped(slide.count, 0)), ("left out", grouped(slide.rejected, 0)),
        (f"MA, {unit}", _between(slide.ma)), ("CV, %", _between(slide.cv)),
        ("fines, %", f"{slide.fines:.1f}"), ("length over width", f"{slide.elongation:.2f}"),
        ("conglomerates", grouped(look.conglomerates, 0)),
    )  # fmt: skip


def _between(figure: SlideFigure) -> str:
    """A figure with the ends of its interval, to the digits that this leaves."""
    wide = figure.high - figure.low
    places = decimals_for(wide / 2.0 if wide > 0.0 else abs(figure.value) / 100.0 or 1.0)
    low, high = (grouped(v, places) for v in (figure.low, figure.high))
    return f"{grouped(figure.value, places)} ({low} to {high})"


def _from_to(figure: SlideFigure) -> str:
    return f"{signed(figure.low, 1)} to {signed(figure.high, 1)}"


def _clock(time: str) -> str:
    return f"{time[8:10]}. {time[11:16]}"
