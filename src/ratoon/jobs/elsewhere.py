"""Where blocks of futures are worked: here, in processes of this machine, or on a scheduler's.

Any executor of the standard kind serves. A Dask scheduler's is such a one; `distributed` is not
installed with the program, and only ``--on`` asks for it.
"""

from __future__ import annotations

import multiprocessing
import re
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager

from ratoon.base.errors import BadInput, RatoonError

PROCESSES, FROM = 2, 50_000
"""Processes of this machine, and the number of futures from which they are worth starting."""
WAIT_SECONDS = 20
ADDRESS = re.compile(r"tls://\S+|tcp://(127\.0\.0\.1|localhost|\[::1\]):\d+")


@contextmanager
def workers(address: str, futures: int) -> Iterator[Executor | None]:
    """An executor for blocks of futures; None where they are worked in this process.

    Raises
    ------
    BadInput : an address that is neither tls nor on loopback, or `distributed` is not installed.
    RatoonError : no scheduler or worker answers.
    """
    if address:
        with _dask(address) as pool:
            yield pool
    elif futures >= FROM:
        from ratoon.jobs.pool import watch_parent

        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(PROCESSES, context, watch_parent) as pool:
            yield pool
    else:
        yield None


@contextmanager
def _dask(address: str) -> Iterator[Executor]:
    if not ADDRESS.fullmatch(address):
        raise BadInput("is no address for other machines", where="--on", value=address,
                       allowed="tls://HOST:PORT, or tcp:// on loopback")  # fmt: skip
    try:
        from distributed import Client
    except ImportError:
        raise BadInput("needs the package distributed, which is not installed", where="--on",
                       todo="Install it beside ratoon, on every worker too.") from None  # fmt: skip
    try:
        client = Client(address, timeout=WAIT_SECONDS)
    except (OSError, TimeoutError) as error:
        raise RatoonError(f"no scheduler answers: {error}", where="--on", value=address) from None
    with client:
        if not client.scheduler_info()["workers"]:
            raise RatoonError("the scheduler has no worker", where="--on", value=address)
        yield client.get_executor(pure=False)
