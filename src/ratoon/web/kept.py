"""Whole answers kept while nothing changes: pages rest on the records, the mill file and the role.

A kept page is made for a visitor without a name, so that it cannot hold what is one person's; the
browser's own form token and the name are put in afterwards. Whoever asks is first asked for the
role, by the same table as everywhere, and the answers of different roles are different answers.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import re
import secrets
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from markupsafe import escape
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ratoon.web.access import may_see, pattern_of
from ratoon.web.ahead import Ahead
from ratoon.web.page_folder import PageFolder
from ratoon.web.pieces import SHORTEST_ZIPPED, Kept, cut
from ratoon.web.shelf import Key, Shelf
from ratoon.web.visit import MARK, Visitor, as_of, as_visitor, visitor

KEPT = frozenset({
    "/", "/morning/{date}", "/morning/{date}/morning.pdf", "/morning/{date}/day.xlsx",
    "/working/{date}/{address}", "/readings/{date}", "/readings/{date}/{address}",
    "/account/{date}", "/journal/{date}", "/try/{date}", "/live", "/works/{date}",
    "/works/{date}/{station}", "/cane/{date}", "/consignment/{name}", "/supply/{date}", "/held",
    "/yard/{date}",
    "/statement/{grower}/{start}/{end}", "/mill", "/checks",
    "/week/{date}", "/week/{date}/week.pdf", "/week/{date}/week.xlsx",
})  # fmt: skip
"""Addresses whose answers rest on the records, the mill file, the role and the grower alone."""
KEPT_FOR_ONE = frozenset({"/laboratory/{date}"})
"""Those that rest on what the one who asks has typed, too."""
KEPT_ON_DISK = frozenset({
    "/", "/morning/{date}", "/works/{date}", "/account/{date}", "/week/{date}", "/try/{date}",
    "/cane/{date}", "/laboratory/{date}", "/journal/{date}", "/readings/{date}", "/mill", "/checks",
})  # fmt: skip
"""Pages of the navigation that a server finds again after a restart: no grower's, nobody's own."""

SHARE_AHEAD = 0.7
"""How full the shelf may be for pages that nobody has asked for yet."""
LONGEST_ADDRESS = 2_000
TOKEN, NAME = "token", "name"
"""The gaps of a page."""
MAKERS = 2
"""Answers made at one time: they share one interpreter, where more only wait for each other."""


class Keeping:
    """Answers from the shelf, or lets the app answer and keeps it.

    Parameters
    ----------
    records : another text whenever the records changed.
    typed : a text that changes with what a login has typed and not sent; "" without any.
    ahead : makes pages before they are asked for; None makes each when it is asked for.
    folder : keeps pages over a restart; None keeps them in memory alone.
    """

    def __init__(
        self,
        app: ASGIApp,
        records: Callable[[], str],
        typed: Callable[[str], str],
        ahead: Ahead | None = None,
        folder: PageFolder | None = None,
    ) -> None:
        self.app = app
        self._records, self._typed = records, typed
        self._ahead, self._folder = ahead, folder
        self.shelf = Shelf()
        self._making: dict[Key, asyncio.Lock] = {}
        self._makers = asyncio.Semaphore(MAKERS)
        # no page holds these by accident
        self._token, self._name = secrets.token_urlsafe(32), secrets.token_hex(32)
        self._any, self._one = _any_of(KEPT), _any_of(KEPT_FOR_ONE)
        self._disk = _any_of(KEPT_ON_DISK)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        who = visitor()
        if self._ahead is not None:
            self._ahead.seen(scope, self.make)
        state, key = scope.get(MARK, ""), await self._key(scope)
        if not state or key is None:
            with self._waiting():
                await self.app(scope, receive, send)
            return
        status, found = 200, self.shelf.get(state, key)
        if found is None:
            with self._waiting():
                status, found = await self._made(state, key, scope, receive)
        answer = self._answer(found, Headers(scope=scope), who, status)
        await answer(scope, receive, send)

    @contextmanager
    def _waiting(self) -> Iterator[None]:
        """Somebody waits for what is made inside."""
        if self._ahead is not None:
            self._ahead.waits(1)
        try:
            yield
        finally:
            if self._ahead is not None:
                self._ahead.waits(-1)

    async def make(self, scope: Scope) -> bool:
        """Make a page that nobody asked for, and keep it; False when there is no room for more."""
        state, key = scope[MARK], await self._key(scope)
        if not state or key is None or self.shelf.get(state, key) is not None:
            return True
        on_disk, folder = self._on_disk(key), self._folder
        if folder is not None and on_disk and await run_in_threadpool(folder.has, state, on_disk):
            return True
        if self.shelf.full > SHARE_AHEAD:
            return False
        with as_of(state):  # not that of whoever set this work going
            await self._made(state, key, scope, _nothing_more)
        return True

    async def _key(self, scope: Scope) -> Key | None:
        """What an answer is kept under; None when it is not kept, or not for whoever asks."""
        path, asked, who = scope["path"], scope["query_string"], visitor()
        mine = self._one.fullmatch(path) is not None
        if (
            len(path) + len(asked) > LONGEST_ADDRESS
            or not (mine or self._any.fullmatch(path))
            or (path.startswith("/try/") and b"format=json" in asked)  # hardly asked for twice
            or not may_see(path, who)
        ):
            return None
        mark = await run_in_threadpool(self._typed, who.login) if mine else ""
        # without anything typed it is everybody's
        return (path, asked, tuple(sorted(who.roles)), who.grower, who.open, who.one_time, who.demo,
                who.signed_in, who.login if mark else "", mark)  # fmt: skip

    def _on_disk(self, key: Key) -> str:
        """The key of an answer on disk; "" for what is kept in memory alone."""
        path, asked, *who = key
        mark = key[-1]
        if asked or mark or not self._disk.fullmatch(str(path)):
            return ""
        return json.dumps([path, *who])

    async def _made(self, state: str, key: Key, scope: Scope, receive: Receive) -> tuple[int, Kept]:
        """Find the answer on disk, or let the app answer; who asks for the same waits for it."""
        lock = self._making.setdefault((state, key), asyncio.Lock())
        try:
            async with lock:
                found = self.shelf.get(state, key) or await self._from_disk(state, key)
                if found is not None:
                    return 200, found
                async with self._makers:
                    status, kept = await self._asked(scope, receive, bool(key[-1]))
                if status == 200 and not any(k == b"set-cookie" for k, _ in kept.headers):
                    await self._keep(state, key, scope, kept)
                return status, kept
        finally:
            self._making.pop((state, key), None)

    async def _from_disk(self, state: str, key: Key) -> Kept | None:
        on_disk, folder = self._on_disk(key), self._folder
        if folder is None or not on_disk:
            return None
        found = await run_in_threadpool(folder.get, state, on_disk)
        if found is not None:
            self.shelf.put(state, key, found)
        return found

    async def _keep(self, state: str, key: Key, scope: Scope, kept: Kept) -> None:
        """Keep an answer unless the records changed meanwhile: it may tell of later ones."""
        if await run_in_threadpool(self._records) != state or await self._key(scope) != key:
            return
        self.shelf.put(state, key, kept)
        on_disk, folder = self._on_disk(key), self._folder
        if folder is not None and on_disk:
            await run_in_threadpool(folder.put, state, on_disk, kept)

    async def _asked(self, scope: Scope, receive: Receive, mine: bool) -> tuple[int, Kept]:
        """The app's answer to somebody of the same role without a name."""
        who, status, body = visitor(), 500, bytearray()
        headers: list[tuple[bytes, bytes]] = []

        async def listen(message: Message) -> None:
            nonlocal status, headers
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = [(k, v) for k, v in message["headers"] if k != b"content-length"]
            else:
                body.extend(message.get("body", b""))

        nameless = replace(who, name=self._name if who.name else "", token=self._token)
        if not mine and who.login:
            nameless = replace(nameless, login=self._name)
        with as_visitor(nameless):
            await self.app(scope, receive, listen)
        marks = {nameless.form_token.encode(): TOKEN, self._name.encode(): NAME}
        return status, Kept(tuple(headers), cut(bytes(body), marks))

    def _answer(self, kept: Kept, asked: Headers, who: Visitor, status: int) -> Response:
        """The answer as one browser gets it: whole, zipped, or the word that it has it already."""
        fill = {TOKEN: who.form_token.encode(), NAME: str(escape(who.name)).encode()}
        headers = {k.decode("latin-1"): v.decode("latin-1") for k, v in kept.headers}
        headers["Vary"] = "Accept-Encoding, Cookie"
        if status == 200:
            filled = b"\n".join(fill[g] for g in kept.body.gaps)
            tag = hashlib.sha256(kept.body.digest.encode() + filled).hexdigest()[:32]
            headers["ETag"] = f'W/"{tag}"'
            if is_known(asked.get("if-none-match", ""), tag):
                headers.pop("content-type", None)
                return Response(status_code=304, headers=headers)
        if takes_zipped(asked) and is_text(headers) and kept.body.size >= SHORTEST_ZIPPED:
            headers["Content-Encoding"] = "gzip"
            return Response(kept.body.zipped(fill), status, headers)
        return Response(kept.body.plain(fill), status, headers)


async def _nothing_more() -> Message:
    return {"type": "http.request", "body": b"", "more_body": False}


def _any_of(addresses: Iterable[str]) -> re.Pattern[str]:
    return re.compile("|".join(pattern_of(a).pattern for a in sorted(addresses)))


def is_known(asked: str, tag: str) -> bool:
    """Whether a browser that sends If-None-Match has this answer already."""
    known = {t.strip().removeprefix("W/").strip('"') for t in asked.split(",")}
    return tag in known


def takes_zipped(asked: Headers) -> bool:
    """Whether the browser takes gzip."""
    for part in asked.get("accept-encoding", "").split(","):
        name, _, quality = part.partition(";")
        if name.strip().lower() == "gzip":
            return quality.replace(" ", "") not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False


def is_text(headers: dict[str, str]) -> bool:
    """Whether an answer grows smaller when zipped."""
    kind = headers.get("content-type", "")
    return kind.startswith("text/") or "json" in kind or "svg" in kind
