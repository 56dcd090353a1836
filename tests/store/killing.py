"""Work that other processes do for the kill tests; loaded by a fork server, so kept light.

`WORKS` holds what can be killed; the mill day's account is one more entry of it.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock_time
from functools import cache
from multiprocessing import connection, forkserver
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar
from ratoon.base.records import Period, Reading

DAYS = 12
ADDRESSES = 30
HEADER = "address,start,end,value,unit,sigma,source,note"
PRELOAD = [
    "killing", "killing_warm", "ratoon.cli.app", "ratoon.jobs.imports", "ratoon.store.room",
    "psycopg",
]  # fmt: skip
"""What the fork server loads once for all processes."""


@cache
def forked() -> Any:
    """The fork server's context, the server started with everything loaded.

    The server does not take over the path of whoever starts it, and passes over what it does not
    find without a word: the path goes in by the environment.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOAD)
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = str(Path(__file__).parent)
    try:
        forkserver.ensure_running()
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before
    return context


ONE_AT_A_TIME = threading.Lock()
"""Starting a process looks at all the others, and an exit code can be read but once: two threads
that look at the same time would leave one of them without it."""


def run(
    work: Callable[..., None], name: str, folder: Path, kill_after: float | None = None
) -> tuple[float, int | None]:
    """Do a work in a process of its own, killed some time after it began: time taken, exit code.

    Safe to be called from several threads.
    """
    began = folder / "began"
    began.unlink(missing_ok=True)
    with ONE_AT_A_TIME:
        process = forked().Process(target=work, args=(name, str(folder), str(began)))
        process.start()
    while not began.exists() and not connection.wait([process.sentinel], 0.001):
        pass
    start = time.perf_counter()
    connection.wait([process.sentinel], kill_after)
    with ONE_AT_A_TIME:
        if process.is_alive():
            process.kill()
        process.join()
        return time.perf_counter() - start, process.exitcode


def small_mill() -> SimpleNamespace:
    """A mill of thirty flows: the files' side of a mill, without its plant."""
    infos = (AddressInfo(f"meter.{n}.flow", f"meter {n}", "t/h") for n in range(ADDRESSES))
    return SimpleNamespace(
        addresses={info.address: info for info in infos},
        calendar=Calendar("Australia/Brisbane", clock_time(6), season_start=date(2031, 6, 10)),
        atmospheric=101325.0,
        settings=SimpleNamespace(text="# a mill for the kill tests\n", sheets={}),
    )


def make_folder(folder: Path, url: str = "") -> list[Path]:
    """A mill's folder with files of three days each; `url` names a PostgreSQL database."""
    (folder / "input").mkdir(parents=True)
    (folder / "mill.toml").write_text("# a mill for the kill tests\n")
    if url:
        (folder / "database.url").write_text(url)
    for first in range(0, DAYS, 3):
        lines = [HEADER]
        for day in range(first, first + 3):
            start = date(2031, 6, 10) + timedelta(days=day)
            for n in range(ADDRESSES):
                lines.append(f"meter.{n}.flow,{start},,{100 + n + day / 7:.6f},t/h,1.5,,")
                lines.append(f"meter.{n}.flow,{start}T08:00,{start}T09:00,{n + day},t/h,2,,")
        lines.append(f"meter.0.flow,{start},,n/a,t/h,,,")
        (folder / "input" / f"days-{first:02}.csv").write_text("\n".join(lines) + "\n")
    return sorted((folder / "input").iterdir())


def import_all(folder: str) -> int:
    """The import as the command line does it, in this process."""
    from ratoon.cli.app import run
    from ratoon.jobs import mills

    mills.mill_of = lambda _: small_mill()  # type: ignore[assignment, return-value]
    files = [str(path) for path in sorted((Path(folder) / "input").iterdir())]
    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
        return run(["import", "--mill", folder, *files])


def keep_answers(folder: str) -> None:
    """Answers kept one after another, as accounting a season does."""
    from ratoon.jobs.mills import store_of

    calendar = small_mill().calendar
    with store_of(Path(folder), create=True) as store:
        for day in range(40):
            period = calendar.period(date(2031, 6, 10) + timedelta(days=day))
            answer = {"figures": [day + n / 7 for n in range(400)]}
            store.add_result("day", period, "d" * 64, {"program": "1"}, answer)


WORKS: dict[str, Callable[[str], object]] = {"import": import_all, "answers": keep_answers}


def work(name: str, folder: str, began: str) -> None:
    """Do one work; the file `began` tells that it has begun."""
    Path(began).touch()
    WORKS[name](folder)


def append_for(where: str, me: int, seconds: float, counts: str) -> None:
    """Append readings of its own and ones everybody appends, and write down how many were new."""
    from ratoon.store import Store

    until = time.monotonic() + seconds
    own = shared = turns = 0
    with Store.open(where) as store:
        while time.monotonic() < until:
            at = datetime(2031, 8, 1, tzinfo=UTC) + timedelta(minutes=turns)
            period = Period(at, at + timedelta(minutes=1))
            own += store.add_readings([_reading(f"own.{me}", period)], f"process {me}").accepted
            shared += store.add_readings([_reading("shared.one", period)], "all").accepted
            turns += 1
    Path(counts).write_text(f"{own} {shared} {turns}")


def _reading(address: str, period: Period) -> Reading:
    return Reading(address, 1.0, 0.1, start=period.start, end=period.end, unit="t/h", given=1.0)
