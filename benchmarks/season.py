"""CPU time of accounting a season again, in proportion to 180 days.

    python benchmarks/season.py MILL_DIR

Two figures: the accounts of the days alone (readings gathered, reconciled, tested, what the charts
need), which is what "a season accounted again" asks; and all that `ratoon day` does for each day
(its week and season to date, the sheets, the records), on a copy of the mill's folder.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from ratoon.account.period import account
from ratoon.jobs.mills import OpenMill, open_mill
from ratoon.jobs.sheet.day import account_day
from ratoon.jobs.sheet.day_points import points_record
from ratoon.jobs.sheet.to_date import load
from ratoon.store.entries import mill_days

SEASON = 180
WHOLE = 5  # newest days on which all of `ratoon day` is timed: the dearest ones


def accounts_alone(opened: OpenMill, days: list[date]) -> float:
    """CPU seconds of gathering, reconciling and testing every day, in one process."""
    season = load(opened, days[-1])
    begun = time.process_time()
    for day in days:
        done = account(season.mill, season.day(day))
        if done.answer is not None:
            _ = done.answer.suspects
        points_record(done)
    return time.process_time() - begun


def main() -> None:
    mill_dir = Path(sys.argv[1])
    with open_mill(mill_dir) as opened:
        days = opened.store.ask(mill_days, opened.mill.calendar)
        alone = accounts_alone(opened, days)
    print(f"accounts of {len(days)} days: {alone:.1f} s CPU, {alone * SEASON / len(days):.1f} s "
          f"for {SEASON} days")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(shutil.copytree(mill_dir, Path(folder) / "mill"))
        begun = time.process_time()
        with open_mill(copy) as opened:
            for day in days[-WHOLE:]:
                account_day(opened, day, again=True)
        each = (time.process_time() - begun) / WHOLE
    print(f"all of a day with its sheets: {each:.2f} s CPU a day at the season's end")


if __name__ == "__main__":
    main()
