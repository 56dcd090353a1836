"""Answers held while what they rest on stands: a page is made when it is asked for, and once.

An answer is held by the state of the records, the role and the address; that of a mill day by the
state of what touches that day or one before it, so that what is typed today leaves older days as
they are. It is made for a visitor without a name, so that it cannot hold what is one person's; the
browser's own form token and the name are put in afterwards. `access.RULES` says what is held.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass, replace

from markupsafe import escape
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ratoon.web.door.access import Rule, rule_of
from ratoon.web.door.visit import MARK, TOKEN_HERE, Door, Visitor, as_visitor, visitor
from ratoon.web.sheet.recent import Recent

MOST_HELD = 300
"""Most answers that are held; a page takes 20 to 200 kB."""
NAME_HERE = secrets.token_hex(32)
"""What stands for a person's name in a held answer; no page holds it by accident."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A status, the headers but for length, and the body with places for token and name."""

    status: int
    headers: tuple[tuple[str, str], ...]
    body: bytes
    digest: str


class Answers:
    """Gives what is held, or lets the app answer and holds that.

    Parameters
    ----------
    door : tells the state of the records, as they are now and as far as they touch a day.
    """

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app = app
        self._door = door
        self._held: Recent[Answer] = Recent(door.state, MOST_HELD)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        rule = rule_of(scope["path"]) if scope["type"] == "http" else None
        own = b"done=" in scope["query_string"] if rule else False  # what this browser just did
        if rule is None or not rule.held or own or scope["method"] not in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        who = visitor()
        state = await run_in_threadpool(self._rests_on, rule, scope, scope.get(MARK, ""))
        key = (scope["path"], scope["query_string"], who.roles, who.grower, who.open, who.one_time,
               who.demo, who.signed_in)  # fmt: skip
        answer = self._held.get(key, state)
        if answer is None:
            answer = await self._made(scope, receive)
            own = any(name == "set-cookie" for name, _ in answer.headers)
            moving = ("cache-control", "no-store") in answer.headers  # it tells of the present
            if answer.status == 200 and not own and not moving:
                now = await run_in_threadpool(self._rests_on, rule, scope)
                if now == state:  # else it may tell of records that changed meanwhile
                    self._held.put(key, state, answer)
        await _for_one(answer, Headers(scope=scope), who)(scope, receive, send)

    def _rests_on(self, rule: Rule, scope: Scope, state: str | None = None) -> str:
        """Another text whenever something changed on which an answer rests, as known in a state."""
        state = self._door.state() if state is None else state
        if rule.until is None or scope["query_string"]:
            return state
        return self._door.state_of_day(scope["path"].split("/")[2], rule.until, state)

    async def _made(self, scope: Scope, receive: Receive) -> Answer:
        """The app's answer to somebody of the same role without a name."""
        who, status, body = visitor(), 500, bytearray()
        headers: tuple[tuple[str, str], ...] = ()

        async def listen(message: Message) -> None:
            nonlocal status, headers
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = tuple((k, v) for k, v in Headers(raw=message["headers"]).items()
                                if k != "content-length")  # fmt: skip
            else:
                body.extend(message.get("body", b""))

        name, login = (NAME_HERE if text else "" for text in (who.name, who.login))
        with as_visitor(replace(who, name=name, login=login, token=TOKEN_HERE)):
            await self.app(scope, receive, listen)
        return Answer(status, headers, bytes(body), hashlib.sha256(body).hexdigest())


def _for_one(answer: Answer, asked: Headers, who: Visitor) -> Response:
    """The answer as one browser gets it, or the word that it has it already."""
    headers = dict(answer.headers) | {"Vary": "Cookie"}
    if answer.status == 200:
        tag = hashlib.sha256(f"{answer.digest} {who.secret} {who.name}".encode()).hexdigest()[:32]
        headers["ETag"] = f'W/"{tag}"'
        if is_known(asked, tag):
            headers.pop("content-type", None)
            return Response(status_code=304, headers=headers)
    body = answer.body
    if TOKEN_HERE.encode() in body:
        body = body.replace(TOKEN_HERE.encode(), who.form_token.encode())
        body = body.replace(NAME_HERE.encode(), str(escape(who.name)).encode())
    return Response(body, answer.status, headers)


def is_known(asked: Headers, tag: str) -> bool:
    """Whether a browser that sends If-None-Match has this answer already."""
    known = asked.get("if-none-match", "").split(",")
    return tag in {t.strip().removeprefix("W/").strip('"') for t in known}
