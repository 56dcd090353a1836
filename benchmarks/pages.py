"""How long pages take while twenty people ask without pause, from a process beside the server.

`python benchmarks/pages.py DIR [SECONDS] [STANDS]` serves the mill of a folder and asks for its
pages in the ratio of the navigation, one request in ten a trial with a new rate. It does so twice:

- *older days*, right after the start: pages of the third and fourth week back, which nobody has
  asked for and which are not made ahead. Who asks first waits until the page is made.
- *newest days*, after somebody has opened a page and the server has then stood STANDS seconds
  (60): the newest fourteen days, whose pages, and the plants of Try, the server makes meanwhile.

For each it prints how many pages were answered, the median and the 95th percentile of all; the
number and 95th percentile of those asked for the first time in that run (what is asked for again
before the first answer counts as first); the size of the HTML gzipped; and the processor's time of
server and clients. Then a trial's time on the server when nobody else asks, and what each page
costs the server's processor the first time and once it is kept. Times are of this machine, now.
Nothing passes or fails.
"""

from __future__ import annotations

import gzip
import http.client
import json
import os
import random
import re
import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path

CLIENTS = 20
TRIAL_SHARE = 0.1
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


def get(port: int, address: str, connection: http.client.HTTPConnection | None = None) -> bytes:
    """What stands at an address; any other status than 200 ends the run."""
    asked = connection or http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    asked.request("GET", address)
    answer = asked.getresponse()
    body = answer.read()
    if answer.status != 200:
        raise SystemExit(f"{address}: status {answer.status}")
    return body


def addresses(port: int) -> tuple[list[str], list[str]]:
    """The pages of the navigation, and the accounted days."""
    newest = json.loads(get(port, "/live"))
    html = get(port, "/").decode()
    bar = html[html.index("<nav") : html.index("</nav>")]
    return re.findall(r'href="(/[^"]*)"', bar), sorted(newest["marks"])


def person(
    port: int, pages: list[str], days: list[str], until: float, times: Times, seen: set[str]
) -> None:
    """Ask without pause, as one person with one connection; `seen` holds what was answered."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    chance = random.Random(threading.get_ident())
    while time.perf_counter() < until:
        if chance.random() < TRIAL_SHARE:
            rate = chance.uniform(430.0, 500.0)
            name, address = "a trial", f"/try/{days[-1]}?cane.rate={rate:.1f}&format=json"
        else:
            page = chance.choice(pages)
            name = page.split("/")[1] or "morning"
            address = page if name == "try" else _of(page, chance.choice(days))
        first, begun = address not in seen and name != "a trial", time.perf_counter()
        get(port, address, connection)
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

    Trials are left out: a day without crushing has none.
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
    print(f"processor: server {server:.1f} s without its workers, clients {mine:.1f} s\n")


def main() -> None:
    folder = Path(sys.argv[1])
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 20.0
    stands = float(sys.argv[3]) if len(sys.argv) > 3 else 60.0
    running, port = started(folder)
    try:
        pages, days = addresses(port)
        newest, older, oldest = days[-14:], days[-28:-14], days[-42:-28]
        get(port, f"/try/{newest[-1]}?cane.rate=471&format=json")
        print(f"{CLIENTS} clients without pause, {seconds:g} s, older days, right after the start")
        crowd(running, port, pages, older, seconds)
        print(f"the same, newest days, after the server has stood {stands:g} s")
        time.sleep(stands)
        crowd(running, port, pages, newest, seconds)
        alone(port, newest[-1])
        costs(running.pid, port, pages, oldest)
    finally:
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
