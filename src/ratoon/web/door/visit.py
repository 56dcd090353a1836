"""Who asks: the cookie's token becomes a visitor, before any page is made.

The token is random; the store keeps its digest alone. A browser without session has a token too,
so that the forms it is given can be told from forms made elsewhere.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ratoon.base.errors import RatoonError
from ratoon.base.words import shown
from ratoon.jobs.mills import MILL_FILE
from ratoon.store.chain.reach import newest_event, reaches
from ratoon.web.door.cookies import YEAR, cookie_of, is_secure, token_in
from ratoon.web.door.guard import at_most, is_near

if TYPE_CHECKING:
    from ratoon.store import Store

_PROXIED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
_NO_RECORDS = "The records cannot be read now; ask the person who serves these pages.\n"
MARK = "ratoon.state"
"""Where a request's scope tells the state of the records in which it is answered."""
TOKEN_HERE = secrets.token_hex(32)
"""What stands for the form token in an answer that is held for several browsers."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks for a page.

    Attributes
    ----------
    login, name : "" when nobody is signed in.
    open : no person is in the store yet, and this machine itself asks: a manager without name.
    one_time : signed in with a one-time password, which has to be changed first.
    token : the browser's own; `form_token` is what its forms carry, `secret` what is in it.
    """

    login: str = ""
    name: str = ""
    roles: frozenset[str] = frozenset()
    grower: str = ""
    open: bool = False
    one_time: bool = False
    demo: bool = False
    token: str = field(default="", repr=False)

    @property
    def signed_in(self) -> bool:
        """Whether a person is known."""
        return bool(self.login)

    @property
    def secret(self) -> str:
        """What only a page of ours, in this browser, can know; "" where there is no browser."""
        if not self.token:
            return ""
        return hmac.new(self.token.encode(), b"form", hashlib.sha256).hexdigest()[:32]

    @property
    def form_token(self) -> str:
        """What a form must bring back: the secret behind a mask of its own each time.

        Pages are compressed, and the length of one would tell of a text that is always the same.
        """
        if not self.token or self.token == TOKEN_HERE:
            return self.token
        mask = secrets.token_bytes(16)
        return (mask + _masked(bytes.fromhex(self.secret), mask)).hex()

    def says(self, done: str) -> str:
        """The query of an address that shows this browser what was just done."""
        return urlencode({"done": done, "said": self._mark_of(done)})

    def said(self, done: str, mark: str) -> str:
        """What was done, if it was we who said so: an address may be anybody's words."""
        ours = hmac.compare_digest(self._mark_of(done).encode(), mark.encode())
        return done if self.token and ours else ""

    def _mark_of(self, done: str) -> str:
        return hmac.new(self.token.encode(), f"done {done}".encode(), hashlib.sha256).hexdigest()

    def made_form(self, given: str) -> bool:
        """Whether what a form brought back is this browser's own."""
        try:
            both = bytes.fromhex(given)
        except ValueError:
            return False
        found = _masked(both[16:], both[:16]).hex()
        return bool(self.secret) and hmac.compare_digest(found, self.secret)


def _masked(text: bytes, mask: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(text, mask))


Held = TypeVar("Held")
_NOBODY = Visitor()
_VISITOR: ContextVar[Visitor] = ContextVar("visitor", default=_NOBODY)
_AS_OF: ContextVar[str] = ContextVar("as_of", default="")


def visitor() -> Visitor:
    """Who asks for the page that is being made; nobody outside a request."""
    return _VISITOR.get()


@contextmanager
def _holding(variable: ContextVar[Held], value: Held) -> Iterator[None]:
    before = variable.set(value)
    try:
        yield
    finally:
        variable.reset(before)


def as_visitor(other: Visitor) -> AbstractContextManager[None]:
    """Somebody else asks for what is made inside."""
    return _holding(_VISITOR, other)


def as_of(state: str) -> AbstractContextManager[None]:
    """What is made inside answers for the records as they stood then; "" asks them each time."""
    return _holding(_AS_OF, state)


def state_asked() -> str:
    """The state of the records in which the page that is being made is answered; "" for any."""
    return _AS_OF.get()


def who() -> str:
    """The login to name in events; "" where no people are kept, which names the machine's user."""
    return _VISITOR.get().login


