"""Import, day, cane and statements killed at any moment, on each database; writers beside others.

After every kill the database is sound, what was answered is there, and the work done again accepts
what is missing and nothing else: contents equal those of an undisturbed run. A few kills run
always; ``RATOON_KILLS=50 pytest tests/store/test_kill.py`` makes as many as one likes of each.
"""

import json
import os
import random
import shutil
import sys
from collections import Counter
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from ratoon.base.clock import Calendar
from ratoon.base.records import Period
from ratoon.jobs.cane import statement_files
from ratoon.jobs.cane.days import KIND
from ratoon.jobs.keep import doctor
from ratoon.jobs.mills import store_of
from ratoon.store import NoRecordsYet, Store
from ratoon.store.chain import events as chain

from .conftest import at

sys.path.insert(0, str(Path(__file__).parent))  # the fork server looks for the works there
import killing
import killing_cane
import killing_mill
from killing import Mill

from ratoon.store.answers import newest_result, newest_results
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane import kept as stored_cane
from ratoon.store.entries import readings_in

KILLS = int(os.environ.get("RATOON_KILLS", "2"))
MOST_TURNS = 3 * KILLS + 30  # a work that ended before it was killed is no kill
APPENDING_SECONDS = 3.0 if KILLS < 50 else 10.0
TIME_LEFT_OUT = ("seconds", "chain_head", "made_at")
PHASES = ("import", "cane", "issue")
TURNS = ("issue", "import", "issue", "issue", "issue", "cane", "issue", "issue")


@pytest.fixture(scope="module")
def made(invented_days: Callable[[int], Path]) -> Path:
    return invented_days(3)


@pytest.fixture(params=["sqlite", "postgresql"])
def server(request: pytest.FixtureRequest) -> str:
    """Socket folder of the server, or "" for SQLite."""
    on_server = request.param == "postgresql"
    return str(request.getfixturevalue("postgresql")) if on_server else ""


def _sound(folder: Path) -> None:
    assert [f for f in doctor._database(folder, None) if not f.sound] == []


def _contents(folder: Path) -> str:
    """Digest of what is stored, the database sound."""
    _sound(folder)
    with store_of(folder) as store:
        return store.contents_digest()


def _stored_files(folder: Path) -> int:
    try:
        with store_of(folder) as store:
            return sum(event.what == "import" for event in store.ask(chain.read))
    except NoRecordsYet:
        return 0


def test_import_killed_and_done_again(made: Path, server: str, tmp_path: Path) -> None:
    mill = Mill(tmp_path / "mill", server, killing_mill.work)
    files = killing_mill.make_folder(made, mill.folder, mill.url)
    mill.empty()
    store_of(mill.folder, create=True).close()
    mill.remember("tables")
    reach, code = mill.run("import")
    assert code == 0
    undisturbed = _contents(mill.folder)
    with store_of(mill.folder) as store:
        kinds = {"mill day": 30, "zone": 16, "lot": 30, "movement": 30, "shed survey": 30,
                 "order": 30, "mill week": 12, "spread load": 30}  # fmt: skip
        assert {k: len(store.ask(stored_cane.records, k)) for k in kinds} == kinds
    dice, killed, half_way = random.Random(11), 0, 0
    for turn in range(MOST_TURNS):
        if killed >= KILLS and half_way:
            break
        if (
            turn % 5 == 1
        ):  # the making of the tables, which takes as long as the rest, is killed too
            mill.empty()
        else:
            mill.go_back("tables")
        code = mill.run("import", dice.uniform(0.0, reach))[1]
        killed += code == -9
        _sound(mill.folder)
        stored = _stored_files(mill.folder)
        half_way += 0 < stored < len(files)
        # The aim follows the pace of the machine, which others load and leave.
        reach *= 0.85 if code == 0 else 1.2 if not stored else 1.0
        assert mill.run("import")[1] == 0
        assert _contents(mill.folder) == undisturbed
        assert _stored_files(mill.folder) == len(files)  # each came in once
    # The kills must have fallen into the work, or this shows nothing.
    assert killed >= KILLS and half_way


def _answer(folder: Path, calendar: Calendar) -> dict[str, Any] | None:
    """The day's newest answer, without what tells the time."""
    period = calendar.period(date.fromisoformat(killing_mill.DAY))
    with store_of(folder) as store:
        kept = store.ask(newest_result, "day", period)
    return kept and {k: v for k, v in kept.answer.items() if k not in TIME_LEFT_OUT}


