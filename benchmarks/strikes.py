"""Whether days whose massecuites only strikes tell are accounted as honestly as any.

    python benchmarks/strikes.py [--seasons 4] [--seed 20311201]

Each season: a fortnight of the invented mill, its strikes boiled and written down by laws of their
own; the day's own volumes, brixes and purities of massecuite are left out. Share of figures whose
95 % interval holds the truth: of what strikes tell, and of the account's headline figures.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np

from ratoon.account.mill import Mill
from ratoon.account.period import Z95, account
from ratoon.account.readings.strikes import addresses, day_readings
from ratoon.base import units
from ratoon.base.strikes import StrikeRow, TraceRow
from ratoon.demo.measure import as_reading
from ratoon.demo.simulate import simulate
from ratoon.demo.strikes import FORTNIGHT, write_strikes
from ratoon.demo.write import Errors, mill_text, readings
from ratoon.importers.reader import read_file
from ratoon.jobs.sheet.to_date import Season
from ratoon.plant.pan.records import StrikeRecord, strikes_of
from ratoon.settings.read import parse_settings


def season(mill: Mill, seed: int, held: dict[str, list[bool]]) -> None:
    days = simulate(mill, seed, FORTNIGHT)
    errors = Errors(mill, np.random.default_rng([seed, 1]), {})
    rows, lasting = [], []
    for day in days:
        rows += readings(mill, day, errors, np.random.default_rng([seed, 2, day.number]))
        lasting.append(dict(errors.lasting))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "input").mkdir()
        write_strikes(folder, mill, days, lasting, seed)
        told = _told(mill, folder)
    only = set(addresses(mill))
    records = [as_reading(mill, r) for r in rows if r.address not in only]
    stops = sorted({s for d in days for s in d.stops}, key=lambda s: s.start)
    for day in days:
        period = mill.calendar.period(day.date)
        records += day_readings(mill, told, period)
    whole = Season(mill, records, stops)
    for day in days:
        if day.crushing < 4 * 3600.0:
            continue
        by = [r for r in records if r.source.endswith("strikes")
              and r.start == mill.calendar.period(day.date).start]  # fmt: skip
        for r in by:
            info = mill.addresses[r.address]
            true = day.amounts.get(r.address) if units.is_total(info.unit) else day.sampled.get(
                r.address, day.values[r.address])  # fmt: skip
            sd = ((r.sigma or 0.0) ** 2 + r.common**2) ** 0.5
            held["by strikes"].append(abs(r.value - (true or 0.0)) <= Z95 * sd)
        done = account(mill, whole.day(day.date))
        for address in mill.always:
            figure = done.figure(address)
            true = day.figures.get(address)
            if true is None or figure.value is None or not figure.sigma:
                continue
            seconds = done.seconds_of(address, figure.unit)
            shown = units.from_inside(true * seconds, figure.unit)
            held["headline"].append(abs(figure.value - shown) <= Z95 * figure.sigma)


def _told(mill: Mill, folder: Path) -> list[StrikeRecord]:
    found: dict[type, list[object]] = defaultdict(list)
    for path in sorted((folder / "input").iterdir()):
        for row in read_file(path, mill.addresses, mill.calendar).rows:
            found[type(row.record)].append(row.record)
    return strikes_of(found[StrikeRow], found[TraceRow])  # type: ignore[arg-type]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seasons", type=int, default=4)
    asked.add_argument("--seed", type=int, default=20311201)
    given = asked.parse_args()
    mill = Mill(parse_settings(mill_text()))
    held: dict[str, list[bool]] = defaultdict(list)
    for k in range(given.seasons):
        season(mill, given.seed + k, held)
    for what, one in held.items():
        print(f"{what}: {100 * np.mean(one):.1f} % of {len(one)}")


if __name__ == "__main__":
    main()
