"""Shifts to the day, several samples, levels of tanks, drift since calibration, hours by cause."""

from datetime import timedelta
from pathlib import Path

import pytest

import ratoon.demo
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.gather import gather
from ratoon.account.result import lost_time
from ratoon.account.results.day import LostTime
from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period, Reading, Stop
from ratoon.settings.read import parse_settings

HOUR = timedelta(hours=1)
TEXT = (Path(ratoon.demo.__file__).parent / "data" / "mill.toml").read_text(encoding="utf-8")
MORE = """
[tanks."liquor 1"]
stock = "liquor"
table = [[0.0, 0.0], [2.0, 100.0], [4.0, 220.0]]
level_sigma = 0.05
table_relative = 1.0

[tanks."liquor 2"]
stock = "liquor"
unit = "%"
table = [[0.0, 0.0], [100.0, 200.0]]
level_sigma = 1.0
table_relative = 2.0
"""


def made(more: str = MORE, **changed: str) -> Mill:
    text = 'lost_time_causes = ["no cane", "boilers"]\n' + TEXT + more
    for old, new in changed.items():
        text = text.replace(f"[instruments.{old}]\n", f"[instruments.{old}]\n{new}\n")
    return Mill(parse_settings(text))


@pytest.fixture(scope="module")
def mill() -> Mill:
    return made()


@pytest.fixture(scope="module")
def period(mill: Mill) -> Period:
    return mill.calendar.period(parse_date("2031-07-01"))


def row(period: Period, address: str, first: float, last: float | None, value: float,
        unit: str, sigma: float | None = None) -> Reading:  # fmt: skip
    end = None if last is None else period.start + last * HOUR
    return Reading(address, value, sigma, start=period.start + first * HOUR, end=end, unit=unit,
                   given=value)  # fmt: skip


def test_a_day_and_its_shifts_are_not_counted_twice(mill: Mill, period: Period) -> None:
    shifts = [row(period, "cane.weight", a, a + 8, 3.2e6, "t") for a in (0, 8, 16)]
    day = row(period, "cane.weight", 0, 24, 9.5e6, "t")
    of_shifts = gather(mill, period, shifts, []).readings[0]
    both = gather(mill, period, [*shifts, day], [])
    assert of_shifts.value * 86400 == pytest.approx(9.6e6)
    assert both.readings[0].value * 86400 == pytest.approx(9.5e6)
    assert len(both.shown) == 3
    assert all("not used" in kept.why for kept in both.shown)


def test_a_days_doubt_does_not_shrink_with_its_rows(mill: Mill, period: Period) -> None:
    day = gather(mill, period, [row(period, "cane.weight", 0, 24, 9.6e6, "t")], []).readings[0]
    shifts = [row(period, "cane.weight", a, a + 8, 3.2e6, "t") for a in (0, 8, 16)]
    three = gather(mill, period, shifts, []).readings[0]
    assert three.sigma == pytest.approx(day.sigma)
    assert three.common == pytest.approx(day.common)
    own = [row(period, "bagasse.pol", h, None, 0.019, "%", 0.002) for h in range(0, 24, 6)]
    four = gather(mill, period, own, []).readings[0]
    share = mill.settings.readings["bagasse.pol"].common_share
    assert four.sigma == pytest.approx(0.002 * (1 - share) ** 0.5 / 2)


def test_fewer_samples_than_the_doubt_stands_for_widen_it(period: Period) -> None:
    text = TEXT.replace(
        '"bagasse.pol" = { sigma = 0.07,', '"bagasse.pol" = { samples = 12, sigma = 0.07,'
    )
    mill = Mill(parse_settings(text))
    sample = [row(period, "bagasse.pol", h, None, 0.019, "%") for h in (0, 8, 16)]
    three = gather(mill, period, sample, []).readings[0]
    full = gather(mill, period, [row(period, "bagasse.pol", h, None, 0.019, "%")
                                 for h in range(0, 24, 2)], []).readings[0]  # fmt: skip
    assert three.sigma == pytest.approx(2.0 * float(full.sigma or 0))
    assert three.common == pytest.approx(full.common)


