"""How long pages take twenty people at work, from a process beside the server.

`python benchmarks/pages.py DIR [--seconds 60] [--processes 1] [--seed 1] [--costs]` serves a copy
of a mill's folder from a cold start and asks for its pages as soon as it answers. Each of twenty
people keeps to one connection, thinks for one to three seconds before each page, and walks as the
navigation leads: from the newest day mostly to another page of the day, a day back or on, now and
then to the newest or to any day of the season; one act in ten is a trial with a new rate. Beside
them somebody types a reading of the newest day every five seconds, and each ends what was held.

Printed for each page: how many were asked for, median, 95th percentile and longest time [ms],
those of days before the newest apart ("old days"), and the size of the HTML gzipped; then the
processor's time of server, solvers and clients. With `--costs` then what each page costs the
server's processor by itself: made anew for days not asked for before, and once it is held.
Times are of this machine, now. Nothing passes or fails; the wanted is 150 and 500 ms, and 60 ms.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from ratoon.account.mill import read_mill
from ratoon.base.records import Reading
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import accounted_days

PEOPLE = 20
THINK = (1.0, 3.0)
"""Shortest and longest thought before an act [s]."""
EVERY = 5.0
"""Time between two readings that are typed [s]."""
TRIAL_SHARE = 0.1
STEP, HOME, ANYWHERE = 0.25, 0.1, 0.05
"""Shares of the steps that lead to a neighbouring day, the newest, any day; else the day stays."""
TYPED = "mixed_juice.brix"
Times = dict[str, list[float]]


def started(folder: Path, processes: int) -> tuple[subprocess.Popen[str], int]:
    """The server of a folder on a free port, once it says so."""
    program = Path(sys.executable).with_name("ratoon")
    command = [str(program), "serve", "--mill", str(folder), "--port", "0", "--no-browser",
               "--processes", str(processes)]  # fmt: skip
    running = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    assert running.stderr
    while not (found := re.search(r"127\.0\.0\.1:(\d+)", running.stderr.readline())):
        if running.poll() is not None:
            raise SystemExit("the server did not start")
    return running, int(found[1])


def get(port: int, address: str, connection: http.client.HTTPConnection | None = None) -> bytes:
    """What stands at an address; a day without crushing has nothing to try, and says so (422)."""
    asked = connection or http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    asked.request("GET", address, headers={"Accept-Encoding": "gzip"})
    answer = asked.getresponse()
    body = answer.read()
    if answer.status != 200 and not (answer.status == 422 and address.startswith("/try/")):
        raise SystemExit(f"{address}: status {answer.status}")
    return body


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
    port: int, pages: list[str], days: list[str], until: float, seed: int, seen: Times, old: Times
) -> None:
    """One person who thinks before each act, with one connection."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    chance = random.Random(seed)
    for day in walk(days, chance):
        time.sleep(chance.uniform(*THINK))
        if time.perf_counter() > until:
            return
        if chance.random() < TRIAL_SHARE:
            rate = chance.uniform(430.0, 500.0)
            name, address = "a trial", f"/try/{days[-1]}?cane.rate={rate:.1f}&format=json"
        else:
            page = chance.choice(pages)
            name, address = page.split("/")[1] or "morning", of_day(page, day)
        begun = time.perf_counter()
        get(port, address, connection)
        taken = time.perf_counter() - begun
        seen[name].append(taken)
        if day != days[-1] and day in address:
            old[name].append(taken)


def of_day(page: str, day: str) -> str:
    """A page of another day."""
    return f"/morning/{day}" if page == "/" else re.sub(r"\d{4}-\d\d-\d\d", day, page)


def typist(folder: Path, day: str, ended: threading.Event) -> None:
    """Somebody who types a reading of a day every few seconds."""
    start = read_mill(folder / "mill.toml").calendar.period(date.fromisoformat(day)).start
    with store_of(folder) as store:
        for n in range(10_000):
            if ended.wait(EVERY):
                return
            at = start + timedelta(seconds=7 * n + 1)
            store.add_readings([Reading(TYPED, 0.151, None, start=at, unit="%", given=15.1,
                                        end=at + timedelta(minutes=5))], "typed")  # fmt: skip


def processor(pids: list[int]) -> float:
    """Seconds of processor time that processes have taken."""
    ticks = 0
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def below(pid: int) -> list[int]:
    """A process with all that it started."""
    listed = Path(f"/proc/{pid}/task").glob("*/children")
    found = [int(one) for path in listed for one in path.read_text().split()]
    return [pid, *(p for one in found for p in below(one))]


