"""``ratoon serve`` and ``ratoon demo``: the pages of a mill, and the invented mill."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ratoon.cli import say

Port = Annotated[int, typer.Option(help="Port on this machine; 0 takes a free one.")]
Browser = Annotated[
    bool, typer.Option("--browser/--no-browser", help="Open the pages in the browser.")
]
_PORT = 8484


def serve(
    mill: say.MillDir = say.HERE,
    port: Port = _PORT,
    browser: Browser = True,
) -> int:
    """Serve the mill's pages to this machine alone, until stopped with Ctrl-C."""
    from ratoon.jobs.mills import mill_of

    mill_of(mill)  # a mill file that is wrong is told here, not on the first page
    from ratoon.web.serve import serve as serve_pages

    serve_pages(mill, port=port, open_browser=browser)
    return say.DONE


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder to make the invented mill in.")
    ] = Path("kestrel-point"),
    mill: Annotated[
        Path | None, typer.Option("--mill", metavar="DIR", help="The same as the argument.")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Make it anew where a demo stands already.")
    ] = False,
    no_serve: Annotated[
        bool, typer.Option("--no-serve", help="Make, import, account, and stop.")
    ] = False,
    port: Port = _PORT,
    browser: Browser = True,
    json: say.AsJson = False,
) -> int:
    """Make the invented mill Kestrel Point, import and account its season, and open it."""
    from ratoon.jobs.demo import make_demo

    place = mill or folder
    made = make_demo(place, again=again, progress=say.progress())
    if json:
        say.answer_json(made)
    if no_serve:
        return say.DONE
    return serve(place, port, browser)
