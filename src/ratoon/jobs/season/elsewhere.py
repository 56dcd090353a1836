"""Where blocks of futures are worked: here, in processes of this machine, or on a scheduler's.

Any executor of the standard kind serves. A Dask scheduler's is such a one; `distributed` is an
extra of the package, and only ``--on`` asks for it.
"""

from __future__ import annotations

import logging
import multiprocessing
import re
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput, RatoonError

PROCESSES, FROM = 2, 50_000
"""Processes of this machine, and the number of futures from which they are worth starting."""
WAIT_SECONDS = 15.0
"""How long a scheduler may take to answer, and work may stand still without a worker."""
LOOK_SECONDS = 0.5
ADDRESS = re.compile(r"tls://\S+|tcp://(127\.0\.0\.1|localhost|\[::1\]):\d+")


@contextmanager
def workers(address: str, futures: int) -> Iterator[Executor | None]:
    """An executor for blocks of futures; None where they are worked in this process.

    Raises
    ------
    BadInput : an address that is neither tls nor on loopback, tls without certificates, or
        `distributed` is not installed.
    RatoonError : no scheduler or worker answers, or one has other versions than this machine.
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
        from distributed import Client, Security
    except ImportError:
        raise BadInput("needs the package distributed, which is not installed", where="--on",
                       todo="Install ratoon[distributed].") from None  # fmt: skip
    known = Security()  # as Dask's own settings name them
    files = known.tls_ca_file, known.tls_client_cert, known.tls_client_key
    if address.startswith("tls") and not all(map(_is_file, files)):
        raise BadInput(
            "tls needs certificates", where="--on", value=address,
            todo="Name the files in Dask's settings distributed.comm.tls: ca-file, client.cert,"
            " client.key.",
        )  # fmt: skip
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what it would say, we say
    try:
        client = Client(address, timeout=WAIT_SECONDS, set_as_default=False)
    except Exception as error:  # its own errors are of many kinds, TLS and time among them
        raise _lost("no scheduler answers", address, error) from None
    try:
        _same_versions(client, address)
        yield _Watched(client, address)
    finally:
        client.close(timeout=2)


def _is_file(name: str | None) -> bool:
    return bool(name) and Path(str(name)).is_file()


def versions() -> dict[str, str]:
    """What an answer to the last digit hangs on, in the process that is asked."""
    import numpy as np

    import ratoon

    return {"ratoon": ratoon.__version__, "numpy": np.__version__}


def _same_versions(client: Any, address: str) -> None:
    here, there = versions(), list(client.nthreads())
    if not there:
        raise _lost("the scheduler has no worker", address)
    asked = [client.submit(versions, workers=[worker], pure=False) for worker in there]
    for worker, call in zip(there, asked, strict=True):
        try:
            told = call.result(timeout=WAIT_SECONDS)
        except Exception as error:  # without ratoon, its answer is an ImportError
            raise _lost(f"worker {worker} does not answer", address, error) from None
        if told != here:
            raise RatoonError(
                f"worker {worker} has {_words(told)}",
                where="--on",
                value=address,
                allowed=_words(here),
                todo="Install one version everywhere.",
            )


def _words(told: dict[str, str]) -> str:
    return ", ".join(f"{name} {version}" for name, version in told.items())


def _lost(what: str, address: str, error: object = "") -> RatoonError:
    line = " ".join(f"{what}: {error}".split()) if str(error) else what
    return RatoonError(line, where="--on", value=address)


class _Watched(Executor):
    """A scheduler's executor that does not wait for ever when nobody is left to work.

    All that a block needs goes with its task: data put on the workers would be lost with them.
    """

    def __init__(self, client: Any, address: str) -> None:
        self.client, self.address = client, address
        self.executor: Executor = client.get_executor(pure=False)

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """One call, worked by any worker."""
        return self.executor.submit(fn, *args, **kwargs)

    def map(
        self, fn: Callable[..., Any], *iterables: Iterable[Any], timeout: float | None = None,
        chunksize: int = 1,
    ) -> Iterator[Any]:  # fmt: skip
        """Answers in the order of the calls; RatoonError when no worker is left."""
        calls = [self.submit(fn, *args) for args in zip(*iterables, strict=True)]
        return (self._answer(call) for call in calls)

    def _answer(self, call: Future[Any]) -> Any:
        idle = 0.0
        while not wait([call], timeout=LOOK_SECONDS).done:
            try:
                idle = 0.0 if self.client.nthreads() else idle + LOOK_SECONDS
            except Exception as error:
                raise _lost("the scheduler is lost", self.address, error) from None
            if idle >= WAIT_SECONDS:
                raise _lost("no worker is left", self.address)
        try:
            return call.result()
        except CancelledError:
            raise _lost("the scheduler dropped the work", self.address) from None
        except RatoonError:
            raise
        except Exception as error:
            raise _lost("a worker failed", self.address, error) from None
