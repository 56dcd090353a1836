"""Silent and slow connections, and crowds of strangers, as a server on loopback meets them."""

import asyncio
import contextlib
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import httpx2
import pytest
import uvicorn
from starlette.testclient import TestClient

from ratoon.web.door import connection
from ratoon.web.door.crowd import STRANGERS_OF_A_PLACE, Crowd
from ratoon.web.door.visit import Visitor, as_visitor
from ratoon.web.serve import _config, listening_socket


def run(coroutine):
    """In a thread of its own: a browser of other tests keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as beside:
        return beside.submit(asyncio.run, coroutine).result()


@contextlib.contextmanager
def serving(app):
    """An app as `serve` serves it, on a free port of loopback."""
    listener = listening_socket(0)
    server = uvicorn.Server(_config(app))
    beside = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    beside.start()
    try:
        yield listener.getsockname()[1], server
    finally:
        server.should_exit = True
        beside.join(10)
        listener.close()


async def hello(scope, receive, send):
    if scope["type"] == "lifespan":
        return
    size = 0
    while True:
        message = await receive()
        size += len(message.get("body", b""))
        if not message.get("more_body"):
            break
    body = b"x" * (5_000_000 if scope["path"] == "/long" else 5)
    head = {"type": "http.response.start", "status": 200, "headers": []}
    await send(head)
    await send({"type": "http.response.body", "body": body})


HEAD = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\n"


async def ended(port, words, seconds=3.0, read=True):
    """Whether the server ends a connection over which only `words` are sent."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port, limit=1024)
    writer.write(words)
    try:
        if not read:
            await asyncio.sleep(seconds)
        return await asyncio.wait_for(reader.read() if read else reader.readexactly(9**7), 4) == b""
    except TimeoutError:
        return False
    except (ConnectionError, asyncio.IncompleteReadError):
        return True
    finally:
        writer.close()


def test_what_is_silent_or_without_end_is_ended_and_stops_nobody(monkeypatch):
    monkeypatch.setattr(connection, "HEAD_SECONDS", 0.6)
    monkeypatch.setattr(connection, "SILENT_SECONDS", 0.6)
    slow = [b"", b"GET / HT", HEAD, HEAD + b"Content-Length: 9\r\n\r\nabc"]

    async def crowd(port):
        waits = [asyncio.create_task(ended(port, words)) for words in slow * 60]
        waits.append(asyncio.create_task(ended(port, b"GET /long HTTP/1.1\r\nHost: x\r\n\r\n",
                                               read=False)))  # fmt: skip
        await asyncio.sleep(0.1)
        async with httpx2.AsyncClient(limits=httpx2.Limits(max_connections=120)) as browser:
            ask = [browser.post(f"http://127.0.0.1:{port}/", content=b"hello") for _ in range(360)]
            told = [answer.status_code for answer in await asyncio.gather(*ask)]
        return told, await asyncio.gather(*waits)

    with serving(hello) as (port, server):
        told, gone = run(crowd(port))
        assert told == [200] * 360
        assert gone == [True] * 241
        until = time.monotonic() + 10
        while server.server_state.connections and time.monotonic() < until:
            time.sleep(0.05)
        assert not server.server_state.connections


def test_a_body_that_dribbles_ends_and_the_oldest_silent_one_makes_room(monkeypatch):
    monkeypatch.setattr(connection, "BODY_SECONDS", 1.0)
    monkeypatch.setattr(connection, "MOST_CONNECTIONS", 3)

    async def dribble(port):
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(HEAD + b"Content-Length: 900\r\n\r\n")
        begun = time.monotonic()
        with contextlib.suppress(ConnectionError):
            while time.monotonic() - begun < 4 and not reader.at_eof():
                writer.write(b"x")
                await writer.drain()
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(reader.read(1), 0.2)
        writer.close()
        silent = [await asyncio.open_connection("127.0.0.1", port) for _ in range(4)]
        first = await asyncio.wait_for(silent[0][0].read(), 2)
        for _, one in silent:
            one.close()
        return time.monotonic() - begun, first

    with serving(hello) as (port, _):
        took, first = run(dribble(port))
    assert took < 3.5 and first == b""


@pytest.mark.parametrize(("login", "at_once"), [("", STRANGERS_OF_A_PLACE), ("anna", 20)])
def test_strangers_take_turns_and_who_is_signed_in_does_not(login, at_once):
    most = working = 0

    async def page(scope, receive, send):
        nonlocal most, working
        working += 1
        most = max(most, working)
        await asyncio.sleep(0.02)
        working -= 1

    async def ask():
        crowd = Crowd(page)

        async def body():
            return {"type": "http.request", "body": b"", "more_body": False}

        scope = {"type": "http", "path": "/login", "headers": [], "client": ("127.0.0.1", 1)}
        slow = asyncio.create_task(crowd(scope, asyncio.Event().wait, None))
        with as_visitor(Visitor(login=login)):
            await asyncio.gather(*(crowd(scope, body, None) for _ in range(20)))
        slow.cancel()

    run(ask())
    assert most == at_once


def test_beyond_the_most_at_work_one_is_told_to_try_again(monkeypatch):
    monkeypatch.setattr("ratoon.web.door.crowd.MOST_AT_WORK", 1)
    answer = TestClient(Crowd(hello)).get("/login")
    assert answer.status_code == 503 and answer.headers["retry-after"] == "2"
