"""A mill day by its strikes: shares over the change of day, uncertainty of their number, gaps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from ratoon.account.mill import Mill
from ratoon.account.readings.gathered import Gathered
from ratoon.account.readings.strikes import agreement, day_readings
from ratoon.base.records import Period, Reading
from ratoon.base.strikes import StrikeRow
from ratoon.jobs.sheet.to_date import Season
from ratoon.plant.pan.records import StrikeRecord, strikes_of

DAY = date(2031, 8, 14)
VOLUME, BRIX = "pan.A.massecuite.volume", "pan.A.massecuite.brix"


@pytest.fixture
def period(mill: Mill) -> Period:
    return mill.calendar.period(DAY)


def strike(
    name: str, begin: datetime, hours: float, volume: float, brix: float, pan: str = "A1"
) -> list[StrikeRow]:
    def row(event: str, quantity: str, at: datetime, value: float, sigma: float) -> StrikeRow:
        return StrikeRow(name, pan, "A", event, at, quantity, value, sigma)

    end = begin + timedelta(hours=hours)
    return [row("start", "volume", begin, 0.0, 1.0), row("drop", "volume", end, volume, 3.0),
            row("drop", "brix", end, brix, 0.005),
            row("drop", "purity", end, 0.87, 0.005)]  # fmt: skip


def day_of(period: Period) -> list[StrikeRecord]:
    """Six strikes of 4 h one after the other; the first and the last half outside the day."""
    rows: list[StrikeRow] = []
    for k in range(7):
        begin = period.start + timedelta(hours=4 * k - 2)
        rows += strike(f"S{k}", begin, 4.0, 90.0, 0.92 if k < 3 else 0.93)
    return strikes_of(rows)


def by_address(readings: list[Reading]) -> dict[str, Reading]:
    return {r.address: r for r in readings}


def test_a_strike_over_the_change_of_day_is_shared(mill: Mill, period: Period) -> None:
    told = by_address(day_readings(mill, day_of(period), period))
    # five whole strikes, half of the first and half of the last
    assert told[VOLUME].value == pytest.approx(6 * 90.0)
    # brix weighs what each made: 45 + 90 + 90 of 540 at 92
    assert told[BRIX].value == pytest.approx((225 * 0.92 + 315 * 0.93) / 540)
    before = by_address(day_readings(mill, day_of(period), mill.calendar.period(
        DAY - timedelta(days=1))))  # fmt: skip
    assert VOLUME not in before  # one strike of a whole day: not covered
    assert told[VOLUME].source == "7 strikes"


def test_the_uncertainty_is_of_the_number_and_keeps_what_is_common(
    mill: Mill, period: Period
) -> None:
    one = by_address(day_readings(mill, day_of(period), period))[BRIX]
    setting = mill.settings.readings[BRIX]
    common = setting.common_share**0.5 * 0.01 * (setting.sigma or 0.0)
    random = (0.005**2 - common**2) ** 0.5
    weights = [45 / 540, *5 * [90 / 540], 45 / 540]
    assert one.common == pytest.approx(common)
    assert one.sigma == pytest.approx(random * sum(w**2 for w in weights) ** 0.5)


def test_what_contradicts_itself_leaves_the_volume_untold(mill: Mill, period: Period) -> None:
    told = [replace(s, contradictions=("dropped before it started",)) if s.id == "S3" else s
            for s in day_of(period)]  # fmt: skip
    found = by_address(day_readings(mill, told, period))
    assert VOLUME not in found and BRIX in found and found[BRIX].source == "6 strikes"


def test_strikes_stand_in_for_what_nobody_read_and_are_compared_with_the_rest(
    mill: Mill, period: Period
) -> None:
    found = by_address(day_readings(mill, day_of(period), period))
    cane = Reading("cane.weight", 10e6, start=period.start, end=period.end, unit="t", sigma=3e4)
    season = Season(mill, [cane, *found.values()], [])
    used = by_address(season.day(DAY).readings)
    assert used[BRIX].value == found[BRIX].value and used[BRIX].common == found[BRIX].common
    assert agreement(mill, season.day(DAY), found.values()) == []  # nobody else read them

    def said(brix: float) -> list[str]:
        read = Reading(BRIX, brix, 0.003, start=period.start, end=period.end, unit="%",
                       given=100 * brix)  # fmt: skip
        day: Callable[[date], Gathered] = Season(mill, [cane, read], []).day
        return agreement(mill, day(DAY), found.values())

    assert said(0.9258)[0].startswith("Strikes agree with 1 figures read")
    (apart,) = said(0.945)
    assert "94.5 % read, 92.58 by 7 strikes" in apart and "standard uncertainties apart" in apart