def test_gaps_are_said(mill: Mill, period: Period) -> None:
    part = [
        row(period, "cane.weight", 0, 8, 3.2e6, "t"),
        row(period, "cane.weight", 8, 22, 6e6, "t"),
    ]
    (note,) = (n.words for n in gather(mill, period, part, []).notes if n.words.startswith("cane"))
    assert "covers 92 %" in note and "nothing from 04:00 to 06:00" in note


def test_levels_of_tanks_make_the_stock(mill: Mill, period: Period) -> None:
    rows = [
        row(period, "tank.liquor_1.level", 0, None, 3.0, "m"),
        row(period, "tank.liquor_2.level", 0.5, None, 0.5, "%"),
        row(period, "tank.liquor_1.level", 24, None, 1.0, "m"),
    ]
    found = gather(mill, period, rows, [])
    opening = next(r for r in found.readings if r.address == "stock.liquor.opening")
    assert opening.value == pytest.approx(160.0 + 100.0)
    assert opening.sigma == pytest.approx(((60 * 0.05) ** 2 + (2 * 1.0) ** 2) ** 0.5)
    assert opening.common == pytest.approx((1.6**2 + 2.0**2) ** 0.5)
    assert [r.address for r in found.origins["stock.liquor.opening"]] == [
        "tank.liquor_1.level", "tank.liquor_2.level"
    ]  # fmt: skip
    assert not [
        r for r in found.readings if r.address == "stock.liquor.closing" and r.kind == "measured"
    ]
    assert any("no closing level of liquor 2" in n.words for n in found.notes)


def test_a_stock_that_is_given_stands_before_its_tanks(mill: Mill, period: Period) -> None:
    rows = [
        row(period, "tank.liquor_1.level", 0, None, 3.0, "m"),
        row(period, "tank.liquor_2.level", 0, None, 0.5, "%"),
        row(period, "stock.liquor", 0, None, 250.0, "m3", 6.0),
    ]
    found = gather(mill, period, rows, [])
    openings = [r for r in found.readings if r.address == "stock.liquor.opening"]
    assert [r.value for r in openings] == [250.0]
    assert sum("the stock itself is given" in kept.why for kept in found.shown) == 2


def test_tables_that_are_not_sound_are_refused() -> None:
    with pytest.raises(BadInput, match="must rise"):
        _ = made(MORE.replace("[4.0, 220.0]", "[1.0, 220.0]")).addresses
    with pytest.raises(UnknownName, match="liqor"):
        _ = made(MORE.replace('"liquor"', '"liqor"', 1)).addresses


def test_drift_widens_the_common_part_until_the_next_calibration(period: Period) -> None:
    plain, drifting = made(""), made("", weighbridge="drift = 0.02")
    cane = [row(period, "cane.weight", 0, 24, 9.6e6, "t")]
    before = gather(plain, period, cane, []).readings[0]
    after = gather(drifting, period, cane, []).readings[0]
    days = 21  # from 10 June to 1 July
    assert after.sigma == before.sigma
    assert after.common**2 - before.common**2 == pytest.approx((2e-4 * days * before.value) ** 2)
    fresh = drifting.calendar.period(parse_date("2031-07-07"))
    again = gather(drifting, fresh, [row(fresh, "cane.weight", 0, 24, 9.6e6, "t")], []).readings[0]
    assert again.common == pytest.approx(before.common)


def test_hours_lost_by_cause_without_clock_times(mill: Mill, period: Period) -> None:
    rows = [
        row(period, "lost_time.no_cane", 0, 24, 5400.0, "h"),
        row(period, "lost_time.boilers", 0, 8, 1800.0, "h"),
    ]
    found = gather(mill, period, rows, [])
    assert found.crushing == pytest.approx(22 * 3600)
    assert lost_time(PeriodAccount(mill, found, None), []) == (
        LostTime("no cane", 1.5), LostTime("boilers", 0.5)
    )  # fmt: skip
    stop = Stop(period.start, period.start + HOUR, "mills", "choke")
    clocked = gather(mill, period, rows, [stop])
    assert clocked.crushing == pytest.approx(23 * 3600)
    assert clocked.shown and all("clock times" in kept.why for kept in clocked.shown)
