"""From true values to what instruments and laboratory say of them, in trade units.

A reading's error has two parts, both stated in the mill file: one that is drawn anew each day and
one that stays the same until the instrument is next calibrated. Addresses that name one
instrument share its lasting error.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base import units
from ratoon.base.records import Reading
from ratoon.demo.truth import TrueDay
from ratoon.settings.records import ReadingSettings

FLOWS = ("mass flow", "volume flow", "power")
ROUGH = 1.5
"""How much rougher the night shift takes stock on a weekend."""


@dataclass(frozen=True)
class Row:
    """One row of a readings file, as people write it."""

    address: str
    start: str
    end: str
    value: float
    decimals: int
    unit: str
    sigma: str = ""
    source: str = ""
    note: str = ""

    @property
    def text(self) -> str:
        return f"{self.value:.{self.decimals}f}"


def lasting_errors(mill: Mill, rng: np.random.Generator) -> dict[str, float]:
    """Lasting error of each instrument, in its standard deviations."""
    drawn: dict[str, float] = {}
    for address, setting in mill.settings.readings.items():
        key = instrument_of(address, setting)
        if key not in drawn:
            drawn[key] = float(rng.standard_normal())
    return drawn


def instrument_of(address: str, setting: ReadingSettings) -> str:
    """The instrument that reads an address; its own when the mill file names none."""
    return setting.instrument or address


def true_reading(mill: Mill, day: TrueDay, address: str) -> float | None:
    """What a faultless reading would say [trade unit]; None when there is nothing to read."""
    info, setting = mill.addresses[address], mill.settings.readings[address]
    dimension = units.dimension(info.unit)
    total = units.is_total(info.unit)
    if total or dimension in FLOWS:
        amount = day.amounts.get(address)
        if amount is None:
            return None
        if total:
            return units.from_inside(amount, info.unit)
        seconds = {"crushing": day.crushing, "evaporator": day.crushing, "period": day.period}
        ran = seconds[setting.hours]
        return units.from_inside(amount / ran, info.unit) if ran else None
    if not day.values:
        return None
    value = day.sampled.get(address, day.values[address])
    return units.from_inside(value, info.unit)


def spread(setting: ReadingSettings, value: float) -> float:
    """Standard deviation of a day's figure [trade unit]."""
    if setting.relative is not None:
        return setting.relative * abs(value)
    return float(setting.sigma or 0.0)


def read(
    mill: Mill,
    day: TrueDay,
    lasting: Mapping[str, float],
    rng: np.random.Generator,
) -> list[Row]:
    """A day's readings without faults: one row an address that has something to read."""
    rows = []
    for address, setting in mill.settings.readings.items():
        noise = float(rng.standard_normal())  # drawn whether used or not: days stay comparable
        if address.startswith("stock."):
            continue
        true = true_reading(mill, day, address)
        if true is None:
            continue
        rows.append(
            row_of(mill, address, day.date.isoformat(), true, lasting, noise, setting)
        )  # fmt: skip
    return rows


def row_of(
    mill: Mill, address: str, start: str, true: float, lasting: Mapping[str, float],
    noise: float, setting: ReadingSettings, rough: float = 1.0,
) -> Row:  # fmt: skip
    """A reading of a true value with both its errors."""
    sd = spread(setting, true)
    share = setting.common_share
    error = share**0.5 * lasting[instrument_of(address, setting)]
    error += (1.0 - share) ** 0.5 * noise * rough
    value = true + sd * error
    if address == "condenser.sugar":
        value = max(value, 0.0)  # the photometer shows nothing below zero
    places = decimals(sd)
    # a rougher reading says so, in its own row
    total = sd * (share + (1.0 - share) * rough**2) ** 0.5
    sigma = f"{total:.{places + 1}f}" if rough > 1.0 else ""
    return Row(address, start, "", round(value, places), places,
               mill.addresses[address].unit, sigma)  # fmt: skip


def stocks(
    mill: Mill, levels: Mapping[str, float], at: datetime, lasting: Mapping[str, float],
    rng: np.random.Generator, rough: bool = False,
) -> list[Row]:  # fmt: skip
    """Stock-take at an instant."""
    when = mill.calendar.to_local(at).strftime("%Y-%m-%dT%H:%M")
    rows = []
    for address, setting in mill.settings.readings.items():
        if not address.startswith("stock."):
            continue
        level = levels[address.removeprefix("stock.")]
        true = units.from_inside(level, mill.addresses[address].unit)
        noise = float(rng.standard_normal())
        rows.append(row_of(mill, address, when, true, lasting, noise, setting,
                           ROUGH if rough else 1.0))  # fmt: skip
    return rows


def decimals(sd: float) -> int:
    """Digits that people write: a tenth of the uncertainty or so."""
    return min(max(0, math.ceil(-math.log10(max(sd, 1e-9) / 4.0))), 4)


def as_reading(mill: Mill, row: Row) -> Reading:
    """The record that an importer makes of a row."""
    calendar = mill.calendar
    end: datetime | None
    if "T" in row.start:
        start = calendar.to_utc(datetime.fromisoformat(row.start))
        end = calendar.to_utc(datetime.fromisoformat(row.end)) if row.end else None
    else:
        period = calendar.period(datetime.fromisoformat(row.start).date())
        start, end = period.start, period.end
    sigma = units.spread_to_inside(float(row.sigma), row.unit) if row.sigma else None
    value = units.to_inside(row.value, row.unit)
    return Reading(row.address, value, sigma, start=start.astimezone(UTC), end=end,
                   unit=row.unit, given=row.value, source=row.source, note=row.note)  # fmt: skip
