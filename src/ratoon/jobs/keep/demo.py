"""Makes the invented mill: writes its files, imports them, accounts every day."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput
from ratoon.jobs.mills import KEPT_PAGES, OpenMill, in_mill, open_mill

MARK = Path("truth") / "planted.json"
UNFINISHED = Path("truth") / "unfinished"
"""Lies there while a demonstration is made: who was ended meanwhile leaves it."""
OURS = ("input", "truth", "sheets", "slides", "photographs", KEPT_PAGES)
WEEK_SECONDS = 300.0
"""How long the account of a week or season may take [s]."""
Progress = Callable[[str], None]


def make_demo(
    folder: Path, again: bool = False, progress: Progress | None = None
) -> dict[str, Any]:
    """Make the demonstration in `folder`.

    Parameters
    ----------
    again : make it anew where a demonstration of ours stands already.

    Raises
    ------
    BadInput : the folder holds something else.
    """
    from ratoon.demo.write import write_demo
    from ratoon.jobs.cane.days import cane_of_all
    from ratoon.jobs.files.imports import import_files
    from ratoon.jobs.season.bridge import make_bridge, to_date
    from ratoon.jobs.season.forecast import make_forecast
    from ratoon.jobs.season.fuel import make_fuel
    from ratoon.jobs.season.stop_days import make_stops
    from ratoon.jobs.sheet.day import account_all, account_day
    from ratoon.jobs.strikes.floor import make_floor
    from ratoon.jobs.sugar.refinery import make_refinery
    from ratoon.jobs.sugar.shed import make_shed

    say = progress or (lambda line: None)
    clear(folder, again)
    (folder / UNFINISHED).parent.mkdir(parents=True, exist_ok=True)
    (folder / UNFINISHED).touch()
    true_days = write_demo(folder, progress=say)
    files = sorted((folder / "input").iterdir())
    report = import_files(folder, files, progress=say)
    with open_mill(folder) as opened:
        keep_photographs(opened)
        accounted = account_all(opened, progress=say)
        cane_of_all(opened, progress=say)
        account_weeks(opened, progress=say)
        for newest in accounted[-1:]:  # the sheet that is opened first has the season and its moves
            day = date.fromisoformat(newest)
            make_forecast(opened, day + timedelta(days=1))
            make_fuel(opened, day + timedelta(days=1))
            make_stops(opened, day + timedelta(days=1))
            make_floor(opened, day + timedelta(days=1))
            make_shed(opened, day + timedelta(days=1))
            make_refinery(opened, day + timedelta(days=1))
            for season in (False, True):
                make_bridge(opened, *to_date(opened, day, season))
            say(f"season, fuel, sheds, refinery and stop ahead, bridge from the plan, on {newest}")
            account_day(opened, day, moves=True)
            say(f"best settings of {newest}")
    (folder / UNFINISHED).unlink()
    return {
        "folder": str(folder),
        "days": len(true_days),
        "files": len(files),
        "rows": sum(f.rows for f in report.files),
        "refused": report.refused,
        "accounted": len(accounted),
    }


def keep_photographs(opened: OpenMill) -> None:
    """Measure the laboratory's photographs of slides and keep what they tell of their strikes."""
    from ratoon.jobs.strikes.slide_pictures import found_slide, take_in
    from ratoon.jobs.strikes.slides import SlideAsked, keep_slide

    place = opened.folder / "photographs"
    for path in sorted(place.glob("*@*.jpg")):
        strike, _, taken = path.stem.partition("@")
        digest, scale = take_in(opened.folder, path, path.name, place / "micrometer.jpg")
        asked = SlideAsked(f"{taken[:-2]}:{taken[-2:]}", scale)
        keep_slide(opened, strike, found_slide(opened.folder, digest), asked, "")


def account_weeks(opened: OpenMill, progress: Progress | None = None) -> None:
    """Account every week and the season to the newest day, in two processes of their own.

    The first to look at a week would wait for its account.
    """
    from ratoon.jobs.pool import WORKERS, SolverPool
    from ratoon.jobs.sheet.day import accounted_days
    from ratoon.jobs.sheet.week import account_week, without_account

    say = progress or (lambda line: None)
    days = accounted_days(opened)
    wanted = [(day, False) for day in without_account(opened, days)]
    wanted += [(day, True) for day in without_account(opened, days[-1:], season=True)]
    pool = SolverPool(WORKERS, limit=WEEK_SECONDS)

    def account(what: tuple[date, bool]) -> None:
        day, season = what
        pool.call(in_mill, opened.folder, account_week, day, season)
        say(f"account of the {'season to' if season else 'week of'} {day}")

    try:
        with ThreadPoolExecutor(WORKERS) as asking:
            list(asking.map(account, wanted))
    finally:
        pool.close()


def clear(folder: Path, again: bool) -> None:
    """Refuse a folder that is not ours; take away an old demonstration, and nothing else."""
    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file, not a folder", where=str(folder))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"cannot be made: {error.strerror}", where=str(folder),
                       todo="Name a folder where you may write.") from None  # fmt: skip
    if not any(folder.iterdir()):
        return
    half = (folder / UNFINISHED).is_file()
    if not half and not (folder / MARK).is_file():
        raise BadInput("the folder is not empty and is no demonstration of ours",
                       where=str(folder), todo="Name an empty or a new folder.")  # fmt: skip
    if half and not again:
        raise BadInput("a demonstration stands there that was not made to its end",
                       where=str(folder), todo="Add --again to make it anew.")  # fmt: skip
    if not again:
        raise BadInput("a demonstration stands there already", where=str(folder),
                       todo=f"Open it with `ratoon serve --mill {folder}`, or add --again to make"
                       " it anew.")  # fmt: skip
    for name in OURS:
        shutil.rmtree(folder / name, ignore_errors=True)
    from ratoon.store.chain.anchors import FILE as ANCHORS

    for path in [folder / "mill.toml", folder / ANCHORS, *folder.glob("ratoon*.db*")]:
        path.unlink(missing_ok=True)
