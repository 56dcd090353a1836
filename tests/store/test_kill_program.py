"""The real import and the real day, killed fifty times each on each database.

After every kill: `ratoon doctor` finds the database sound, the import done again accepts what is
missing and nothing else, and contents and figures are equal to those of an undisturbed run.
Two lanes, each with a folder and a database of its own, share the time; see `killing_mill` for how
kills are made to fall into the work.
"""

import json
import random
import shutil
import sys
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ratoon.base.clock import Calendar
from ratoon.jobs import doctor
from ratoon.jobs.mills import store_of
from ratoon.store import NoRecordsYet, chain
from ratoon.store.anchors import FILE as ANCHORS
from ratoon.store.anchors import Anchors

sys.path.insert(0, str(Path(__file__).parent))  # the fork server looks for the works there
import killing
import killing_mill

from ratoon.store.answers import newest_result

KILLS, LANES = 50, 2
MOST_TURNS = 60  # of a lane: a work that ended before it was killed is no kill
TIME_LEFT_OUT = ("seconds", "chain_head", "made_at")


@dataclass
class Lane:
    """A mill's folder with a database, and a copy of that database to go back to."""

    folder: Path
    files: list[Path]
    server: str
    name: str
    events: int = 0

    @property
    def url(self) -> str:
        return f"postgresql://postgres@/{self.name}?host={self.server}" if self.server else ""

    def _ask(self, *orders: str, of: str = "postgres") -> None:
        import psycopg

        where = f"host={self.server} user=postgres dbname={of}"
        with psycopg.connect(where, autocommit=True) as server:
            for order in orders:
                server.execute(order)  # type: ignore[call-overload]

    def empty(self) -> None:
        """Begin with no database, or with an empty one."""
        if self.server:
            self._ask(f"DROP DATABASE IF EXISTS {self.name} WITH (FORCE)",
                      f"CREATE DATABASE {self.name}")  # fmt: skip
        for path in (*self.folder.glob("ratoon.db*"), *self.folder.glob(ANCHORS)):
            path.unlink()

    def remember(self) -> None:
        """Keep the database as it stands: empty, or imported and nothing accounted yet."""
        with store_of(self.folder, create=True) as store:
            self.events = len(store.ask(chain.read))
        if not self.server:
            shutil.copy(self.folder / "ratoon.db", self.folder / "kept.db")
            shutil.copy(self.folder / ANCHORS, self.folder / "kept.txt")

    def go_back(self) -> None:
        """The database as it was remembered with its anchors, and no sheets."""
        shutil.rmtree(self.folder / "sheets", ignore_errors=True)
        if self.server:
            # A copy of a whole database takes a second; taking out what came after does the same.
            later = [f"DELETE FROM events WHERE number > {self.events}", "DELETE FROM results"]
            if self.events == 1:  # nothing but the making of the database
                later += [f"DELETE FROM {t}" for t in ("readings", "stops", "files", "settings")]
            self._ask(*later, of=self.name)
            anchors = self.folder / ANCHORS  # of this database, which may be another one by now
            anchors.write_bytes(Anchors(anchors).upto(self.events))
            return
        for path in self.folder.glob("ratoon.db*"):
            path.unlink()
        shutil.copy(self.folder / "kept.db", self.folder / "ratoon.db")
        shutil.copy(self.folder / "kept.txt", self.folder / ANCHORS)

    def run(self, work: str, kill_after: float | None = None) -> tuple[float, int | None]:
        """Do a work in a process of its own, killed some time after it began: time, exit code."""
        return killing.run(killing_mill.work, work, self.folder, kill_after)

    def contents(self) -> str:
        """Digest of what is stored, the database sound."""
        assert [f for f in doctor._database(self.folder, None) if not f.sound] == []
        with store_of(self.folder) as store:
            return store.contents_digest()

    def answer(self, calendar: Calendar) -> dict[str, Any] | None:
        """The day's newest answer, without what tells the time."""
        from datetime import date

        period = calendar.period(date.fromisoformat(killing_mill.DAY))
        with store_of(self.folder) as store:
            kept = store.ask(newest_result, "day", period)
        return kept and {k: v for k, v in kept.answer.items() if k not in TIME_LEFT_OUT}

    def stored_files(self) -> int:
        try:
            with store_of(self.folder) as store:
                return sum(event.what == "import" for event in store.ask(chain.read))
        except NoRecordsYet:
            return 0


