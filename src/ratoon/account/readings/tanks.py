"""Levels of tanks at the stock-take to the stocks of the plant, by each tank's calibration table.

A level's own error is new each time; the table's is the same at both ends of a period, so it
partly cancels in the change of stock.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from ratoon.account.readings.own import in_unit, tank_address
from ratoon.base.records import Reading
from ratoon.settings.sheets import TankSettings


@dataclass(frozen=True, slots=True)
class Held:
    """What the tanks of a stock held at a moment, and which of them were not read.

    `amount` with its random and common standard uncertainty in the table's unit, m3 or t.
    """

    amount: float
    random: float
    common: float
    rows: tuple[Reading, ...]
    missing: tuple[str, ...]


def volume_of(tank: TankSettings, level: float) -> tuple[float, float]:
    """Volume at a level, and how much it rises with it, between two lines of the table.

    Examples
    --------
    >>> volume_of(TankSettings(stock="liquor", table=((0.0, 0.0), (2.0, 50.0))), 1.0)
    (25.0, 25.0)
    """
    levels = [pair[0] for pair in tank.table]
    k = min(max(bisect_right(levels, level), 1), len(levels) - 1)
    (low, small), (high, large) = tank.table[k - 1], tank.table[k]
    slope = (large - small) / (high - low)
    return small + slope * (level - low), slope


def held(
    tanks: Mapping[str, TankSettings],
    levels: Mapping[str, Iterable[Reading]],
    moment: datetime,
    within: timedelta,
) -> Held:
    """What the tanks held at a moment; each by its reading nearest to it.

    Parameters
    ----------
    tanks : of one stock, by name. levels : readings of levels by address.
    within : how far from the moment a level still counts.
    """
    amount = random = common = 0.0
    rows: list[Reading] = []
    missing: list[str] = []
    for name, tank in tanks.items():
        near = [r for r in levels.get(tank_address(name), ())
                if r.start and abs(r.start - moment) <= within]  # fmt: skip
        if not near:
            missing.append(name)
            continue
        row = min(near, key=lambda r: abs(r.start - moment) if r.start else within)
        volume, slope = volume_of(tank, in_unit(row.value, tank.unit))
        amount += volume
        random += (slope * tank.level_sigma) ** 2
        common += (tank.table_relative * volume) ** 2
        rows.append(row)
    return Held(amount, random**0.5, common**0.5, tuple(rows), tuple(missing))