def crowd(
    running: subprocess.Popen[str], port: int, folder: Path, days: list[str], seconds: float,
    seed: int,
) -> None:  # fmt: skip
    """Twenty people on some days, and what they saw."""
    seen: Times = defaultdict(list)
    old: Times = defaultdict(list)
    pages = [re.sub(r"\d{4}-\d\d-\d\d", days[-1], a) for a in NAVIGATION]
    until, ended = time.perf_counter() + seconds, threading.Event()
    typing = threading.Thread(target=typist, args=(folder, days[-1], ended))
    people = [
        threading.Thread(target=person, args=(port, pages, days, until, seed + n, seen, old))
        for n in range(PEOPLE)
    ]
    mine = time.process_time()
    for one in [typing, *people]:
        one.start()
    for one in people:
        one.join()
    ended.set()
    typing.join()
    mine = time.process_time() - mine
    show(port, pages, seen, old, seconds)
    server, *solvers = below(running.pid)
    print(f"processor: server {processor([server]):.1f} s with its start, what it started "
          f"{processor(solvers):.1f} s, clients and typist {mine:.1f} s\n", flush=True)  # fmt: skip


OF_A_DAY = ("works", "account", "week", "try", "cane", "yard", "laboratory", "journal", "readings")
NAVIGATION = ("/", *(f"/{page}/2000-01-01" for page in OF_A_DAY), "/import", "/mill", "/checks")
"""Pages of the navigation; asked for without looking first, for a start that is cold."""


def high(taken: list[float], share: float = 0.95) -> float:
    """A percentile [ms]."""
    return 1000 * sorted(taken)[int(share * (len(taken) - 1))]


def show(port: int, pages: list[str], seen: Times, old: Times, seconds: float) -> None:
    sizes = {p.split("/")[1] or "morning": len(get(port, p)) for p in pages}
    print(f"{'page':12} {'asked':>6} {'median ms':>10} {'95 % ms':>8} {'longest':>8}"
          f" {'old days':>9} {'95 % ms':>8} {'longest':>8} {'gzip kB':>8}")  # fmt: skip
    for name in (*sorted(seen), "all"):
        taken = seen[name] if name != "all" else [t for part in seen.values() for t in part]
        before = old[name] if name != "all" else [t for part in old.values() for t in part]
        size = f"{sizes[name] / 1000:.1f}" if name in sizes else ""
        told = f"{high(before):8.0f} {high(before, 1.0):8.0f}" if before else f"{'':17}"
        print(f"{name:12} {len(taken):6} {1000 * statistics.median(taken):10.0f} {high(taken):8.0f}"
              f" {high(taken, 1.0):8.0f} {len(before):9} {told} {size:>8}")  # fmt: skip
    print(f"{sum(map(len, seen.values())) / seconds:.1f} pages a second")


def costs(running: subprocess.Popen[str], port: int, days: list[str]) -> None:
    """Processor time of each page by itself: made for days not asked for before, then held."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    print(f"{'page':12} {'made, ms':>9} {'held, ms':>9}   of the server's processor")
    for page in (p for p in NAVIGATION if not p.startswith("/try/")):
        taken = []
        for times in (1, 5):
            asked = [of_day(page, day) for day in days * times]
            begun = processor([running.pid])
            for address in asked:
                get(port, address, connection)
            taken.append(1000 * (processor([running.pid]) - begun) / len(asked))
        print(f"{page.split('/')[1] or 'morning':12} {taken[0]:9.1f} {taken[1]:9.1f}", flush=True)


def asked_for() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=60.0, help="length of the run")
    parser.add_argument("--processes", type=int, default=1, help="of the server")
    parser.add_argument("--seed", type=int, default=1, help="of what people do")
    parser.add_argument("--costs", action="store_true", help="what each page costs, too")
    return parser.parse_args()


def main() -> None:
    asked = asked_for()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "mill"
        folder.mkdir()
        for one in ("mill.toml", "ratoon.db", "ratoon.db-wal"):
            if (asked.folder / one).is_file():
                shutil.copy(asked.folder / one, folder / one)
        days = [str(day) for day in in_mill(folder, accounted_days)]
        print(f"{PEOPLE} people, {asked.seconds:g} s from a cold start, {len(days)} days, "
              f"{asked.processes} process(es), load {os.getloadavg()[0]:.1f} before")  # fmt: skip
        running, port = started(folder, asked.processes)
        try:
            crowd(running, port, folder, days, asked.seconds, asked.seed)
            if asked.costs:
                ended(running)
                running, port = started(folder, 1)
                costs(running, port, days[-14:])
        finally:
            ended(running)


def ended(running: subprocess.Popen[str]) -> None:
    running.terminate()
    running.wait(15)


if __name__ == "__main__":
    main()
