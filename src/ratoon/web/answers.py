"""Answers held while what they rest on stands: a page is made when it is asked for, and once.

An answer is held by the state of the records, the role and the address. It is made for a visitor
without a name, so that it cannot hold what is one person's; the browser's own form token and the
name are put in afterwards. Which addresses are held says `access.RULES`.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace

from markupsafe import escape
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ratoon.web.access import rule_of
from ratoon.web.recent import Recent
from ratoon.web.visit import MARK, TOKEN_HERE, Visitor, as_visitor, visitor

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
    state : another text whenever the records changed; "" holds nothing.
    """

    def __init__(self, app: ASGIApp, state: Callable[[], str]) -> None:
        self.app = app
        self._state = state
        self._held: Recent[Answer] = Recent(state, MOST_HELD)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        rule = rule_of(scope["path"]) if scope["type"] == "http" else None
        if rule is None or not rule.held or scope["method"] not in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        who, state = visitor(), scope.get(MARK, "")
        key = (scope["path"], scope["query_string"], who.roles, who.grower, who.open, who.one_time,
               who.demo, who.signed_in)  # fmt: skip
        answer = self._held.get(key, state)
        if answer is None:
            answer = await self._made(scope, receive)
            own = any(name == "set-cookie" for name, _ in answer.headers)
            # records that changed meanwhile may have been told of
            if answer.status == 200 and not own and await run_in_threadpool(self._state) == state:
                self._held.put(key, state, answer)
        await _for_one(answer, Headers(scope=scope), who)(scope, receive, send)

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
