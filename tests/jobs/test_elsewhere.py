"""Futures on a Dask scheduler: one answer, one killed half-way, nobody left, other versions."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from datetime import date
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from distributed import Client

import ratoon
from ratoon.base.errors import RatoonError
from ratoon.jobs.season import elsewhere
from ratoon.jobs.season.elsewhere import workers
from ratoon.plans.season.forecast import forecast
from ratoon.plans.season.given import Given, given
from ratoon.plans.season.rules import rules

BLOCKS = 12
AT = date(2031, 6, 10)


@pytest.fixture(scope="module")
def known() -> Given:
    zone = {"zone": "A", "as_of": "2031-06-01", "area": 5_000, "estimate": 400_000}
    settings = {"mill": {"season_start": AT}, "season": {"latest_finish": date(2031, 9, 20)}}
    return given([], [], [], [zone], rules(settings, AT), AT)


class Cluster:
    """A scheduler on loopback and its workers, each a process that can be killed."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "scheduler.json"
        self.scheduler = self._start("scheduler", "--port", "0")
        self.workers: list[subprocess.Popen[bytes]] = []
        until = time.monotonic() + 60
        while not self.file.exists() and time.monotonic() < until:
            time.sleep(0.05)
        self.address = str(json.loads(self.file.read_text())["address"])

    def _start(self, what: str, *words: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", "--host", "127.0.0.1",
                   "--no-dashboard", "--scheduler-file", str(self.file), *words]  # fmt: skip
        quiet = subprocess.DEVNULL
        return subprocess.Popen(command, stdout=quiet, stderr=quiet, cwd=self.file.parent)

    def add(self) -> None:
        self.workers.append(self._start("worker", "--nthreads", "1", "--no-nanny"))

    def wait_for(self, number: int) -> None:
        """Return when so many workers have come."""
        with Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(number, timeout=60)

    def kill(self, process: subprocess.Popen[bytes]) -> None:
        process.kill()
        process.wait()


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    made = Cluster(tmp_path_factory.mktemp("dask"))
    try:
        yield made
    finally:
        for one in (*made.workers, made.scheduler):
            made.kill(one)


@pytest.fixture
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """So much patience is for machines far away."""
    monkeypatch.setattr(elsewhere, "WAIT_SECONDS", 2.0)


class Disturbed(Executor):
    """An executor to which something happens when so many answers are there."""

    def __init__(self, inner: Executor, after: int, happens: Callable[[], None]) -> None:
        self.inner, self.after, self.happens = inner, after, happens
        self.calls: list[Future[Any]] = []

    def map(self, fn: Callable[..., Any], *iterables: Iterable[Any], **_: Any) -> Iterator[Any]:
        for n, answer in enumerate(self.inner.map(fn, *iterables)):
            if n == self.after:
                self.happens()
            yield answer


def test_a_scheduler_without_workers(cluster: Cluster) -> None:
    empty = pytest.raises(RatoonError, match="the scheduler has no worker")
    with empty, workers(cluster.address, 100):
        pass


def test_one_answer_whoever_works_it(known: Given, cluster: Cluster) -> None:
    """In this process, in two and in three, by two workers, and with one of them killed."""
    for _ in range(2):
        cluster.add()
    cluster.wait_for(2)
    futures = BLOCKS * 1000
    here = forecast(known, futures, 5, explained=False)
    digests = []
    for processes in (2, 3):
        with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as own:
            digests.append(forecast(known, futures, 5, explained=False, on=own).answer_digest)
    busy: list[int] = []
    with workers(cluster.address, futures) as pool:
        digests.append(forecast(known, futures, 5, explained=False, on=pool).answer_digest)

        assert isinstance(pool, elsewhere._Watched)

        def kill() -> None:
            busy.append(sum(map(len, pool.client.processing().values())))
            cluster.kill(cluster.workers[0])

        disturbed = Disturbed(pool, 0, kill)
        digests.append(forecast(known, futures, 5, explained=False, on=disturbed).answer_digest)
        assert len(pool.client.nthreads()) == 1
    assert busy[0] > 1  # both had work when one was killed
    assert digests == [here.answer_digest] * 4
    assert np.isfinite(here.crop.q50 or np.nan)


def test_a_worker_of_another_version_is_named(
    cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ratoon, "__version__", "0.0.0")
    other = pytest.raises(RatoonError, match=r"has ratoon .*; allowed: ratoon 0\.0\.0, numpy")
    with other as said, workers(cluster.address, 100):
        pass
    assert "\n" not in str(said.value)


@pytest.mark.usefixtures("soon")
def test_work_that_nobody_is_left_for_ends_in_a_line(known: Given, cluster: Cluster) -> None:
    """The last worker is killed; then the scheduler, while work waits for a worker."""
    began = time.monotonic()
    with pytest.raises(RatoonError) as said, workers(cluster.address, 100) as pool:
        assert pool is not None
        disturbed = Disturbed(pool, 0, lambda: cluster.kill(cluster.workers[-1]))
        forecast(known, BLOCKS * 1000, 5, explained=False, on=disturbed)
    assert str(said.value).startswith("--on: no worker is left")
    with Client(cluster.address, set_as_default=False) as client:
        waits = elsewhere._Watched(client, cluster.address).map(len, ["a"])
        cluster.kill(cluster.scheduler)
        with pytest.raises(RatoonError, match="--on: the scheduler") as said:
            next(waits)
    assert "\n" not in str(said.value)
    assert time.monotonic() - began < 30


@pytest.mark.usefixtures("soon")
def test_no_scheduler_answers() -> None:
    nobody = pytest.raises(RatoonError, match="no scheduler answers")
    with nobody, workers("tcp://127.0.0.1:9", 100):
        pass
