"""Requests at work are counted, and strangers take turns: a crowd of them stops nobody at work."""

from __future__ import annotations

import asyncio
from weakref import WeakValueDictionary

from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ratoon.web.door.cookies import place_of_request
from ratoon.web.door.visit import visitor

MOST_AT_WORK = 1000
"""Requests that are answered or wait for it; strangers have half of them."""
STRANGERS, STRANGERS_OF_A_PLACE = 16, 4
"""Requests of people not signed in that are answered at once, in all and from one address. The
pages have forty threads; the others are for people signed in."""


class Crowd:
    """Lets people signed in go on; strangers wait for one another, those of a place first."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self._at_work = 0
        self._turns = asyncio.Semaphore(STRANGERS)
        self._turns_of: WeakValueDictionary[str, asyncio.Semaphore] = WeakValueDictionary()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        who = visitor()
        known = who.signed_in or who.open
        if self._at_work >= (MOST_AT_WORK if known else MOST_AT_WORK // 2):
            full = PlainTextResponse(
                "Too many ask at once: try again.\n", 503, {"Retry-After": "2"}
            )
            await full(scope, receive, send)
            return
        self._at_work += 1
        try:
            if known or scope["path"].startswith("/static/"):
                await self.app(scope, receive, send)
                return
            # read before the turn is taken: a body that never ends holds up nobody
            message = await _whole(receive)
            place = place_of_request(HTTPConnection(scope))
            mine = self._turns_of.setdefault(place, asyncio.Semaphore(STRANGERS_OF_A_PLACE))
            async with mine, self._turns:
                await self.app(scope, _again(message, receive), send)
        finally:
            self._at_work -= 1


async def _whole(receive: Receive) -> Message:
    """A stranger's body, which is short: the guard sees to it."""
    body = bytearray()
    while True:
        message = await receive()
        body += message.get("body", b"")
        if message["type"] != "http.request":
            return message
        if not message.get("more_body", False):
            return {"type": "http.request", "body": bytes(body), "more_body": False}


def _again(message: Message, receive: Receive) -> Receive:
    given = False

    async def receive_it() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return message

    return receive_it
