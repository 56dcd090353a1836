"""Import of cane, its analysis and the issue of statements, killed at random and begun again."""

import json
import random
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from ratoon.demo.write import write_demo
from ratoon.jobs.cane import cane_of_all
from ratoon.jobs.imports import import_files
from ratoon.jobs.pay import issued_statements, pay
from ratoon.store import NoRecordsYet, Store, locate

KILLS = 6
FIRST, LAST = date(2031, 6, 10), date(2031, 6, 11)
WORK = """
import sys
from datetime import date
from pathlib import Path
from ratoon.jobs.cane import cane_of_all
from ratoon.jobs.imports import import_files
from ratoon.jobs.pay import pay
folder = Path(sys.argv[1])
import_files(folder, sorted((folder / "input").iterdir()))
cane_of_all(folder)
pay(folder, date(2031, 6, 10), date(2031, 6, 11), issue=True)
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    write_demo(folder, days=2)
    return folder


def _folder(made: Path, folder: Path, database: str) -> Path:
    (folder / "input").mkdir(parents=True)
    (folder / "mill.toml").write_text((made / "mill.toml").read_text(encoding="utf-8"))
    if "://" in database:
        (folder / "database.url").write_text(database)
    for path in (made / "input").iterdir():
        if "readings" not in path.name and "stops" not in path.name:
            (folder / "input" / path.name).write_bytes(path.read_bytes())
    return folder


def _told(folder: Path) -> tuple[object, ...]:
    """All that has to be the same however often the work was killed."""
    with Store.open(locate(folder), create=False) as store:
        assert store.verify() == []
        bins = [(r.key, r.content) for r in store.cane_records("bin")]
        tips = [r.key for r in store.cane_records("tip")]
        series = [len(store.cane_series(n, 0, 2**52)) for n in store.cane_series_names()]
    paid = [
        (s["grower"], s["issued"]["number"], s["total"], json.dumps(s["lines"]))
        for s in issued_statements(folder)
    ]
    return bins, tips, series, paid


def test_no_bin_is_lost_and_none_paid_twice(made: Path, database: str, tmp_path: Path) -> None:
    straight = _folder(made, tmp_path / "straight", "")
    began = time.perf_counter()
    import_files(straight, sorted((straight / "input").iterdir()))
    cane_of_all(straight)
    pay(straight, FIRST, LAST, issue=True)
    seconds = time.perf_counter() - began
    undisturbed = _told(straight)
    assert undisturbed[3]

    dice = random.Random(5)
    folder = _folder(made, tmp_path / "mill", database)
    for _ in range(KILLS):
        command = [sys.executable, "-c", WORK, str(folder)]
        silent = subprocess.DEVNULL
        process = subprocess.Popen(command, stdout=silent, stderr=silent)
        time.sleep(dice.uniform(0.3, 1.3) * seconds)
        process.kill()
        process.wait()
        try:
            _told(folder)
        except NoRecordsYet:
            continue
    import_files(folder, sorted((folder / "input").iterdir()))
    cane_of_all(folder)
    pay(folder, FIRST, LAST, issue=True)
    assert _told(folder) == undisturbed
