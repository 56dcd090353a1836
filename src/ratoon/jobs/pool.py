"""Two processes that solve for the pages: one solver may not be called from two threads.

Started on first use. A worker that loses its parent ends itself; a pool that breaks is replaced
and the call made once more; a call that takes too long is refused and its pool replaced, so that
its late answer goes nowhere.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from typing import Any, TypeVar

from ratoon.base.errors import RatoonError

Answer = TypeVar("Answer")
WORKERS = 2
LIMIT_SECONDS = 20.0
"""How long one call may take [s]; the first also starts Python and makes the plant."""


class TooLong(RatoonError):
    """A call that took longer than its limit."""


class Refused(RatoonError):
    """What a worker refused, in the words of its own error."""


def _guarded(function: Callable[..., Any], arguments: tuple[Any, ...]) -> tuple[Any, str]:
    """The answer, or the words of an error: errors with arguments of their own do not travel."""
    try:
        return function(*arguments), ""
    except RatoonError as error:
        return None, str(error)


def watch_parent() -> None:
    """End this process when its parent has ended, however that was."""
    # Ctrl-C reaches the whole group: the server alone decides what becomes of it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def wait() -> None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(0)

    threading.Thread(target=wait, daemon=True).start()


class SolverPool:
    """Runs functions of this package in processes of their own."""

    def __init__(self, workers: int = WORKERS, limit: float = LIMIT_SECONDS) -> None:
        self._workers, self._limit = workers, limit
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._aside = ThreadPoolExecutor(1)
        self._closed = False

    def _running(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._closed:
                raise Refused("the program is ending: ask again once it runs")
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    self._workers, multiprocessing.get_context("spawn"), watch_parent
                )
            return self._pool

    def call(
        self, function: Callable[..., Answer], *arguments: Any, limit: float | None = None
    ) -> Answer:
        """The answer of a function, called in a worker.

        Parameters
        ----------
        limit : how long it may take [s]; by default the pool's own.

        Raises
        ------
        TooLong : it took longer than the limit, or the solver was busy twice.
        Refused : the function refused what it was given, in its own words.
        """
        limit = self._limit if limit is None else limit
        for last in (False, True):
            pool = self._running()
            try:
                answer, refused = pool.submit(_guarded, function, arguments).result(limit)
            except TimeoutError:
                self._replace(pool)
                raise TooLong(
                    f"the plant found no answer within {limit:g} s: change less at once, or ask"
                    " again when the machine has less to do"
                ) from None
            except BrokenProcessPool:
                self._replace(pool)
                if last:
                    raise
            except CancelledError:
                # It never began: another call took too long, and the pool was ended under both.
                if last:
                    raise TooLong(f"solver busy, no answer in {limit:g} s: ask again") from None
            except RuntimeError:
                # Another call has just replaced the pool under this one.
                if last:
                    raise
            else:
                if refused:
                    raise Refused(refused)
                return answer  # type: ignore[no-any-return]
        raise AssertionError

    def aside(self, limit: float, function: Callable[..., Any], *arguments: Any) -> None:
        """Let a worker run a function for which nobody waits; what it refuses nobody is told.

        One at a time in order, so that the other workers stay free for people. `limit` as of
        `call`.
        """
        with suppress(RuntimeError):  # the program is ending
            self._aside.submit(self.call, function, *arguments, limit=limit)

    def warm(self, function: Callable[..., Any], *arguments: Any) -> list[Future[Any]]:
        """Let every worker run a function once, so that the first to ask does not wait for it.

        One that is busy leaves its turn to the other: what is warmed is only sooner ready.
        """
        pool = self._running()
        return [pool.submit(_guarded, function, arguments) for _ in range(self._workers)]

    def _replace(self, broken: ProcessPoolExecutor) -> None:
        with self._lock:
            if self._pool is broken:
                self._pool = None
        _end(broken)

    def close(self) -> None:
        """End the workers; a call that waits for one of them is refused."""
        with self._lock:
            pool, self._pool, self._closed = self._pool, None, True
        self._aside.shutdown(wait=False, cancel_futures=True)
        if pool is not None:
            _end(pool)
            pool.shutdown(wait=True)  # its own thread ends before the program does


def _end(pool: ProcessPoolExecutor) -> None:
    workers = list((getattr(pool, "_processes", None) or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for worker in workers:
        worker.kill()
