"""How many small lasting biases the charts find, and how often they sound without one.

    python benchmarks/charts.py [--cases N] [--seasons N] [--seed N] [--real]

With `--real` every day of every case is reconciled; without, days take the linear statistics of
their own operating point, which agree with the reconciliation to a few per cent of a day's error.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from ratoon.account.mill import Mill
from ratoon.demo.write import mill_text
from ratoon.settings.read import parse_settings

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from trials.charts import (
    charted,
    checked_readings,
    false_alarms,
    operating_points,
    share_found,
)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--cases", type=int, default=400)
    ask.add_argument("--seasons", type=int, default=60)
    ask.add_argument("--days", type=int, default=40, help="true days to draw from")
    ask.add_argument("--seed", type=int, default=20310612)
    ask.add_argument("--real", action="store_true")
    given = ask.parse_args()
    mill = Mill(parse_settings(mill_text()))
    begun = time.process_time()
    pool = operating_points(mill, given.seed, given.days)
    print(f"{len(checked_readings(pool))} readings asked, {charted(pool)} charts")
    found = share_found(mill, pool, given.seed, range(given.cases), given.real)
    share = sum(found.values()) / max(len(found), 1)
    spread = (share * (1 - share) / max(len(found), 1)) ** 0.5
    print(f"found {100 * share:.1f} % (+- {100 * spread:.1f}) of {len(found)} biases")
    if given.seasons:
        rate = false_alarms(mill, pool, given.seed, range(given.seasons))
        print(f"{rate:.2f} alarms a month without a fault, {given.seasons} seasons")
    print(f"{time.process_time() - begun:.0f} s CPU")


if __name__ == "__main__":
    main()
