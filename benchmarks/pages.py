"""How long pages take while twenty people ask without pause, from a process beside the server.

`python benchmarks/pages.py DIR [--seconds 20] [--stands 60] [--days 0] [--states first,stood,kept]`
serves the mill of a folder and asks for its pages, one request in ten a trial with a new rate.
Each of the twenty keeps to one connection and walks as the navigation leads: it begins on the
newest day, mostly takes another page of the day where it is, steps a day back or on, now and then
returns to the newest or picks any day of the season (with `--days 14`, of the newest fourteen).

It does so in three states of the server, and says which:

- *first start, nothing kept*: the pages that earlier servers kept in the folder are taken away,
  and the people ask as soon as the server answers. Whoever asks first waits until a page is made.
- *the same, having stood*: that server, left alone for `--stands` seconds after the run before.
  It has meanwhile made, of its own accord, what of the season was not asked for.
- *restart, pages kept*: the server is ended and started again, and the people ask as soon as it
  answers; it finds on disk what the one before it made, as far as that had come.

It says first how many weeks have no account yet: the server makes each when it is asked for, else
while it stands, and each is a record that ends the pages kept. For each state it prints how many
pages stand on disk at the beginning; how many were answered, the median and the 95th percentile of
all; the number and 95th percentile of those asked for the first time in that run (asked for again
before the first answer counts as first); the size of the HTML gzipped; and the processor's time of
server and clients. At the end a trial's time on the server when nobody else asks, and what each
page costs the server's processor the first time and once it is kept. Times are of this machine,
now. Nothing passes or fails.

Only the folder `kept-pages` in DIR is taken away, and accounts of weeks may be added to its
records, as by any server.
"""

from __future__ import annotations

import argparse
import gzip
import http.client
import os
import random
import re
import shutil
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from ratoon.jobs.day import accounted_days
from ratoon.jobs.week import without_account

CLIENTS = 20
TRIAL_SHARE = 0.1
STEP, HOME, ANYWHERE = 0.25, 0.1, 0.05
"""Shares of the steps that lead to a neighbouring day, the newest, any day; else the day stays."""
Times = dict[str, list[tuple[bool, float]]]
"""By page: whether the address was asked for the first time, and the seconds it took."""


def started(folder: Path) -> tuple[subprocess.Popen[str], int]:
    """The server of a folder on a free port, once it answers."""
    program = Path(sys.executable).with_name("ratoon")
    command = [str(program), "serve", "--mill", str(folder), "--port", "0",
               "--no-browser"]  # fmt: skip
    running = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    assert running.stderr
    while not (found := re.search(r"127\.0\.0\.1:(\d+)", running.stderr.readline())):
        if running.poll() is not None:
            raise SystemExit("the server did not start")
    return running, int(found[1])


def get(
    port: int,
    address: str,
    connection: http.client.HTTPConnection | None = None,
    or_422: bool = False,
) -> bytes:
    """What stands at an address; any other status ends the run, but that of a try without a day.

    A day without crushing has nothing to try, and says so.
    """
    asked = connection or http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    asked.request("GET", address)
    answer = asked.getresponse()
    body = answer.read()
    if answer.status != 200 and not (or_422 and answer.status == 422):
        raise SystemExit(f"{address}: status {answer.status}")
    return body


def addresses(port: int) -> list[str]:
    """The pages of the navigation."""
    html = get(port, "/").decode()
    bar = html[html.index("<nav") : html.index("</nav>")]
    return re.findall(r'href="(/[^"]*)"', bar)


def walk(days: list[str], chance: random.Random) -> Iterator[str]:
    """The days on which somebody asks for pages, one after the other."""
    at = len(days) - 1
    while True:
        yield days[at]
        drawn = chance.random()
        if drawn < STEP:  # mostly back: one comes from the newest
            at = min(max(at + chance.choice((-1, -1, 1)), 0), len(days) - 1)
        elif drawn < STEP + HOME:
            at = len(days) - 1
        elif drawn < STEP + HOME + ANYWHERE:
            at = chance.randrange(len(days))


def person(
    port: int, pages: list[str], days: list[str], until: float, times: Times, seen: set[str]
) -> None:
    """Ask without pause, as one person with one connection; `seen` holds what was answered."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    chance = random.Random(threading.get_ident())
    for day in walk(days, chance):
        if time.perf_counter() > until:
            return
        if chance.random() < TRIAL_SHARE:
            rate = chance.uniform(430.0, 500.0)
            name, address = "a trial", f"/try/{days[-1]}?cane.rate={rate:.1f}&format=json"
        else:
            page = chance.choice(pages)
            name = page.split("/")[1] or "morning"
            address = _of(page, day)
        first, begun = address not in seen and name != "a trial", time.perf_counter()
        get(port, address, connection, or_422=name == "try")
        times.setdefault(name, []).append((first, time.perf_counter() - begun))
        seen.add(address)


def _of(page: str, day: str) -> str:
    """A page of another day."""
    return f"/morning/{day}" if page == "/" else re.sub(r"\d{4}-\d\d-\d\d", day, page)


def processor(pid: int) -> float:
    """Seconds of processor time that a process has taken."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def costs(pid: int, port: int, pages: list[str], days: list[str]) -> None:
    """Processor time of each page by itself: made for days not asked for before, then kept.

    Trials are left out: a day without crushing has none. Asked one after the other without a
    pause, so that the server makes nothing of its own accord meanwhile.
    """
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    print(f"{'page':12} {'made, ms':>9} {'kept, ms':>9}   of the server's processor")
    for page in (p for p in pages if not p.startswith("/try/")):
        taken = []
        for times in (1, 5):
            asked = [_of(page, day) for day in days * times]
            begun = processor(pid)
            for address in asked:
                get(port, address, connection)
            taken.append(1000 * (processor(pid) - begun) / len(asked))
        print(f"{page.split('/')[1] or 'morning':12} {taken[0]:9.1f} {taken[1]:9.1f}")


