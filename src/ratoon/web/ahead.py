"""Makes pages before anybody asks for them: those of the newest days, for whoever was lately seen,
one at a time and only while nobody waits. Yesterday's page then opens as fast as today's.

Nothing is shown that would not be shown otherwise: each page is made as whoever was seen, by the
same table of roles, and kept where a page that was asked for is kept.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Iterable
from dataclasses import replace

from starlette.concurrency import run_in_threadpool
from starlette.types import Scope

from ratoon.base.errors import RatoonError
from ratoon.web.visit import MARK, Visitor, as_visitor, visitor

DAYS = 14
"""Newest mill days whose pages are made ahead."""
MOST_VISITORS = 4
"""Visitors lately seen for whom pages are made."""
GONE_AFTER = 3600.0
"""A visitor not seen for so long is no longer expected [s]."""
QUIET = 0.25
"""How long nobody may have waited for a page before one is made ahead [s]."""
REST = 0.5
"""Rest after each page made ahead, as a share of the time it took: others come first."""

Prepare = Callable[[list[str]], None]
Make = Callable[[Scope], Awaitable[bool]]


class Ahead:
    """Knows who was seen, and makes their pages while the server has nothing else to do.

    Parameters
    ----------
    state : another text whenever the records changed.
    days : the accounted mill days, oldest first.
    addresses : the pages of the navigation for a mill day, as whoever asks sees it.
    prepare : what is to be made ready first for some days; refusals of the mill's records are
        left for the page that meets them.
    """

    def __init__(
        self,
        state: Callable[[], str],
        days: Callable[[], list[str]],
        addresses: Callable[[str], list[str]],
        prepare: Iterable[Prepare] = (),
    ) -> None:
        self._state, self._days, self._addresses = state, days, addresses
        self._prepare = prepare
        self._seen: OrderedDict[Visitor, tuple[float, Scope]] = OrderedDict()
        self._asked = 0.0
        self._waiting = 0
        self._news = asyncio.Event()
        self.done = ""
        """The state of the records for which everything was made."""
        self._task: asyncio.Task[None] | None = None

    def seen(self, scope: Scope, make: Make) -> None:
        """Somebody asks for a page; the first to ask sets the work going."""
        who = replace(visitor(), token="")
        if who.one_time or not (who.signed_in or who.open):
            return
        new = who not in self._seen
        self._seen[who] = (time.monotonic(), {**scope, "headers": [], "query_string": b""})
        self._seen.move_to_end(who)
        while len(self._seen) > MOST_VISITORS:
            self._seen.popitem(last=False)
        if new or scope.get(MARK, "") != self.done:
            self.done = ""
            self._news.set()
        if self._task is None:
            self._task = asyncio.create_task(self._run(make))

    def waits(self, one_more: int) -> None:
        """Somebody begins (1) or ends (-1) to wait for a page that is being made."""
        self._waiting += one_more
        self._asked = time.monotonic()

    async def stop(self) -> None:
        """Make no more; what a worker process does yet ends with the worker."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.wait([self._task], timeout=0.5)
            self._task = None

    async def _run(self, make: Make) -> None:
        while True:
            await self._news.wait()
            self._news.clear()
            try:
                await self._round(make)
            except Exception as error:  # no page is lost: each is made when it is asked for
                print(f"ratoon: pages are not made ahead: {error}", file=sys.stderr, flush=True)
                await asyncio.sleep(60.0)

    async def _round(self, make: Make) -> None:
        """Make what is missing, newest day first, until the records change or all is there."""
        await self._quiet()
        days = (await run_in_threadpool(self._days))[-DAYS:]
        for one in self._prepare:
            try:
                await run_in_threadpool(one, days)
            except RatoonError:
                continue
            await self._quiet()
        state = await run_in_threadpool(self._state)
        for day in reversed(days):
            for who, (when, scope) in list(self._seen.items()):
                if time.monotonic() - when > GONE_AFTER:
                    self._seen.pop(who, None)
                    continue
                for address in await self._pages_of(who, day):
                    await self._quiet()
                    if await run_in_threadpool(self._state) != state:
                        self._news.set()
                        return
                    begun = time.monotonic()
                    made = {**scope, "path": address, "raw_path": address.encode(), MARK: state}
                    with as_visitor(who):
                        if not await make(made):
                            self.done = state  # there is no room for more
                            return
                    await asyncio.sleep(REST * (time.monotonic() - begun))
        self.done = state

    async def _pages_of(self, who: Visitor, day: str) -> list[str]:
        with as_visitor(who):
            return await run_in_threadpool(self._addresses, day)

    async def _quiet(self) -> None:
        while self._waiting or time.monotonic() - self._asked < QUIET:
            await asyncio.sleep(QUIET)
