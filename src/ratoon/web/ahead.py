"""Makes pages before anybody asks for them: those of the season, newest day first, for every kind
of visitor lately seen, one at a time and only while nobody waits. Any day then opens at once.

Nothing is shown that would not be shown otherwise: each page is made as a visitor of the kind that
was seen, without a name, by the same table of roles, and kept where a page asked for is kept.
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
from ratoon.web.visit import MARK, Visitor, as_of, as_visitor, visitor

NEWEST = 14
"""Newest mill days whose pages are made at once when the records changed."""
SEASON = 200
"""Most mill days whose pages are made."""
STILL = 60.0
"""How long the records must have stood before older days than the newest are made again [s]:
while somebody types, each reading ends all that was made."""
MOST_KINDS = 4
"""Kinds of visitor lately seen for whom pages are made."""
GONE_AFTER = 3600.0
"""A kind of visitor not seen for so long is no longer expected [s]."""
QUIET = 0.25
"""How long nobody may have waited for a page before one is made ahead [s]."""
CROWD = 50
"""Pages asked for in one second that leave no time for others."""
REST = 0.5
"""Rest after each page made ahead, as a share of the time it took: others come first."""
NAMELESS = "-"
"""In place of the login and name of a visitor who is somebody: it is nobody's."""

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
        self._waited = 0.0
        self._waiting = 0
        self._second, self._asked, self._asked_before = 0, 0, 0
        self._known, self._since = "", 0.0
        self._joined = False
        self._news = asyncio.Event()
        self.done = ""
        """The state of the records for which everything was made."""
        self._task: asyncio.Task[None] | None = None

    def seen(self, scope: Scope, make: Make) -> None:
        """Somebody asks for a page; the first to ask sets the work going."""
        self._count()
        who = visitor()
        if who.one_time or not (who.signed_in or who.open):
            return
        kind = replace(who, token="", login=who.login and NAMELESS, name=who.name and NAMELESS)
        new = kind not in self._seen
        self._joined = self._joined or new
        self._seen[kind] = (time.monotonic(), {**scope, "headers": [], "query_string": b""})
        self._seen.move_to_end(kind)
        while len(self._seen) > MOST_KINDS:
            self._seen.popitem(last=False)
        if new or scope.get(MARK, "") != self.done:
            self.done = ""
            self._news.set()
        if self._task is None:
            self._task = asyncio.create_task(self._run(make))

    def waits(self, one_more: int) -> None:
        """Somebody begins (1) or ends (-1) to wait for a page that is being made."""
        self._waiting += one_more
        self._waited = time.monotonic()

    def busy(self) -> bool:
        """Whether somebody waits or just waited for a page, or many are asking."""
        self._count(0)
        crowd = max(self._asked, self._asked_before) > CROWD
        return crowd or self._waiting > 0 or time.monotonic() - self._waited < QUIET

    def _count(self, asked: int = 1) -> None:
        second = int(time.monotonic())
        if second != self._second:
            self._asked_before = self._asked if second == self._second + 1 else 0
            self._second, self._asked = second, 0
        self._asked += asked

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
                with as_of(""):  # this work lives longer than the request that set it going
                    await self._round(make)
            except Exception as error:  # no page is lost: each is made when it is asked for
                print(f"ratoon: pages are not made ahead: {error}", file=sys.stderr, flush=True)
                await asyncio.sleep(60.0)

    async def _round(self, make: Make) -> None:
        """Make what is missing, newest day first, until the records change or all is there."""
        self._joined = False
        await self._quiet()
        days = (await run_in_threadpool(self._days))[-SEASON:]
        for one in self._prepare:
            try:
                await run_in_threadpool(one, days)
            except RatoonError:
                continue
            await self._quiet()
        state = await run_in_threadpool(self._state)
        if state != self._known:  # those of the first state seen have stood who knows how long
            self._since = time.monotonic() if self._known else time.monotonic() - STILL
            self._known = state
        for part in (days[-NEWEST:], days[:-NEWEST]):
            for day in reversed(part):
                for kind in list(self._seen):
                    if not await self._make_day(day, kind, state, make):
                        return
            while time.monotonic() - self._since < STILL:
                await asyncio.sleep(QUIET)
                if await self._is_over(state):
                    return
        self.done = state

    async def _make_day(self, day: str, kind: Visitor, state: str, make: Make) -> bool:
        """A day's pages for one kind of visitor; False when the round is over."""
        when, scope = self._seen.get(kind, (0.0, {}))
        if time.monotonic() - when > GONE_AFTER:
            self._seen.pop(kind, None)
            return True
        for address in await self._pages_of(kind, day):
            await self._quiet()
            if await self._is_over(state):
                return False
            begun = time.monotonic()
            made = {**scope, "path": address, "raw_path": address.encode(), MARK: state}
            with as_visitor(kind):
                if not await make(made):
                    self.done = state  # there is no room for more
                    return False
            await asyncio.sleep(REST * (time.monotonic() - begun))
        return True

    async def _is_over(self, state: str) -> bool:
        """Whether another round is due: the records changed, or another kind of visitor came."""
        if self._joined or await run_in_threadpool(self._state) != state:
            self._news.set()
            return True
        return False

    async def _pages_of(self, who: Visitor, day: str) -> list[str]:
        with as_visitor(who):
            return await run_in_threadpool(self._addresses, day)

    async def _quiet(self) -> None:
        while self.busy():
            await asyncio.sleep(QUIET)
