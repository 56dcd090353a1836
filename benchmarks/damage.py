"""Whether `ratoon doctor` finds what a failing disk does to a mill's files.

`python benchmarks/damage.py [--draws 300] [--seed 1]` makes a mill of two days with cane, issued
statements, sheets and a second place of anchors, then damages one file of a copy at a time: a bit
turned round, or the file cut short, in the database, in its log (taken while the mill is open, the
statements still in it), in a sheet or in the anchors, in turn. After each the copy is examined.

Printed for each kind of file: how often the damage was found or the copy refused, how often it was
harmless (sound, and every stored row and every sheet as before), and how often the copy was called
sound with something changed. Exits with 1 when the last is not zero.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from contextlib import closing
from pathlib import Path

from ratoon.base.errors import RatoonError
from ratoon.cli.app import run
from ratoon.demo.write import write_demo
from ratoon.jobs.keep import doctor
from ratoon.store import rows
from ratoon.store.room import Store

FIRST, LAST = "2031-06-10", "2031-06-11"
KINDS = ("database", "log", "sheet", "anchors")


def command(mill: Path, *words: str) -> None:
    """A command of the program on a mill; ends all when it is refused."""
    out = sys.stdout
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123 - a stream, not a file
        sys.stdout = nowhere
        try:
            code = run([*words, "--mill", str(mill)])
        finally:
            sys.stdout = out
    if code not in (0, 3):
        raise SystemExit(f"{words}: exit code {code}")


def made(folder: Path) -> tuple[Path, Path]:
    """The mill closed, and as it lay while it was open with a log."""
    mill, second, lying = folder / "mill", folder / "second", folder / "open"
    for one in (mill, second):
        one.mkdir()
    write_demo(mill, days=2)
    (mill / "anchors.second").write_text(str(second))
    command(mill, "import", *(str(p) for p in sorted((mill / "input").glob("*.csv"))))
    command(mill, "cane", "--all")
    for day in (FIRST, LAST):
        command(mill, "day", day)
    command(mill, "week", LAST)
    with Store.open(mill / "ratoon.db"):  # keeps the log: the last to close it would merge it
        command(mill, "pay", "--from", FIRST, "--to", LAST, "--issue")
        copy(mill, lying)
    return mill, lying


def copy(mill: Path, to: Path) -> None:
    """A copy without the memory that processes share."""
    shutil.copytree(mill, to, ignore=shutil.ignore_patterns("*-shm", "truth", "input"))


def contents(mill: Path) -> str:
    """Digest of every stored row and of every sheet."""
    mark = hashlib.sha256()
    with Store.open(mill / "ratoon.db", look=True) as store, rows.snapshot(store) as shot:
        for name in shot.names():
            for line in shot.lines(name):
                mark.update(line.encode())
    for path in sorted((mill / "sheets").rglob("*")):
        if path.is_file():
            mark.update(path.name.encode() + path.read_bytes())
    return mark.hexdigest()


def target(mill: Path, kind: str, chance: random.Random) -> Path:
    """The file that is damaged."""
    if kind == "database":
        return mill / "ratoon.db"
    if kind == "log":
        return mill / "ratoon.db-wal"
    if kind == "anchors":
        return mill / "anchors.txt"
    return chance.choice(sorted(p for p in (mill / "sheets").rglob("*") if p.is_file()))


def damage(file: Path, chance: random.Random) -> str:
    """Turn one bit of a file round, or cut the file short; says what was done."""
    size = file.stat().st_size
    at = chance.randrange(size)
    if chance.random() < 0.3:
        os.truncate(file, at)
        return f"cut at {at} of {size}"
    with file.open("r+b") as opened:
        opened.seek(at)
        byte = opened.read(1)[0]
        opened.seek(at)
        opened.write(bytes([byte ^ 1 << chance.randrange(8)]))
    return f"bit turned at {at} of {size}"


def judged(mill: Path, before: str) -> str:
    """found, harmless, or CHANGED: called sound with a row or a sheet changed."""
    try:
        if not all(one.sound for one in doctor.examine(mill)):
            return "found"
        return "harmless" if contents(mill) == before else "CHANGED"
    except (RatoonError, sqlite3.Error):
        return "found"


def draw(mill: Path, kind: str, before: str, chance: random.Random) -> tuple[str, str]:
    """Damage a copy of a mill; gives what became of it, and what was done to which file."""
    with tempfile.TemporaryDirectory(dir=mill.parent) as temporary:
        damaged = Path(temporary) / "mill"
        copy(mill, damaged)
        file = target(damaged, kind, chance)
        done = damage(file, chance)
        return judged(damaged, before), f"{file.relative_to(damaged)} {done}"


def main() -> None:
    """Draw, and tell."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--draws", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    told: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    with tempfile.TemporaryDirectory() as temporary:
        closed, lying = made(Path(temporary))
        copy(lying, look := Path(temporary) / "look")
        before = {closed: contents(closed), lying: contents(look)}
        with closing(sqlite3.connect(closed / "ratoon.db")) as plain:
            assert plain.execute("SELECT count(*) FROM statements").fetchone() != (0,)
        for n in range(given.draws):
            kind = KINDS[n % len(KINDS)]
            mill = lying if kind == "log" else closed
            chance = random.Random(f"{given.seed} {n}")
            found, what = draw(mill, kind, before[mill], chance)
            told[kind][found] += 1
            if found == "CHANGED":
                print(f"draw {n}: {what}: called sound")
    for kind, counts in told.items():
        print(f"{kind:<9} found {counts['found']:>3}, harmless {counts['harmless']:>3},"
              f" called sound and changed {counts['CHANGED']:>3}")  # fmt: skip
    sys.exit(any(counts["CHANGED"] for counts in told.values()))


if __name__ == "__main__":
    main()