@pytest.fixture
def lanes(request: pytest.FixtureRequest, tmp_path: Path, server: str) -> list[Lane]:
    killing.forked()  # before there are threads
    made = []
    for n in range(LANES):
        lane = Lane(tmp_path / f"mill-{n}", [], server, f"t{uuid.uuid4().hex[:12]}")
        lane.files = killing_mill.make_folder(lane.folder, lane.url)
        lane.empty()
        made.append(lane)
    return made


@pytest.fixture(params=["sqlite", "postgresql"])
def server(request: pytest.FixtureRequest) -> str:
    """Socket folder of the server, or "" for SQLite."""
    on_server = request.param == "postgresql"
    return str(request.getfixturevalue("postgresql")) if on_server else ""


def both(lanes: list[Lane], act: Callable[[Lane, random.Random], int]) -> int:
    """Act in each lane at the same time, with dice of its own; the counts added."""
    with ThreadPoolExecutor(LANES) as threads:
        dice = [random.Random(11 + n) for n in range(LANES)]
        return sum(threads.map(act, lanes, dice))


def test_import_killed_and_done_again(lanes: list[Lane]) -> None:
    assert lanes[0].run("import")[1] == 0
    undisturbed = lanes[0].contents()
    lanes[0].empty()
    seconds = lanes[0].run("import")[0]
    half_way = []

    def kill(lane: Lane, dice: random.Random) -> int:
        killed, reach = 0, seconds
        for turn in range(MOST_TURNS):
            if killed == KILLS // LANES:
                break
            if turn % 5:
                lane.go_back()
            else:  # the making of the tables, which takes as long as the rest, is killed too
                lane.empty()
            if turn == 0:
                lane.remember()
            code = lane.run("import", dice.uniform(0.0, reach))[1]
            killed += code == -9
            assert [f for f in doctor._database(lane.folder, None) if not f.sound] == []
            stored = lane.stored_files()
            half_way.append(0 < stored < len(lane.files))
            # The aim follows the pace of the machine, which others load and leave.
            reach *= 0.85 if code == 0 else 1.2 if not stored else 1.0
            assert lane.run("import")[1] == 0
            assert lane.contents() == undisturbed
            assert lane.stored_files() == len(lane.files)  # each came in once
        return killed

    # The kills must have fallen into the work, or this shows nothing.
    assert both(lanes, kill) == KILLS
    assert sum(half_way) >= 5


def test_day_killed_and_done_again(lanes: list[Lane]) -> None:
    calendar = killing_mill.mill().calendar
    answers = []
    for lane in lanes:
        assert lane.run("import")[1] == 0
        lane.remember()
        seconds, code = lane.run("day")
        assert code == 0
        answers.append(lane.answer(calendar))
    undisturbed = dict(zip((lane.name for lane in lanes), answers, strict=True))
    contents = {lane.name: lane.contents() for lane in lanes}

    def kill(lane: Lane, dice: random.Random) -> int:
        killed, reach = 0, seconds
        for turn in range(MOST_TURNS):
            if killed == KILLS // LANES:
                break
            lane.go_back()
            # Every other kill falls late, where answer and sheet are written.
            early = 0.7 if turn % 2 else 0.0
            code = lane.run("day", dice.uniform(early, 1.1) * reach)[1]
            killed += code == -9
            found = lane.answer(calendar)
            reach *= 0.85 if code == 0 else 1.1 if found is None else 1.0
            assert found is None or found == undisturbed[lane.name]
            for path in (lane.folder / "sheets").rglob("morning.json"):
                json.loads(path.read_text(encoding="utf-8"))
            assert lane.run("again")[1] == 0
            assert lane.contents() == contents[lane.name]
            assert lane.answer(calendar) == undisturbed[lane.name]
            sheets = {p.suffix for p in (lane.folder / "sheets" / killing_mill.DAY).iterdir()}
            assert sheets >= {".html", ".pdf", ".json"}
        return killed

    assert both(lanes, kill) == KILLS