class Door:
    """Knows the mill's people; opened anew when a database appears where there was none."""

    def __init__(self, mill_dir: Path) -> None:
        self.mill_dir = mill_dir
        self._store: Store | None = None
        self._lock = threading.Lock()
        self.asked = 0.0
        """When somebody last asked for a page [s]: work that nobody waits for stands back."""
        # events since the first that was seen, each with the instant from which on it counts
        self._first: int | None = None
        self._newest = 0
        self._touched: list[tuple[int, datetime]] = []

    def store(self) -> Store | None:
        """The mill's store, or None before the first import made one."""
        from ratoon.jobs.mills import store_of
        from ratoon.store import NoRecordsYet

        with self._lock:
            if self._store is None:
                try:
                    self._store = store_of(self.mill_dir)
                except NoRecordsYet:
                    return None
            return self._store

    def begin(self) -> Store:
        """The mill's store; made, with the mill file in it, when somebody writes the first row."""
        from ratoon.jobs.mills import begin_records

        found = self.store()
        if found is None:
            with self._lock:
                if self._store is None:
                    self._store = begin_records(self.mill_dir, who())
                found = self._store
        return found

    def close(self) -> None:
        """Let go of the database."""
        with self._lock:
            if self._store is not None:
                self._store.close()
                self._store = None

    def state(self) -> str:
        """Another text whenever a record or the mill file changed; "" without records."""
        store = self.store()
        if store is None:
            return ""
        try:
            file = (self.mill_dir / MILL_FILE).stat()
        except OSError:
            return ""
        number, head = store.ask(newest_event)
        return f"{number} {head} {file.st_mtime_ns} {file.st_size} {file.st_ino}"

    def state_of_day(self, day: str, until: int, state: str) -> str:
        """Another text whenever something changed that touches what lies before a day's `until`-th
        day from its start; the state itself where `day` is no date.
        """
        try:
            start = datetime.fromisoformat(day).replace(tzinfo=UTC)
            return self._state_until(start + timedelta(days=until), state)
        except (ValueError, OverflowError):
            return state

    def _state_until(self, end: datetime, state: str) -> str:
        """Another text whenever the mill file, or a record that touches what lies before `end`,
        changed; by what is known in a state of the records, "" without records.
        """
        store = self.store()
        if not state or store is None:
            return ""
        number, _, file = state.split(" ", 2)
        with self._lock:
            if self._first is None:
                self._first = self._newest = int(number)
            for event, at in store.ask(reaches, self._newest) if int(number) > self._newest else ():
                # what an earlier event touches from there on is touched by this one, too
                self._touched = [(n, t) for n, t in self._touched if t < at] + [(event, at)]
                self._newest = event
            before = [n for n, t in self._touched if t < end and n <= int(number)]
            return f"{max(before, default=self._first)} {file}"

    def enter(self, token: str, near: bool) -> tuple[Visitor, str]:
        """Who holds a token, and the state of the records as of now."""
        self.asked = time.monotonic()
        return self.visitor_of(token, near), self.state()

    def visitor_of(self, token: str, near: bool) -> Visitor:
        """Who holds a token; `near` when this machine itself asks."""
        from ratoon.jobs.door.people import digest_of_token

        demo = (self.mill_dir / "truth" / "planted.json").is_file()
        store = self.store()
        person = store.people.person_of(digest_of_token(token)) if store and token else None
        if person is not None:
            return Visitor(
                person.login,
                person.name,
                frozenset(person.roles),
                person.grower,
                one_time=person.one_time,
                demo=demo,
                token=token,
            )
        if near and (store is None or not store.people.any()):
            return Visitor(roles=frozenset({"manager"}), open=True, demo=demo, token=token)
        return Visitor(demo=demo, token=token)


class Visits:
    """Finds out who asks, for every request but those for static files.

    Parameters
    ----------
    most : gives the most bytes that a visitor may send to an address [B].
    """

    def __init__(self, app: ASGIApp, door: Door, most: Callable[[str, Visitor], int]) -> None:
        self.app = app
        self._door = door
        self._most = most

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or scope["path"].startswith("/static/"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        token = token_in(headers, self._door.mill_dir)
        new = not token
        if new:
            token = secrets.token_urlsafe(32)
        near = not is_secure(headers) and is_near(scope)
        # a proxy speaks for somebody elsewhere, whatever name it asks under
        near = near and not any(name in headers for name in _PROXIED)
        try:
            found, scope[MARK] = await run_in_threadpool(self._door.enter, token, near)
        except RatoonError as error:  # without the records nobody can be told from anybody
            refused = PlainTextResponse(_NO_RECORDS, 503)
            await refused(scope, receive, send)
            print(f"ratoon: {shown(error.line())}", file=sys.stderr, flush=True)
            return
        _VISITOR.set(found)
        # what a form writes is read again in the same answer
        _AS_OF.set(scope[MARK] if scope["method"] in ("GET", "HEAD") else "")

        async def send_with_cookie(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                if new and "set-cookie" not in answer:
                    set_cookie = cookie_of(self._door.mill_dir, token, is_secure(headers))
                    answer.append("Set-Cookie", set_cookie)
                # what one person may see is kept by no proxy and by no shared browser
                answer.setdefault("Cache-Control", "private, no-cache")
                if is_secure(headers):
                    answer["Strict-Transport-Security"] = f"max-age={YEAR}"
            await send(message)

        most = self._most(scope["path"], found)
        if int(headers.get("content-length", "0")) > most:  # digits: the guard looked
            refused = PlainTextResponse("This may not be sent here by your role.\n", 403)
            await refused(scope, receive, send_with_cookie)
            return
        await self.app(scope, at_most(receive, most), send_with_cookie)