def test_day_killed_and_done_again(made: Path, server: str, tmp_path: Path) -> None:
    mill, calendar = (
        Mill(tmp_path / "mill", server, killing_mill.work),
        killing_mill.mill().calendar,
    )
    folder = mill.folder
    killing_mill.make_folder(made, folder, mill.url)
    mill.empty()
    assert mill.run("import")[1] == 0
    mill.remember("imported")
    reach, code = mill.run("day")
    assert code == 0
    undisturbed, contents = _answer(folder, calendar), _contents(folder)
    dice, killed = random.Random(11), 0
    for turn in range(MOST_TURNS):
        if killed >= KILLS:
            break
        mill.go_back("imported")
        shutil.rmtree(folder / "sheets", ignore_errors=True)
        # Every other kill falls late, where answer and sheet are written.
        early = 0.7 if turn % 2 else 0.0
        code = mill.run("day", dice.uniform(early, 1.1) * reach)[1]
        killed += code == -9
        found = _answer(folder, calendar)
        reach *= 0.85 if code == 0 else 1.1 if found is None else 1.0
        assert found is None or found == undisturbed
        for path in (folder / "sheets").rglob("morning.json"):
            json.loads(path.read_text(encoding="utf-8"))
        assert mill.run("again")[1] == 0
        assert _contents(folder) == contents
        assert _answer(folder, calendar) == undisturbed
        sheets = {p.suffix for p in (folder / "sheets" / killing_mill.DAY).iterdir()}
        assert sheets >= {".html", ".pdf", ".json"}
    assert killed >= KILLS


def _told(folder: Path) -> dict[str, Any]:
    """All of cane that has to be the same however often the work was killed, the store sound."""
    with store_of(folder) as store:
        assert store.verify() == []
        assert statement_files.faults(folder, store) == []
        return {
            "bins": [(r.key, r.content) for r in store.ask(stored_cane.records, "bin")],
            "tips": [r.key for r in store.ask(stored_cane.records, "tip")],
            "series": {n: store.ask(stored_cane.series_values, n, 0, 2**52)
                       for n in store.ask(stored_cane.series_names)},
            "answers": [r.answer for r in store.ask(newest_results, KIND)],
            "paid": {(s.grower, s.number): (s.cents, s.digest)
                     for s in store.ask(cane_issued.issued)},
        }  # fmt: skip


def test_no_bin_is_lost_and_none_paid_twice(made: Path, server: str, tmp_path: Path) -> None:
    """So many kills among the statements, and a sixth of that in import and in analysis each."""
    mill = Mill(tmp_path / "mill", server, killing_cane.work)
    killing_cane.make_folder(made, mill.folder, mill.url)
    mill.empty()
    store_of(mill.folder, create=True).close()
    reach = {}
    for phase in PHASES:
        mill.remember(phase)
        reach[phase], code = mill.run(phase)
        assert code == 0
    undisturbed = _told(mill.folder)
    assert len(undisturbed["bins"]) > 150
    assert len(undisturbed["paid"]) > 5
    dice, soon, half_way = random.Random(5), 0.0, 0
    killed: Counter[str] = Counter()
    for turn in range(2 * MOST_TURNS):
        wanted = [p for p in PHASES if killed[p] < (KILLS if p == "issue" else 1)]
        if not wanted and half_way >= 2:
            break
        phase = TURNS[turn % len(TURNS)] if "issue" in wanted else [*wanted, "issue"][0]
        mill.go_back(phase)
        written = mill.folder / "statements"
        shutil.rmtree(written, ignore_errors=True)
        first = 0.95 * soon if phase == "issue" else 0.0
        after = dice.uniform(min(first, 0.9 * reach[phase]), reach[phase])
        code = mill.run(phase, after)[1]
        killed[phase] += code == -9
        told = _told(mill.folder)
        # The aim follows the pace of the machine, which others load and leave.
        reach[phase] *= 0.85 if code == 0 else 1.03
        if phase == "issue":  # files written, and nobody paid yet
            half_way += written.exists() and not told["paid"]
            soon = max(0.95 * soon, 0.0 if written.exists() else after)
        assert told["paid"] in ({}, undisturbed["paid"])  # all are issued, or none
        for again in PHASES[PHASES.index(phase) :]:
            assert mill.run(again)[1] == 0
        assert _told(mill.folder) == undisturbed
    assert not wanted
    assert half_way >= 2  # the kills must have fallen among the statements


def test_four_processes_appending_lose_and_double_nothing(database: str, tmp_path: Path) -> None:
    counts = [tmp_path / f"counts-{n}" for n in range(4)]
    processes = [
        killing.forked().Process(
            target=killing.append_for, args=(database, n, APPENDING_SECONDS, str(counts[n]))
        )
        for n in range(4)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join(60)
        assert process.exitcode == 0
    told = [[int(part) for part in path.read_text().split()] for path in counts]
    assert all(own == turns > 0 for own, _, turns in told)
    with Store.open(database) as store:
        held = [reading.address for reading in store.ask(readings_in, Period(at(1, 0), at(30)))]
        for n in range(4):
            assert held.count(f"own.{n}") == told[n][0]
        # every process offers the same shared readings: each is new to exactly one of them
        assert held.count("shared.one") == sum(shared for _, shared, _ in told)
        assert held.count("shared.one") == max(turns for *_, turns in told)
        assert store.verify() == []
