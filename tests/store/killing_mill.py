"""The real import and the real day of the invented mill, for processes that are to be killed.

Reading a mill file, building its plant and loading the libraries takes longer than the work
itself. The fork server does that once (`killing_warm`); each process forked from it begins at
the command, so that a kill at a random moment falls into the work. The mill is the whole
invented mill, its mill file the packaged one; the season is short.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import tempfile
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

DAY = "2031-06-10"
SEASON = {
    "earlier-days": "date,rain,cane,ccs,sugar,planned,rain_lost,no_cane\n" + "".join(
        f"2030-07-{n:02d},{n % 4},{9000 + n},14.1,1200,0,{n % 3},1\n" for n in range(1, 31)),
    "zones": "zone,as_of,area,estimate,sigma,area_cut,cut\n" + "".join(
        f"{zone},2031-06-0{n},2310,196500,8,{9 * n},{700 * n}\n"
        for zone in ("Tern", "Gull") for n in range(1, 9)),
    "lots": "lot,start,end,mill,brand,tonnes,pol,moisture,colour,temperature,shed,cell\n" + "".join(
        f"L{n},2031-06-{n:02d}T06:00,2031-06-{n:02d}T14:00,,Brand 1,420,98.9,0.2{n % 9},1850,38,"
        f"North,{1 + n % 3}\n" for n in range(1, 31)),
    "movements": "movement,time,kind,from,to,tonnes,lot,document\n" + "".join(
        f"M{n},2031-06-{n:02d}T16:00,melt,North/{1 + n % 3},refinery,{200 + n},L{n},\n"
        for n in range(1, 31)),
    "shed-surveys": "shed,time,cell,tonnes,sigma,height,length,angle,density\n" + "".join(
        f"South,2031-06-{n:02d}T06:00,1,{1800 + n},60,,,,\n" for n in range(1, 31)),
    "orders": "order,customer,product,packs,earliest,due\n" + "".join(
        f"P{n},Saltbush Foods,white 25 kg,{400 + n},2031-06-01,2031-06-{n:02d}\n"
        for n in range(1, 31)),
    "mill-weeks": "mill,week,brand,tonnes,sigma\n" + "".join(
        f"Saltpan,2031-{month:02d}-02,Brand 1,{2200 + month},\n" for month in range(1, 13)),
    "spread-loads": "load,time,product,farm,block,tonnes,moisture\n" + "".join(
        f"S{n},2031-06-{n:02d}T10:40,mud,F101,F101-03,18.6,74\n" for n in range(1, 31)),
    "rain": "address,start,end,value,unit,sigma,source,note\n" + "".join(
        f"rain,2029-07-{n:02d},,{n / 2},mm,,gauge,\n" for n in range(1, 31)),
}  # fmt: skip
"""Records of other days and of sugar after it is made, which no account of a day reads."""
COSTS = ("week,account,amount,unit,note\n2031-06-09,wages,512000,money,\n"
         "2031-06-09,chemicals,1.9,money/t,\n")  # fmt: skip


@cache
def mill() -> Any:
    """The invented mill, built once in a process and in all that are forked from it."""
    from ratoon.jobs.mills import mill_from

    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    return mill_from(text)


def make_folder(source: Path, folder: Path, url: str = "") -> list[Path]:
    """A mill's folder with the readings of made days and of seasons; `url` names a database.

    With the plan, and a week's costs. Files of cane are left out: they have kill tests of
    their own.
    """
    (folder / "input").mkdir(parents=True)
    shutil.copy(source / "mill.toml", folder)
    for path in (source / "input").iterdir():
        if any(kind in path.name for kind in ("readings", "stops", "plan")):
            shutil.copy(path, folder / "input")
    (folder / "input" / "costs.csv").write_text(COSTS)
    for name, text in SEASON.items():
        (folder / "input" / f"{name}.csv").write_text(text)
    if url:
        (folder / "database.url").write_text(url)
    return sorted((folder / "input").iterdir())


def _type(*words: str) -> int:
    """A command as it is typed, without a word on the screen."""
    from ratoon.cli.app import run
    from ratoon.jobs import mills

    known = mill()
    mills.mill_of = lambda _: known  # type: ignore[assignment]
    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
        return run(list(words))


def import_all(folder: str) -> int:
    """``ratoon import``, every input file."""
    read = [str(path) for path in sorted((Path(folder) / "input").iterdir())]
    return _type("import", "--mill", folder, *read)


def day(folder: str) -> int:
    """``ratoon day``: the account, the answer kept, the sheet written."""
    return _type("day", DAY, "--mill", folder)


def again(folder: str) -> int:
    """What a person does after a crash: import again, and the day again."""
    return import_all(folder) or day(folder)


WORKS = {"import": import_all, "day": day, "again": again}


def work(name: str, folder: str, began: str) -> None:
    """Do one work; the file `began` tells that it has begun; the exit code is the command's."""
    Path(began).touch()
    raise SystemExit(WORKS[name](folder))


def warm() -> None:
    """Do all of it once, so that forked processes find everything loaded and built.

    All but the sheet's PDF: the threads that compile it would be missing after a fork.
    """
    import gc
    from datetime import date

    import typst  # noqa: F401

    from ratoon.cli.app import run
    from ratoon.demo.write import write_demo
    from ratoon.jobs.mills import OpenMill, store_of
    from ratoon.jobs.sheet import day as job
    from ratoon.jobs.sheet.to_date import load
    from ratoon.reports.compose import morning_sheet
    from ratoon.reports.html import morning_html

    with tempfile.TemporaryDirectory() as name, contextlib.redirect_stdout(io.StringIO()):
        made, folder = Path(name) / "made", Path(name) / "mill"
        made.mkdir()
        write_demo(made, days=1)
        read = [str(path) for path in make_folder(made, folder)]
        assert run(["import", "--mill", str(folder), *read]) == 0
        wanted = date.fromisoformat(DAY)
        with store_of(folder) as store:
            season = load(OpenMill(folder, mill(), store), wanted)
            result = job.make_result(season, wanted, "", 0.0)
        morning_html(morning_sheet(result))
    # A collection in a forked process would go through all that was loaded here, and copy it.
    gc.collect()
    gc.freeze()
