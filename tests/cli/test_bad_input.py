"""Bad input typed at a shell: one clear line with the nearest right name, nothing stored half.

Each case has a folder to itself. Those of `OWN_PROCESS` run as processes of their own, one of each
kind; the others call what the program calls, in this one.
"""

import contextlib
import io
import os
import random
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import pytest

from ratoon.cli.app import run
from ratoon.store import Store, locate

PROGRAM = Path(sys.executable).with_name("ratoon")
HEADER = "address,start,end,value,unit,sigma,source,note\n"
GOOD = "bagasse.pol,2031-06-20,,1.9,%,0.07,,\n"
MILL = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
WRONG = '"bagasse.poll" = { sigma = 1.0 }'


@dataclass(frozen=True)
class Case:
    """What is done to a mill's folder, the command, its exit code, what its line tells."""

    told: tuple[str, ...]
    words: tuple[str, ...] = ("import", "bad.csv")
    code: int = 1
    prepare: Callable[[Path], None] = lambda folder: None


def row(line: str) -> Callable[[Path], None]:
    """A readings file with one row that is good and the one given."""
    return lambda folder: _write(folder / "bad.csv", HEADER + GOOD + line + "\n")


def mill(old: str, new: str) -> Callable[[Path], None]:
    """A mill file in which something is written otherwise, and a good readings file."""

    def prepare(folder: Path) -> None:
        assert old in MILL
        _write(folder / "mill.toml", MILL.replace(old, new, 1))
        _write(folder / "bad.csv", HEADER + GOOD)

    return prepare


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")


def noise(name: str) -> Callable[[Path], None]:
    return lambda folder: _noise(folder / name)


def _noise(path: Path) -> None:
    """100 MB of noise, the same 1 MB again and again."""
    megabyte = random.Random(5).randbytes(1_000_000)
    with path.open("wb") as file:
        for _ in range(100):
            file.write(megabyte)


