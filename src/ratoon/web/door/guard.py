"""What is let in, and what every answer carries: known host names, plain methods, safe headers."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A page in a browser elsewhere may not reach this one under a name of its own (DNS rebinding).
HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})
METHODS = frozenset({"GET", "HEAD", "POST"})
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; font-src 'self'; "
        "img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
_TLS_FIRST = (
    "These pages answer beyond their machine over TLS alone: the TLS server before them must send"
    " X-Forwarded-Proto: https.\n"
)


_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[^\[\]:@/?#\s]+)(:[0-9]{1,5})?")


def host_name(host: str) -> str:
    """The name in a Host header, without its port; "" where it is no host and port.

    Examples
    --------
    >>> host_name("Mill:8484"), host_name("[::1]:80"), host_name("[::1]evil"), host_name("a:80@b")
    ('mill', '[::1]', '', '')
    """
    found = _HOST.fullmatch(host)
    return found[1].lower() if found else ""


def is_loopback(name: str) -> bool:
    """Whether a host name means this machine."""
    return name in HOSTS


def is_near(scope: Scope) -> bool:
    """Whether the connection comes from this machine: its address says so, no header does."""
    client = scope.get("client")
    # the test client has a name in place of an address
    return client is None or client[0] in ("127.0.0.1", "::1", "testclient")


class Guard:
    """Refuses strangers and bodies too long, then lets the app answer and adds the headers.

    Parameters
    ----------
    names : host names under which others reach this machine; loopback is always let in.
    most : gives the most bytes that an address takes in [B].
    """

    def __init__(
        self, app: ASGIApp, names: Iterable[str] = (), most: Callable[[str], int] = lambda _: 0
    ) -> None:
        self.app = app
        self._hosts = HOSTS | {name.lower() for name in names}
        self._most = most

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.setdefault("Cache-Control", "no-cache")
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        refused = self._refusal(scope)
        if refused is not None:
            await refused(scope, receive, send_safely)
            return
        receive = at_most(receive, self._most(scope["path"]))
        await self.app(scope, receive, send_safely)

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        headers = Headers(scope=scope)
        if host_name(headers.get("host", "")) not in self._hosts:
            return PlainTextResponse("This program does not answer under this name.\n", 400)
        here = is_loopback(host_name(headers["host"])) and is_near(scope)
        if not here and not _over_tls(scope, headers):
            return PlainTextResponse(_TLS_FIRST, 403)  # before anybody types a password
        if scope["method"] not in METHODS:
            return PlainTextResponse(
                "Pages take GET and HEAD, forms POST.\n", 405, headers={"Allow": "GET, HEAD, POST"}
            )
        length = headers.get("content-length", "0")
        most = self._most(scope["path"])
        if not re.fullmatch("[0-9]{1,15}", length) or int(length) > most:
            # the rest of the body is not read: the connection ends here
            return PlainTextResponse(_too_long(most) + "\n", 413, headers={"Connection": "close"})
        return None


def _over_tls(scope: Scope, headers: Headers) -> bool:
    """Whether the TLS server before us says so; who says it falsely deceives only himself."""
    return scope["scheme"] == "https" or headers.get("x-forwarded-proto", "") == "https"


def at_most(receive: Receive, most: int) -> Receive:
    """Reads a body that did not say how long it is, and refuses to go on past a limit [B]."""
    read = 0

    async def receive_some() -> Message:
        nonlocal read
        message = await receive()
        read += len(message.get("body", b""))
        if read > most:
            raise HTTPException(413, _too_long(most))
        return message

    return receive_some


def _too_long(most: int) -> str:
    return f"too much was sent: this address takes {most} bytes at most"