def crowd(
    running: subprocess.Popen[str], port: int, pages: list[str], days: list[str], seconds: float
) -> None:
    """Twenty people on some days, and what they saw."""
    times: Times = {}
    seen: set[str] = set()
    until = time.perf_counter() + seconds
    people = [threading.Thread(target=person, args=(port, pages, days, until, times, seen))
              for _ in range(CLIENTS)]  # fmt: skip
    server, mine = processor(running.pid), time.process_time()
    for one in people:
        one.start()
    for one in people:
        one.join()
    server, mine = processor(running.pid) - server, time.process_time() - mine
    show(port, pages, times, seconds)
    print(
        f"processor: server {server:.1f} s without its workers, clients {mine:.1f} s\n", flush=True
    )


def asked_for() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=20.0, help="length of each run")
    parser.add_argument("--stands", type=float, default=60.0, help="rest before the second run")
    parser.add_argument("--days", type=int, default=0, help="newest days alone; 0 for all")
    parser.add_argument("--states", default="first,stood,kept,costs", help="which to run")
    return parser.parse_args()


def kept_in(folder: Path) -> str:
    found = [p.stat().st_size for p in (folder / "kept-pages").glob("*/*.page")]
    return f"{len(found)} pages on disk, {sum(found) / 1e6:.1f} MB"


def main() -> None:
    asked = asked_for()
    states, folder = asked.states.split(","), asked.folder
    if "first" in states:
        shutil.rmtree(folder / "kept-pages", ignore_errors=True)
    days = accounted_days(folder)[-asked.days :]
    missing = len(without_account(folder, days))
    said = f"{CLIENTS} clients without pause, {asked.seconds:g} s, {len(days)} days"
    print(f"{len(days)} days; weeks of them without an account yet: {missing}")
    running, port = started(folder)
    try:
        pages = addresses(port)
        if "first" in states:
            print(f"{said}, first start, nothing kept: {kept_in(folder)}")
            crowd(running, port, pages, days, asked.seconds)
        if "stood" in states:
            get(port, "/")
            time.sleep(asked.stands)
            print(f"{said}, having stood {asked.stands:g} s: {kept_in(folder)}")
            crowd(running, port, pages, days, asked.seconds)
        if "kept" in states:
            ended(running)
            running, port = started(folder)
            print(f"{said}, restart, pages kept: {kept_in(folder)}")
            crowd(running, port, pages, days, asked.seconds)
        if "costs" in states:
            alone(port, days[-1])
            ended(running)
            shutil.rmtree(folder / "kept-pages", ignore_errors=True)
            running, port = started(folder)
            costs(running.pid, port, pages, days[-14:])
    finally:
        ended(running)


def ended(running: subprocess.Popen[str]) -> None:
    running.terminate()
    running.wait(15)


def high(taken: list[float]) -> float:
    """The 95th percentile [ms]."""
    return 1000 * sorted(taken)[int(0.95 * (len(taken) - 1))]


def show(port: int, pages: list[str], times: Times, seconds: float) -> None:
    sizes = {p.split("/")[1] or "morning": len(gzip.compress(get(port, p))) for p in pages}
    print(f"{'page':12} {'asked':>6} {'median ms':>10} {'95 % ms':>8}"
          f" {'first':>6} {'95 % ms':>8} {'gzip kB':>8}")  # fmt: skip
    for name, asked in sorted(times.items()):
        size = f"{sizes[name] / 1000:.1f}" if name in sizes else ""
        taken, first = [t for _, t in asked], [t for new, t in asked if new]
        told = f"{high(first):8.0f}" if first else f"{'':8}"
        print(f"{name:12} {len(taken):6} {1000 * statistics.median(taken):10.0f} {high(taken):8.0f}"
              f" {len(first):6} {told} {size:>8}")  # fmt: skip
    total = sum(map(len, times.values()))
    print(f"all: {total / seconds:.0f} pages a second")


def alone(port: int, day: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    taken = []
    for n in range(60):
        begun = time.perf_counter()
        get(port, f"/try/{day}?cane.rate={440 + n}&format=json", connection)
        taken.append(time.perf_counter() - begun)
    middle = 1000 * statistics.median(taken)
    print(f"one person's trials: median {middle:.0f} ms, 95 % {high(taken):.0f} ms")


if __name__ == "__main__":
    main()
