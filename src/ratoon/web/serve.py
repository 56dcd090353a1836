"""Serves the pages until it is told to stop, by default to this machine alone."""

from __future__ import annotations

import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Sequence
from concurrent.futures import CancelledError, Future, wait
from contextlib import suppress
from errno import EADDRNOTAVAIL
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs.pool import SolverPool, watch_parent

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

_ADDRESS = "Give one of this machine's own addresses with --host."
LOOPBACK = ("127.0.0.1", "::1", "localhost")
# How long a page being answered may hold up the end.
GRACE_SECONDS = 3
TURN_SECONDS = 0.0005
"""How long a thread keeps the interpreter while another asks for it [s]: a trial passes from thread
to thread some ten times, and at Python's 5 ms each of them stood in line behind others' pages."""
BACKLOG = 1024
"""Connections that may wait to be taken up: sixty browsers open six each at once."""
HEALTH_SECONDS = 60
"""How long one of several processes may take to say that it lives [s]: it reads modules first."""
READY_SECONDS = 20.0
"""How long the first page waits for the solvers to be ready [s]; they go on getting ready."""


def listening_socket(port: int, host: str = "127.0.0.1") -> socket.socket:
    """A socket that listens, by default to this machine alone; `port` 0 takes a free one.

    Raises
    ------
    BadInput
        when the port is taken or not allowed, or the address is not this machine's.
    """
    if not host.strip():  # to the system it would mean every address
        raise BadInput("an address is wanted", where="host", value=host, todo=_ADDRESS)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named as TCP: asyncio sends at once (TCP_NODELAY) only on sockets that say so, and without it
    # each page waits some 40 ms for the browser's acknowledgement of its head.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        # Listening from now on: people who read the address below may ask at once, and waits.
        listener.listen(BACKLOG)
    except (OSError, OverflowError) as error:
        listener.close()
        why = error.strerror if isinstance(error, OSError) else str(error)
        if isinstance(error, socket.gaierror) or getattr(error, "errno", 0) == EADDRNOTAVAIL:
            raise BadInput(
                f"cannot listen: {why}", where="host", value=host, todo=_ADDRESS
            ) from None
        raise BadInput(
            f"cannot listen: {why}", where="port", value=port, todo="Choose another with --port."
        ) from None
    return listener


def published_checks() -> list[dict[str, Any]]:
    """The published rows of the table that `ratoon check` prints."""
    from ratoon.jobs.checks import proved

    return [row.as_json() | {"printed": row.printed} for row in proved(published=True)]


def serve(
    mill_dir: Path,
    port: int = 8484,
    open_browser: bool = True,
    host: str = "127.0.0.1",
    names: Sequence[str] = (),
    processes: int = 1,
) -> None:
    """Serve the pages of a mill until interrupted (Ctrl-C ends it within seconds).

    Parameters
    ----------
    host : address to listen on; beyond loopback only once people are kept.
    names : host names under which others reach these pages; the address itself is one.
    processes : how many make pages; each has solvers of its own.

    Raises
    ------
    BadInput
        when the port is taken.
    """
    # The solvers start beside this process reading its own modules: who tries something in the
    # first seconds would wait for them, and they would hold up everybody else's pages.
    listener = listening_socket(port, host)
    solvers = SolverPool()
    starting = _started(solvers, mill_dir) if processes == 1 else []
    import uvicorn
    from uvicorn.supervisors import Multiprocess

    shown = f"[{host}]" if ":" in host else host
    url = f"http://{shown}:{listener.getsockname()[1]}/"
    known = [*names, *([] if host in LOOPBACK else [shown])]
    # Told to stop, uvicorn ends the pages and then sends itself the same signal again; the program
    # must live on to clear away what its solvers shared, and only then say how it was ended.
    before, turn = signal.signal(signal.SIGTERM, _ended), sys.getswitchinterval()
    try:
        if processes == 1:
            app = _ready_app(mill_dir, known, solvers, starting)
            _announce(url, open_browser)
            uvicorn.Server(_config(app)).run(sockets=[listener])
        else:
            _announce(url, open_browser)
            made = partial(_app_of_one_process, mill_dir, known)
            Multiprocess(_config(made, factory=True, workers=processes), [listener]).run()
    finally:
        listener.close()
        solvers.close()
        sys.setswitchinterval(turn)
        signal.signal(signal.SIGTERM, before)


def _config(app: Any, **more: Any) -> uvicorn.Config:
    import uvicorn

    from ratoon.web.door.connection import Connection

    return uvicorn.Config(
        app,
        http=Connection,
        log_level="warning",
        server_header=False,
        proxy_headers=False,  # who asks is told by the connection, never by a header
        timeout_graceful_shutdown=GRACE_SECONDS,
        timeout_worker_healthcheck=HEALTH_SECONDS,
        **more,
    )


def _announce(url: str, open_browser: bool) -> None:
    print(f"ratoon: pages at {url} (stop with Ctrl-C)", file=sys.stderr, flush=True)
    if open_browser:
        threading.Timer(0.5, webbrowser.open, (url,)).start()


def _app_of_one_process(mill_dir: Path, names: Sequence[str]) -> FastAPI:
    """The pages in one of several processes; it ends with the one that started it."""
    watch_parent()
    stopped: list[int] = []

    def ended(number: int, frame: object) -> None:
        stopped.append(number)  # what is raised amid a clearing of memory is lost
        _ended(number, frame)

    serving = signal.signal(signal.SIGTERM, ended)
    solvers = SolverPool(workers=1)
    try:
        app = _ready_app(mill_dir, names, solvers, _started(solvers, mill_dir))
        signal.signal(signal.SIGTERM, serving)
        if stopped:
            _ended(stopped[0], None)
    except BaseException:  # told to stop before it was ready
        solvers.close()
        raise
    # uvicorn ends the pages and then sends itself the same signal again, which would end the
    # process before it has cleared away what its solvers shared: once obeyed it is not heard
    app.state.closing.append(partial(signal.pthread_sigmask, signal.SIG_BLOCK, {signal.SIGTERM}))
    return app


def _ready_app(
    mill_dir: Path, names: Sequence[str], solvers: SolverPool, starting: Sequence[Future[Any]]
) -> FastAPI:
    """The pages of a mill, with all at hand that the first to ask would wait for."""
    from ratoon.web.app import create_app

    @cache  # the tables do not change while the program runs
    def checks() -> list[dict[str, Any]]:
        return solvers.call(published_checks)

    def begin() -> None:
        with suppress(RatoonError, RuntimeError, CancelledError):  # who asks for them is told
            checks()

    sys.setswitchinterval(TURN_SECONDS)
    beside = threading.Thread(target=begin, daemon=True)
    beside.start()
    app = create_app(mill_dir, checks=checks, names=names, solvers=solvers)
    app.state.warm()
    wait(starting, READY_SECONDS)
    beside.join(READY_SECONDS)
    return app


def _started(solvers: SolverPool, mill_dir: Path) -> list[Future[Any]]:
    """The solvers on their way to being ready; none while there is no mill file to be ready for."""
    from ratoon.jobs.mills import text_of
    from ratoon.jobs.trial.cases import warm_up
    from ratoon.store.chain.digest import digest

    try:
        mark = digest(text_of(mill_dir))
    except (OSError, UnicodeDecodeError):
        return []  # the pages say what is wrong with it
    return solvers.warm(warm_up, str(mill_dir), mark)


def _ended(number: int, frame: object) -> None:
    sys.exit(128 + number)
