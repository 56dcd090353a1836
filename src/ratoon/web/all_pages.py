"""Makes every page of a mill's days once and keeps it on disk, before a server is started.

Pages are asked for through the whole app, as whoever sits at this machine asks for them: nothing is
made or kept that such a visitor would not be shown. Where people sign in, nobody does, and nothing
is made.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from starlette.types import ASGIApp, Message

from ratoon.web.app import create_app

_NAVIGATION = re.compile(r'<nav aria-label="Pages">(.*?)</nav>', re.DOTALL)
_LINK = re.compile(r'href="(/[^"]*)"')
HERE = "127.0.0.1"


def make_pages(
    mill_dir: Path,
    checks: Callable[[], list[dict[str, Any]]],
    progress: Callable[[str], None] | None = None,
) -> int:
    """Make the pages of the navigation for every accounted day; how many there are.

    Parameters
    ----------
    checks : gives the rows of the page Checks, as `ratoon check --json` prints them.
    """
    say = progress or (lambda line: None)
    with ThreadPoolExecutor(1) as one:  # a thread of its own: the caller's may run a loop already
        return one.submit(lambda: asyncio.run(_make(mill_dir, checks, say))).result()


async def _make(
    mill_dir: Path, checks: Callable[[], list[dict[str, Any]]], say: Callable[[str], None]
) -> int:
    from ratoon.jobs.day import accounted_days

    app, made = create_app(mill_dir, checks=checks, on_disk=True), 0
    days = list(reversed([str(one) for one in accounted_days(mill_dir)]))
    async with app.router.lifespan_context(app):
        for day in days:  # a week accounted now is a record: it ends what was made before it
            await get(app, f"/week/{day}")
        for day in days:
            status, first = await get(app, f"/morning/{day}")
            found = _NAVIGATION.search(first) if status == 200 else None
            if found is None:
                return made
            for address in _LINK.findall(found[1]):
                made += (await get(app, address))[0] == 200
            say(f"pages of {day}")
    return made


async def get(app: ASGIApp, path: str) -> tuple[int, str]:
    """Ask for a page as this machine's own browser would; its status and its text."""
    status, body = 500, bytearray()
    told = path.encode()
    scope: dict[str, Any] = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET",
        "scheme": "http", "path": path, "raw_path": told, "query_string": b"", "root_path": "",
        "headers": [(b"host", HERE.encode())], "client": (HERE, 0), "server": (HERE, 80),
    }  # fmt: skip

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        nonlocal status
        if message["type"] == "http.response.start":
            status = message["status"]
        else:
            body.extend(message.get("body", b""))

    await app(scope, receive, send)
    return status, body.decode("utf-8", "replace")
