"""Addresses of slides: those of a strike, a picture sent in, one picture looked at and kept.

What a person changes of a picture stands in its address: going back is undoing, and nothing is
written before it is kept.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Annotated
from urllib.parse import urlencode

from fastapi import FastAPI, File, Form, Query, UploadFile
from fastapi.responses import JSONResponse, RedirectResponse, Response

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs.strikes.slide_pictures import copy_of, found_slide, take_in
from ratoon.jobs.strikes.slides import (
    SlideAsked,
    SlideLook,
    keep_slide,
    kept_of,
    look_of,
    strike_alone,
)
from ratoon.jobs.strikes.slides_in_row import StrikeSlides, slides_in_row
from ratoon.laboratory.slide_edits import edited, word_of
from ratoon.laboratory.slide_sizes import Basis
from ratoon.web.door.access import LARGE
from ratoon.web.door.visit import who
from ratoon.web.files.imports import safe_name
from ratoon.web.shared import Format, Pages, get
from ratoon.web.strikes.slides_page import address_of, slide_page, slides_page

SECONDS = 60.0
"""How long the finding on one picture may take [s]."""
Typed = Annotated[str, Query(max_length=40)]
Edits = Annotated[str, Query(max_length=12_000)]
LARGEST_ZOOM = 3


def add_slides(app: FastAPI, pages: Pages) -> None:
    """The pages of slides."""

    def row(
        form: Format, name: str, typed: SlideAsked | None = None, line: str = "",
        refused: tuple[str, ...] = (), status: int = 200,
    ) -> Response:  # fmt: skip
        # the model solves, and one solver may not be called from two threads
        told = pages.pool.call(slides_in_row, str(pages.mill_dir), name)
        if form == "json":
            return JSONResponse(to_json(told))
        typed = typed or SlideAsked((told.drop or told.seen)[:16], None)
        page = slides_page(pages.history.mill.name, told, typed, LARGE, line, refused)
        return pages.answer(None, page, "slides_page.html", "Strikes", told.date, status)

    @get(app, "/slides/{name}", StrikeSlides)
    def slides(name: str, done: Typed = "", format: Format = None) -> Response:
        return row(format, name, line=f"Kept: {done}" if done else "")

    @app.post("/slides/{name}")
    def sent(
        name: str,
        picture: Annotated[UploadFile | None, File()] = None,
        micrometer: Annotated[UploadFile | None, File()] = None,
        scale: Annotated[str, Form(max_length=40)] = "",
        time: Annotated[str, Form(max_length=40)] = "",
        basis: Annotated[Basis, Form()] = "mass",
    ) -> Response:
        strike_alone(pages.history.opened, name)  # else there is nothing to come back to
        asked = SlideAsked(time.strip(), None, basis)
        try:
            asked = replace(asked, scale=_scale(scale))
            pages.history.mill.calendar.read(asked.time)
            digest, found = _taken_in(pages, picture, micrometer)
        except RatoonError as error:
            return row(None, name, asked, error.line(), ("nothing was kept",), 422)
        asked = replace(asked, scale=found or asked.scale)
        return RedirectResponse(address_of(name, digest, asked), 303)

    def shown(
        name: str, picture: str, asked: SlideAsked | None, zoom: int, form: Format,
        line: str = "", refused: tuple[str, ...] = (),
    ) -> Response:  # fmt: skip
        opened = pages.history.opened
        s, one = strike_alone(opened, name), found_slide(pages.mill_dir, picture)
        if asked is None:  # as it was kept, or as it was found
            kept = [k.asked for k in kept_of(opened, s) if k.picture == picture]
            at = opened.mill.calendar.to_local(s.drop or s.seen)
            asked = kept[0] if kept else SlideAsked(f"{at:%Y-%m-%dT%H:%M}", None)
        look = look_of(opened, s, one, asked)
        if form == "json":
            return JSONResponse(to_json(look))
        day = opened.mill.calendar.day_of(s.start).isoformat()
        page = slide_page(opened.mill.name, day, look, zoom, line, refused)
        return pages.answer(None, page, "slide_page.html", "Strikes", day, 422 if refused else 200)

    @get(app, "/slides/{name}/{picture}", SlideLook)
    def slide(
        name: str, picture: str, time: Typed = "", scale: Typed = "", basis: Basis = "mass",
        edits: Edits = "", act: Typed = "", crystals: Annotated[str, Query(max_length=300)] = "",
        line: Typed = "", zoom: Annotated[int, Query(ge=1, le=LARGEST_ZOOM)] = 1,
        format: Format = None,
    ) -> Response:  # fmt: skip
        if not time:
            return shown(name, picture, None, zoom, format)
        asked = SlideAsked(time, _scale(scale), basis, edits)
        if not act:
            return shown(name, picture, asked, zoom, format)
        try:
            changed = replace(asked, edits=f"{edits} {word_of(act, crystals, line)}".strip())
            edited(found_slide(pages.mill_dir, picture).found, changed.edits)
        except BadInput as error:
            return shown(name, picture, asked, zoom, format, error.line(),
                         ("nothing was changed",))  # fmt: skip
        more = {"zoom": zoom} if zoom > 1 else {}
        return RedirectResponse(address_of(name, picture, changed, **more), 303)

    @app.post("/slides/{name}/{picture}")
    def keep(
        name: str, picture: str,
        time: Annotated[str, Form(max_length=40)] = "",
        scale: Annotated[str, Form(max_length=40)] = "",
        basis: Annotated[Basis, Form()] = "mass",
        edits: Annotated[str, Form(max_length=12_000)] = "",
        checked: Annotated[str, Form(max_length=10)] = "",
        reason: Annotated[str, Form(max_length=300)] = "",
    ) -> Response:  # fmt: skip
        asked = SlideAsked(time.strip(), _scale(scale), basis, edits)
        if not checked:
            todo = ("measure the bar on the picture, and tick that it is right",)
            return shown(name, picture, asked, 1, None, "The scale is confirmed by hand", todo)
        one = found_slide(pages.mill_dir, picture)
        try:
            done = keep_slide(pages.history.opened, name, one, asked, who(), reason.strip())
        except BadInput as error:
            return shown(name, picture, asked, 1, None, error.line(), ("nothing was kept",))
        if done.refused:
            why = tuple(dict.fromkeys(f"{r.column}: {r.reason}" for r in done.refused))
            return shown(name, picture, asked, 1, None, f"Of this slide: {done.in_words}", why)
        return RedirectResponse(f"/slides/{name}?{urlencode({'done': done.in_words})}", 303)

    @get(app, "/slides/{name}/{picture}/picture.jpg")
    def copy(name: str, picture: str) -> Response:
        return Response(copy_of(pages.mill_dir, picture), media_type="image/jpeg")


def _scale(text: str) -> float | None:
    """Micrometres a pixel as typed; None where nothing is."""
    if not text.strip():
        return None
    try:
        found = float(text.strip().replace(",", "."))
    except ValueError:
        found = 0.0
    if not 0.0 < found < 1e6:
        raise BadInput("must be a number above zero", where="scale", value=text[:40],
                       allowed="micrometres a pixel")  # fmt: skip
    return found


def _taken_in(
    pages: Pages, picture: UploadFile | None, micrometer: UploadFile | None
) -> tuple[str, float | None]:
    """The pictures into a folder of their own, and measured in a process of their own."""
    if picture is None or not picture.filename:
        raise BadInput("no picture was sent", allowed="one picture of a slide")
    with tempfile.TemporaryDirectory(prefix="ratoon") as folder:
        paths: list[Path | None] = []
        for number, one in enumerate((picture, micrometer)):
            if one is None or not one.filename:
                paths.append(None)
                continue
            place = Path(folder) / str(number)
            place.mkdir()
            path = place / safe_name(one.filename)
            with path.open("xb") as kept:
                while piece := one.file.read(1 << 20):
                    kept.write(piece)
            paths.append(path)
        first = paths[0]
        assert first is not None
        return pages.pool.call(take_in, pages.mill_dir, first, first.name, paths[1], limit=SECONDS)
