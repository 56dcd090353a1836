"""Import of cane, its analysis and the issue of statements, killed fifty times on each database.

After every kill the database is sound; all of it done again accepts what is missing and nothing
else: no bin is lost, none is paid twice, and contents equal those of an undisturbed run. Two lanes,
each with a folder and a database of its own, share the time; see `killing_cane`.
"""

import json
import os
import random
import shutil
import sys
import uuid
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ratoon.demo.write import write_demo
from ratoon.jobs.cane import statement_files
from ratoon.jobs.cane.days import KIND
from ratoon.jobs.mills import in_mill, store_of
from ratoon.store import NoRecordsYet, chain
from ratoon.store.anchors import FILE as ANCHORS
from ratoon.store.anchors import Anchors

sys.path.insert(0, str(Path(__file__).parent))  # the fork server looks for the works there
import killing
import killing_cane

from ratoon.store import cane as stored_cane
from ratoon.store import cane_issued
from ratoon.store.answers import newest_results

KILLS, LANES = int(os.environ.get("RATOON_KILLS", "50")), 2
MOST_TURNS = 60  # of a lane: a work that ended before it was killed is no kill
PHASES = ("import", "cane", "issue")
MAKES = {"import": ("settings", "import"), "cane": ("result",), "issue": ("statement",)}
"""What the events of each phase are."""
PAID = ("paid_loads", "paid_consignments", "statement_files", "statements")
TABLES = (*PAID, "day_loads", "cane_corrections", "cane_series", "cane_records", "results",
          "files", "settings")  # fmt: skip


@dataclass
class Lane:
    """A mill's folder with a database, and what to go back to before each phase."""

    folder: Path
    server: str
    name: str

    @property
    def url(self) -> str:
        return f"postgresql://postgres@/{self.name}?host={self.server}" if self.server else ""

    def _ask(self, *orders: str, of: str = "postgres") -> None:
        import psycopg

        where = f"host={self.server} user=postgres dbname={of}"
        with psycopg.connect(where, autocommit=True) as server:
            for order in orders:
                server.execute(order)  # type: ignore[call-overload]

    def make(self) -> None:
        if self.server:
            self._ask(f"CREATE DATABASE {self.name}")

    def remember(self, phase: str) -> None:
        store_of(self.folder, create=True).close()
        if not self.server:
            shutil.copy(self.folder / "ratoon.db", self.folder / f"before-{phase}.db")
            shutil.copy(self.folder / ANCHORS, self.folder / f"before-{phase}.txt")

    def go_back(self, phase: str) -> None:
        if self.server:
            gone = {"import": TABLES, "cane": (*PAID, "day_loads", "results"), "issue": PAID}
            # by kind, not number: a yard whose making was killed is made when it is asked for
            with store_of(self.folder) as store:
                first = next(e.number for e in store.ask(chain.read) if e.what in MAKES[phase])
            self._ask(
                *(f"DELETE FROM {table}" for table in gone[phase]),
                f"DELETE FROM events WHERE number >= {first}", of=self.name,
            )  # fmt: skip
            anchors = self.folder / ANCHORS
            anchors.write_bytes(Anchors(anchors).upto(first - 1))
            return
        for path in self.folder.glob("ratoon.db*"):
            path.unlink()
        shutil.copy(self.folder / f"before-{phase}.db", self.folder / "ratoon.db")
        shutil.copy(self.folder / f"before-{phase}.txt", self.folder / ANCHORS)

    def run(self, work: str, kill_after: float | None = None) -> tuple[float, int | None]:
        """Do a work in a process of its own, killed some time after it began: time, exit code."""
        return killing.run(killing_cane.work, work, self.folder, kill_after)

    def told(self) -> dict[str, Any]:
        """All that has to be the same however often the work was killed; the database is sound."""
        try:
            with store_of(self.folder) as store:
                assert store.verify() == []
                kept = store.ask(newest_results, KIND)
                assert statement_files.faults(self.folder, store) == []
                return {
                    "bins": [(r.key, r.content) for r in store.ask(stored_cane.records, "bin")],
                    "tips": [r.key for r in store.ask(stored_cane.records, "tip")],
                    "series": {n: store.ask(stored_cane.series_values, n, 0, 2**52)
                               for n in store.ask(stored_cane.series_names)},
                    "answers": [r.answer for r in kept],
                    "paid": {(s.grower, s.number): (s.cents, s.digest)
                             for s in store.ask(cane_issued.issued)},
                }  # fmt: skip
        except NoRecordsYet:
            return {"paid": {}}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    write_demo(folder, days=1)
    return folder


