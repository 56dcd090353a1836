"""Plain HTTP is answered to this machine alone: the connection's address decides, no header."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from ratoon.web.door.guard import Guard


async def _app(scope: Any, receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b""})


def _status(client: str, host: str, **headers: str) -> int:
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {"type": "http.request", "body": b""}

    given = {"host": host, **{k.replace("_", "-"): v for k, v in headers.items()}}
    scope = {
        "type": "http", "method": "GET", "path": "/", "scheme": "http", "query_string": b"",
        "client": (client, 50000), "server": ("0.0.0.0", 8484),
        "headers": [(k.encode(), v.encode()) for k, v in given.items()],
    }  # fmt: skip
    # in a thread of its own: a browser's loop may run in this one
    with ThreadPoolExecutor(1) as thread:
        thread.submit(
            asyncio.run, Guard(_app, names=["mill.example"])(scope, receive, send)
        ).result()
    return int(sent[0]["status"])


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8484", "[::1]", "mill.example"])
def test_a_stranger_is_not_near_whatever_host_he_names(host: str) -> None:
    assert _status("192.0.2.7", host) == 403
    assert _status("192.0.2.7", host, x_forwarded_proto="https") == 200


def test_this_machine_itself_is_answered() -> None:
    assert _status("127.0.0.1", "localhost:8484") == 200
    assert _status("::1", "[::1]:8484") == 200
    assert _status("127.0.0.1", "mill.example") == 403  # a TLS server that forgot its header
