"""The program itself, started from the command line on the invented mill's mill file and killed."""

import random
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

from ratoon.jobs import doctor, imports
from ratoon.store import NoRecordsYet, Store, locate

KILLS = 5
"""Starting Python takes most of each; `test_kill` has the fifty that fall into the work."""


def _folder(folder: Path, database: str) -> list[Path]:
    (folder / "input").mkdir(parents=True)
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    if "://" in database:
        (folder / "database.url").write_text(database)
    for month in (6, 7, 8):
        lines = ["address,start,end,value,unit,sigma,source,note"]
        for day in range(11, 29):
            for hour in range(24):
                start = f"2031-{month:02}-{day}T{hour:02}:00"
                lines.append(f"bagasse.pol,{start},2031-{month:02}-{day}T{hour:02}:30,1.9,%,,,")
        (folder / "input" / f"{month}.csv").write_text("\n".join(lines) + "\n")
    return sorted((folder / "input").iterdir())


def _contents(folder: Path) -> str:
    with Store.open(locate(folder), create=False) as store:
        assert store.verify() == []
        return store.contents_digest()


def test_program_killed_and_started_again(database: str, tmp_path: Path) -> None:
    dice = random.Random(11)
    straight = tmp_path / "straight"
    read = _folder(straight, "")
    began = time.perf_counter()
    _start(straight, read).wait(60)
    seconds = time.perf_counter() - began
    undisturbed = _contents(straight)

    folder = tmp_path / "mill"
    read = _folder(folder, database)
    for _ in range(KILLS):
        process = _start(folder, read)
        time.sleep(dice.uniform(0.5, 1.0) * seconds)
        process.kill()
        process.wait()
        assert all(finding.sound for finding in doctor.examine(folder))
        try:
            assert _contents(folder)
        except NoRecordsYet:
            continue
    imports.import_files(folder, read)
    assert _contents(folder) == undisturbed


def _start(folder: Path, read: list[Path]) -> subprocess.Popen[bytes]:
    program = Path(sys.executable).with_name("ratoon")
    command = [program, "import", "--mill", folder, *read]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
