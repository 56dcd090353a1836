"""The style sheet, scripts, icon and faces: read once, sent when they changed."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from fastapi import FastAPI, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from ratoon.reports.html import style_sheet
from ratoon.reports.typeset import font_folder
from ratoon.web.answers import is_known
from ratoon.web.shared import HERE

FONTS = ("Regular", "Semibold")
SCRIPTS = (
    "open", "try", "best", "laboratory", "live", "live-worker", "mill", "password", "slides",
)  # fmt: skip
STYLES = ("pages.css", "figures.css")
# kept by the browser, else each page begins without words while the font is asked for
LONG = "public, max-age=604800"


@dataclass(frozen=True)
class StaticFile:
    """A file that does not change while the program runs."""

    body: bytes
    headers: dict[str, str]

    def answer(self, request: Request) -> Response:
        """The file, or the word that the browser has it already."""
        tag = self.headers["ETag"].removeprefix("W/").strip('"')
        headers = dict(self.headers)
        if is_known(request.headers, tag):
            headers.pop("Content-Type")
            return Response(status_code=304, headers=headers)
        return Response(self.body, headers=headers)


def _file(content: bytes, kind: str, **more: str) -> StaticFile:
    headers = {"Content-Type": kind, "ETag": f'W/"{hashlib.sha256(content).hexdigest()[:32]}"'}
    headers |= {k.replace("_", "-"): v for k, v in more.items()}
    return StaticFile(content, headers)


def _all() -> dict[str, StaticFile]:
    """Every file by its address."""
    style = style_sheet().encode() + b"".join((HERE / "static" / f).read_bytes() for f in STYLES)
    found = {
        "/static/ratoon.css": _file(style, "text/css; charset=utf-8"),
        "/static/icon.svg": _file((HERE / "static" / "icon.svg").read_bytes(), "image/svg+xml"),
    }
    for name in SCRIPTS:
        body = (HERE / "static" / f"{name}.js").read_bytes()
        found[f"/static/{name}.js"] = _file(body, "text/javascript; charset=utf-8")
    for weight in FONTS:
        body = (font_folder() / f"SourceSansPro-{weight}.otf").read_bytes()
        found[f"/static/font/{weight}.otf"] = _file(body, "font/otf", Cache_Control=LONG)
    return found


def static_views(app: FastAPI) -> None:
    """The addresses of the files."""
    files = _all()

    def found(request: Request) -> Response:
        file = files.get(request.url.path)
        if file is None:
            raise HTTPException(404)
        return file.answer(request)

    for address in (
        "/static/ratoon.css",
        "/static/icon.svg",
        "/static/{name}.js",
        "/static/font/{weight}.otf",
    ):
        app.api_route(address, methods=["GET", "HEAD"])(found)