@pytest.fixture(params=["sqlite", "postgresql"])
def server(request: pytest.FixtureRequest) -> str:
    """Socket folder of the server, or "" for SQLite."""
    on_server = request.param == "postgresql"
    return str(request.getfixturevalue("postgresql")) if on_server else ""


@pytest.fixture
def lanes(made: Path, tmp_path: Path, server: str) -> list[Lane]:
    killing.forked()  # before there are threads
    lanes = []
    for n in range(LANES):
        lane = Lane(tmp_path / f"mill-{n}", server, f"c{uuid.uuid4().hex[:12]}")
        killing_cane.make_folder(made, lane.folder, lane.url)
        lane.make()
        lanes.append(lane)
    return lanes


def test_no_bin_is_lost_and_none_paid_twice(lanes: list[Lane]) -> None:
    seconds = {}
    for lane in lanes:
        for phase in PHASES:
            lane.remember(phase)
            seconds[phase], code = lane.run(phase)
            assert code == 0
    undisturbed = lanes[0].told()
    assert len(undisturbed["bins"]) > 150
    assert len(undisturbed["paid"]) > 5

    def kill(lane: Lane, dice: random.Random) -> tuple[int, int]:
        reach, soon, killed, half_way = dict(seconds), 0.0, 0, 0
        for turn in range(MOST_TURNS):
            enough = killed >= KILLS // LANES
            if enough and half_way:
                break
            phase = "issue" if enough else PHASES[turn % 3]
            lane.go_back(phase)
            first = 0.95 * soon if phase == "issue" else 0.0
            after = dice.uniform(min(first, 0.9 * reach[phase]), reach[phase])
            code = lane.run(phase, after)[1]
            killed += code == -9
            told = lane.told()
            # The aim follows the pace of the machine, which others load and leave.
            reach[phase] *= 0.85 if code == 0 else 1.03
            if phase == "issue":  # between the first grower and the last, as near as can be
                half_way += 0 < len(told["paid"]) < len(undisturbed["paid"])
                soon = max(0.95 * soon, 0.0 if told["paid"] else after)
            assert told["paid"].items() <= undisturbed["paid"].items()
            assert lane.run("whole")[1] == 0
            assert lane.told() == undisturbed
        return killed, half_way

    with ThreadPoolExecutor(LANES) as threads:
        dice = [random.Random(5 + n) for n in range(LANES)]
        kills, half_way = zip(*threads.map(kill, lanes, dice), strict=True)
    assert sum(kills) >= KILLS
    assert sum(half_way) >= 2  # the kills must have fallen between one grower and the next


def test_statements_issued_after_a_kill_stay_as_they_were(made: Path, tmp_path: Path) -> None:
    """Issued again, a statement is the same one: number, total and text."""
    from ratoon.jobs.cane.pay import issued_statements

    lane = Lane(tmp_path / "mill", "", "")
    killing_cane.make_folder(made, lane.folder)
    assert lane.run("whole")[1] == 0
    once = in_mill(lane.folder, issued_statements)
    assert lane.run("whole")[1] == 0
    assert json.dumps(in_mill(lane.folder, issued_statements)) == json.dumps(once)
    assert {s["issued"]["number"] for s in once} == {1}
