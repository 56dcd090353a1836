"""The addresses of the documentation."""

from __future__ import annotations

from fastapi import FastAPI, Request
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.staticfiles import StaticFiles

from ratoon.web.shared import get


def add_docs(app: FastAPI) -> None:
    """The documentation's own pages, its search and its pictures."""

    @get(app, "/docs")
    def first() -> Response:
        return RedirectResponse("/docs/index.html", 303)

    @get(app, "/docs/{page:path}")
    async def of_docs(request: Request, page: str) -> Response:
        from ratoon.web.docs.site import site

        folder = await run_in_threadpool(site)
        return await StaticFiles(directory=folder).get_response(page, request.scope)
