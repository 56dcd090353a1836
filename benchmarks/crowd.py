"""Whether the mill's people get their pages while a crowd stands in the door.

`python benchmarks/crowd.py DIR [--seconds 20]` serves a copy of a mill's folder. Sixty browsers
of signed-in people hold six connections each and ask for pages, each connection again two seconds
after its answer. Beside them 500 connections are silent, 50 never end a body, eight strangers ask
for the sign-in page and eight guess passwords as fast as they are answered.

Printed: how many answers, how many of them refused or never given, median, 95th percentile and
longest time [ms], first without and then with the crowd; then whether a person who is not signed
in comes in meanwhile. Exits with 1 when anybody of the mill was refused.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import shutil
import statistics
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import httpx2

from pages import started
from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import accounted_days
from ratoon.web.door.cookies import cookie_name

BROWSERS, EACH, SILENT, ENDLESS, STRANGERS = 60, 6, 500, 50, 8
THINK = 2.0
"""Time between an answer and the next request of a connection [s]."""
Told = list[tuple[float, int]]


async def at_work(address: str, pages: list[str], cookie: dict[str, str], until: float) -> Told:
    """One browser: six connections, each asking again and again; gives times and statuses."""
    seen: Told = []
    limits = httpx2.Limits(max_connections=EACH, max_keepalive_connections=EACH)
    async with httpx2.AsyncClient(cookies=cookie, limits=limits, timeout=60) as browser:

        async def one(n: int) -> None:
            while time.monotonic() < until:
                begun, status = time.monotonic(), 0
                with suppress(httpx2.HTTPError):
                    status = (await browser.get(address + pages[n % len(pages)])).status_code
                seen.append((time.monotonic() - begun, status))
                n += EACH
                await asyncio.sleep(THINK)

        await asyncio.gather(*(one(n) for n in range(EACH)))
    return seen


async def stands(port: int, words: bytes, until: float) -> None:
    """A connection on which nothing more is said; opened again when it was ended."""
    while time.monotonic() < until:
        with suppress(OSError):
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(words)
            with suppress(TimeoutError):
                await asyncio.wait_for(reader.read(), max(0.0, until - time.monotonic()))
            writer.close()


async def stranger(address: str, guesses: bool, until: float) -> None:
    """Asks for the sign-in page, or guesses, as fast as answers come."""
    async with httpx2.AsyncClient(timeout=60) as browser:
        while time.monotonic() < until:
            with suppress(httpx2.HTTPError):
                page = (await browser.get(f"{address}/login")).text
                if guesses and (token := re.search(r'form-token" content="([^"]+)', page)):
                    await browser.post(f"{address}/login", data={
                        "login": "manager", "password": "wrong", "token": token[1]})  # fmt: skip


async def comes_in(address: str, password: str) -> str:
    """What somebody who is at the door meets, and how soon."""
    begun = time.monotonic()
    async with httpx2.AsyncClient(timeout=60) as browser:
        page = (await browser.get(f"{address}/login")).text
        found = re.search(r'form-token" content="([^"]+)', page)
        given = {"login": "late", "password": password, "token": found[1] if found else ""}
        answer = await browser.post(f"{address}/login", data=given)
    return f"status {answer.status_code} after {time.monotonic() - begun:.1f} s"


def tell(name: str, seen: Told) -> int:
    """Print a line; gives how many were refused or never answered."""
    times = sorted(1000 * t for t, _ in seen)
    bad = sum(status != 200 for _, status in seen)
    print(f"{name}: {len(seen)} answers, {bad} refused; median {statistics.median(times):.0f} ms,"
          f" 95 % {times[int(0.95 * len(times))]:.0f}, longest {times[-1]:.0f}")  # fmt: skip
    return bad


async def run(port: int, cookies: list[dict[str, str]], pages: list[str], password: str,
              seconds: float) -> int:  # fmt: skip
    """First without, then with the crowd."""
    address = f"http://127.0.0.1:{port}"

    async def everybody() -> Told:
        until = time.monotonic() + seconds
        all_ = await asyncio.gather(*(at_work(address, pages, c, until) for c in cookies))
        return [one for told in all_ for one in told]

    bad = tell("alone", await everybody())
    until = time.monotonic() + seconds + 3
    endless = b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900\r\n\r\nlogin="
    crowd = [asyncio.create_task(stands(port, b"", until)) for _ in range(SILENT)]
    crowd += [asyncio.create_task(stands(port, endless, until)) for _ in range(ENDLESS)]
    crowd += [asyncio.create_task(stranger(address, n % 2 == 0, until))
              for n in range(2 * STRANGERS)]  # fmt: skip
    await asyncio.sleep(1)
    told, late = await asyncio.gather(everybody(), comes_in(address, password))
    bad += tell("with the crowd", told)
    print(f"somebody signs in meanwhile: {late}")
    await asyncio.gather(*crowd)
    return bad


def main() -> None:
    """Serve a copy, stand in the door, and tell."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=20.0)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        copy = Path(temporary) / "mill"
        shutil.copytree(given.folder, copy)
        day = max(in_mill(copy, accounted_days))
        with store_of(copy) as store:
            person, first = jobs.add_person(store, "manager", "Manager", ["manager"])
            _, password = jobs.add_person(store, "late", "Late", ["viewer"])
            new = "seven herons by the weir"
            jobs.change_password(store, "manager", first, new)
            cookies = [{cookie_name(copy): jobs.sign_in(store, person.login, new)[1]}
                       for _ in range(BROWSERS)]  # fmt: skip
        server, port = started(copy, 1)
        try:
            pages = [f"/{name}/{day}" for name in ("morning", "works", "account", "week")]
            sys.exit(asyncio.run(run(port, cookies, pages, password, given.seconds)) > 0)
        finally:
            server.terminate()
            server.wait(15)


if __name__ == "__main__":
    main()
