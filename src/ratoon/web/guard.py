"""What is let in, and what every answer carries: loopback names, GET and HEAD, safe headers."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A page in a browser elsewhere may not reach this one under a name of its own (DNS rebinding).
HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})
METHODS = frozenset({"GET", "HEAD"})
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; font-src 'self'; "
        "img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-cache",
}


def host_name(host: str) -> str:
    """The name in a Host header, without its port."""
    if host.startswith("["):
        return host[: host.find("]") + 1].lower()
    return host.partition(":")[0].lower()


class Guard:
    """Refuses strangers, then lets the app answer and adds the headers."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        if host_name(Headers(scope=scope).get("host", "")) not in HOSTS:
            refused = PlainTextResponse("This program answers this machine alone.\n", 400)
            await refused(scope, receive, send_safely)
        elif scope["method"] not in METHODS:
            refused = PlainTextResponse(
                "These pages only read: GET and HEAD.\n", 405, headers={"Allow": "GET, HEAD"}
            )
            await refused(scope, receive, send_safely)
        else:
            await self.app(scope, receive, send_safely)
