"""``ratoon serve`` and ``ratoon demo``: the pages of a mill, and the invented mill."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ratoon.base.errors import BadInput
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
    host: Annotated[
        str, typer.Option(help="Address to listen on; beyond this machine people sign in.")
    ] = "127.0.0.1",
    name: Annotated[
        list[str] | None,
        typer.Option(help="Host name under which others reach these pages, behind TLS."),
    ] = None,
    processes: Annotated[
        int, typer.Option(min=1, max=16, help="Processes that make pages, for many people at once.")
    ] = 1,
) -> int:
    """Serve the mill's pages until stopped with Ctrl-C; by default to this machine alone."""
    from ratoon.jobs.keep.new import is_empty
    from ratoon.jobs.mills import mill_of

    begins = is_empty(mill)
    if not begins:
        mill_of(mill)  # a mill file that is wrong is told here, not on the first page
    from ratoon.jobs.door.people import first_manager
    from ratoon.web.door.guard import host_name
    from ratoon.web.serve import LOOPBACK, listening_socket
    from ratoon.web.serve import serve as serve_pages

    for one in name or ():
        if not one or host_name(one) != one.lower() or not one.isascii():
            raise BadInput(
                "is not a host name", where="--name", value=one[:80],
                allowed="the name alone, such as mill.example",
                todo="Leave out https://, port and path; write other letters as xn--",
            )  # fmt: skip
    beyond = host not in LOOPBACK or bool(name)
    if host in ("0.0.0.0", "::") and not name:
        raise BadInput(
            "every address of this machine is listened on, so a host name is wanted",
            where="--host", value=host, todo="Add --name with the name people will type",
        )  # fmt: skip
    if begins and beyond:
        raise BadInput("no mill is here yet", where=str(mill),
                       todo="Begin it at this machine first: ratoon serve without --host and "
                       "--name, or ratoon new")  # fmt: skip
    if begins:
        say.tell(f"no mill is in {mill} yet: the page asks what it needs to begin one")
    listening_socket(port, host).close()  # before anything is made or said
    if beyond:
        made = first_manager(mill)
        if made:
            say.tell(
                f"first start beyond this machine: login {made[0]} may sign in with the one-time"
                f" password {made[1]} (shown this once, changed at the first sign-in)"
            )
        say.tell(
            "put TLS before these pages: without it nobody can sign in from another machine;"
            " docs/how-to/serve.md says how"
        )
    serve_pages(
        mill,
        port=port,
        open_browser=browser and not beyond,
        host=host,
        names=tuple(name or ()),
        processes=processes,
    )
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
    from ratoon.jobs.keep.demo import make_demo

    place = mill or folder
    made = make_demo(place, again=again, progress=say.progress())
    if json:
        say.answer_json(made)
    if no_serve:
        return say.DONE
    return serve(place, port, browser, name=None)