def workbook(folder: Path) -> None:
    """A formula that was not worked out, merged cells and text in a number column."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "readings"
    sheet.append(HEADER.strip().split(","))
    for value in ("=1.1+0.8", "about 2", 1.9, 1.9):
        sheet.append(["bagasse.pol", "2031-06-20", None, value, "%", None, None, None])
    sheet.merge_cells("D4:D5")
    book.save(folder / "bad.xlsx")


CASES = {
    "empty file": Case(("bad.csv", "empty"), prepare=lambda f: _write(f / "bad.csv", "")),
    "noise": Case(("bad.csv", "binary"), prepare=noise("bad.csv")),
    "noise called a workbook": Case(("bad.xlsx", "binary"), ("import", "bad.xlsx"),
                                    prepare=noise("bad.xlsx")),
    "another header": Case(("bad.csv", "address"),
                           prepare=lambda f: _write(f / "bad.csv", "adress,start\n1,2\n")),
    "workbook": Case(("bad.xlsx", "4 rows refused", "row 2", "formula"), ("import", "bad.xlsx"),
                     3, workbook),
    "unit of another quantity": Case(
        ("row 3 unit 'degC'", "cane.weight", "allowed: t, kg"), code=3,
        prepare=row("cane.weight,2031-06-20,,9000,degC,,,")),
    "misspelt unit": Case(("row 3 unit 'tonn'", "unknown unit", "allowed: t, kg"), code=3,
                          prepare=row("cane.weight,2031-06-20,,9000,tonn,,,")),
    "bare kPa": Case(("row 3 unit 'kPa'", "kPa a, kPa g, kPa vac"), code=3,
                     prepare=row("effect.1.vapour.pressure,2031-06-20,,150,kPa,,,")),
    "ambiguous date": Case(("row 3 start '03/04/2031'", "2031-04-03 or 2031-03-04"), code=3,
                           prepare=row("cane.weight,03/04/2031,,9000,t,,,")),
    "unknown address": Case(("row 3 address 'cane.wieght'", "Did you mean cane.weight"), code=3,
                            prepare=row("cane.wieght,2031-06-20,,9000,t,,,")),
    "no such file": Case(("nowhere.csv", "no such file"), ("import", "nowhere.csv")),
    "ambiguous day": Case(("2031-04-03 or 2031-03-04",), ("day", "03/04/2031")),
    "misspelt key": Case(("mill.toml", "'seson_start'", "Did you mean season_start"),
                         prepare=mill("season_start", "seson_start")),
    "misspelt table": Case(("mill.toml", "'clarifer'", "Did you mean clarifier"),
                           prepare=mill("[clarifier]", "[clarifer]")),
    "missing bleed": Case(("heaters.primary.vapour", "no bleed there", "1 to 4, or 0"),
                          prepare=mill("vapour = 2\nhtc = 0.67", "vapour = 7\nhtc = 0.67")),
    "bleed left out": Case(("heaters.primary", "'vapour' is missing"),
                           prepare=mill("vapour = 2\nhtc = 0.67", "htc = 0.67")),
    "heater left out": Case(("readings", "heater.primary.temperature"),
                            prepare=mill("[heaters.primary]", "[heaters.tertiary]")),
    "recycle that cannot close": Case(
        ("mill.toml", "no pan takes B molasses", "recycle cannot close"),
        prepare=mill('"A_molasses", "B_molasses"]', '"A_molasses"]')),
    "text for a number": Case(("mill.toml", "rate", "a number in t/h"),
                              prepare=mill("rate = 470.0", 'rate = "470 t/h"')),
    "rate below zero": Case(("cane: rate", "-470.0", "0.1 to 100000 t/h"),
                            prepare=mill("rate = 470.0", "rate = -470.0")),
    "rate beyond numbers": Case(("cane: rate", "1e+300", "0.1 to 100000 t/h"),
                                prepare=mill("rate = 470.0", "rate = 1e300")),
    "no rate at all": Case(("cane: rate", "nan"), prepare=mill("rate = 470.0", "rate = nan")),
    "brackets without end": Case(("mill.toml", "brackets"), prepare=mill(
        "[cane]", f"deep = {'[' * 3000}{']' * 3000}\n[cane]")),
    "pipe": Case(("pipe.csv", "a pipe or device"), ("import", "pipe.csv"),
                 prepare=lambda f: os.mkfifo(f / "pipe.csv")),
    "empty day": Case(("not a date",), ("day", ""), prepare=lambda f: _import(f)),
    "endless day": Case(("not a date", "..."), ("day", "9" * 5000),
                        prepare=lambda f: _import(f)),
    "slip in the year": Case(
        ("row 3 start '2131-06-20", "more than a year after 2031-06-10", "season_start"), code=3,
        prepare=row("cane.weight,2131-06-20,,9000,t,,,")),
    "date in another form": Case(("season_start", "2031-06-10"),
                                 prepare=mill("2031-06-10", '"10/06/2031"')),
    "reading nobody knows": Case(("mill.toml", "bagasse.poll", "Did you mean bagasse.pol"),
                                 prepare=mill("[readings]", f"[readings]\n{WRONG}")),
    "not TOML": Case(("mill.toml", "TOML"), prepare=mill("[cane]", "[cane")),
    "no mill file": Case(("mill.toml", "no mill file"),
                         prepare=lambda f: (f / "mill.toml").unlink()),
    "nothing to set": Case(("'imbibition.on_fibr'", "Did you mean imbibition.on_fibre"),
                           ("try", "--from", "2031-06-20", "--set", "imbibition.on_fibr=200"),
                           prepare=lambda f: _import(f)),
    "day without records": Case(("no readings and no stop on 2031-06-21", "2031-06-20"),
                                ("day", "2031-06-21"), prepare=lambda f: _import(f)),
}  # fmt: skip


def _import(folder: Path) -> None:
    _write(folder / "good.csv", HEADER + GOOD)
    assert _called(folder, "import", "good.csv").returncode == 0


OWN_PROCESS = {"noise called a workbook", "bare kPa", "misspelt table", "brackets without end",
               "pipe"}  # fmt: skip
"""By size, by row, by mill file, by depth, by device."""


def _type(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(PROGRAM), *words], cwd=folder, capture_output=True, text=True, timeout=120,
        env=os.environ | {"LANG": "C"},
    )  # fmt: skip


def _called(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """The same in this process; the program would end with this code."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(folder), redirect_stdout(out), redirect_stderr(err):
        code = run(words)
    return subprocess.CompletedProcess(words, code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def done(
    tmp_path_factory: pytest.TempPathFactory,
) -> dict[str, tuple[Path, subprocess.CompletedProcess[str]]]:
    """Every case's folder and what its command gave."""
    folders = {name: tmp_path_factory.mktemp("bad") for name in CASES}
    found = {}
    for name, case in CASES.items():
        _write(folders[name] / "mill.toml", MILL)
        case.prepare(folders[name])
        typed = _type if name in OWN_PROCESS else _called
        found[name] = folders[name], typed(folders[name], *case.words)
    yield found
    for folder in folders.values():  # the noise takes room
        for path in folder.glob("bad.*"):
            path.unlink()


@pytest.mark.parametrize("name", CASES)
def test_one_clear_line(
    done: dict[str, tuple[Path, subprocess.CompletedProcess[str]]], name: str
) -> None:
    case, (_, given) = CASES[name], done[name]
    assert given.returncode == case.code, given.stderr
    lines = given.stderr.splitlines()
    assert len(lines) == 1, given.stderr
    assert "Traceback" not in given.stdout + given.stderr and "fault of the program" not in lines[0]
    for word in case.told:
        assert word in lines[0]


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_stored_half(
    done: dict[str, tuple[Path, subprocess.CompletedProcess[str]]], name: str
) -> None:
    case, (folder, _) = CASES[name], done[name]
    rows = 0
    if (folder / "ratoon.db").exists():
        with Store.open(locate(folder)) as store:
            assert store.verify() == []
            rows = len(store.contents()["readings"])
    expected = 1 if case.code == 3 and "bad.csv" in case.words else 0
    if case.words[0] in ("day", "try") and name != "ambiguous day":
        expected = 1  # the good row imported before
    assert rows == expected
    assert not (folder / "sheets").exists() or not any((folder / "sheets").iterdir())
