"""From records to plant readings: totals, means, gaps, stops and days without cane."""

from datetime import timedelta

import pytest

from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.combine import doubt
from ratoon.account.readings.gather import gather
from ratoon.account.readings.to_date import join
from ratoon.base.clock import parse_date
from ratoon.base.records import Period, Reading, Stop

HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def period(mill: Mill) -> Period:
    return mill.calendar.period(parse_date("2031-07-01"))


def cane(period: Period, first: float, last: float, tonnes: float) -> Reading:
    start, end = period.start + first * HOUR, period.start + last * HOUR
    return Reading("cane.weight", tonnes * 1000.0, None, start=start, end=end, unit="t")


def test_overlapping_stops_count_once(mill: Mill, period: Period) -> None:
    stops = [
        Stop(period.start, period.start + 2 * HOUR, "mills", "a"),
        Stop(period.start + HOUR, period.start + 3 * HOUR, "mills", "b"),
        Stop(period.start + 5 * HOUR, period.start + 6 * HOUR, "boilers", "c"),
    ]
    assert gather(mill, period, [], stops).crushing == 21 * 3600


def test_lost_time_on_available_time_leaves_out_what_the_mills_cannot_help(
    mill: Mill, period: Period
) -> None:
    """[DavisAchary]: other stops over hours crushed and other stops."""
    stops = [
        Stop(period.start, period.start + 3 * HOUR, "mills", "no cane"),
        Stop(period.start + 4 * HOUR, period.start + 5 * HOUR, "mills", "planned stop"),
        Stop(period.start + 6 * HOUR, period.start + 8 * HOUR, "mills", "boilers"),
    ]
    rows = [cane(period, 0, 24, 7000.0)]
    done = PeriodAccount(mill, gather(mill, period, rows, stops), None)
    assert done.figure("account.time_efficiency").value == pytest.approx(100.0 * 18 / 24)
    assert done.figure("account.lost_on_available").value == pytest.approx(100.0 * 2 / (18 + 2))
    after = mill.calendar.period(parse_date("2031-07-02"))
    days = [gather(mill, period, rows, stops), gather(mill, after, [cane(after, 0, 24, 9e3)], [])]
    both = PeriodAccount(mill, join(mill, days), None)
    assert both.figure("account.lost_on_available").value == pytest.approx(100.0 * 2 / (42 + 2))


def test_a_missing_shift_does_not_make_the_rate_smaller(mill: Mill, period: Period) -> None:
    whole = gather(mill, period, [cane(period, 0, 24, 9600.0)], [])
    part = gather(mill, period, [cane(period, 0, 8, 3200.0), cane(period, 8, 16, 3200.0)], [])
    full, short = whole.readings[0], part.readings[0]
    assert short.value == pytest.approx(full.value)
    assert short.sigma is not None and full.sigma is not None
    assert short.sigma > full.sigma
    assert any("67 %" in note.words for note in part.notes)


def test_less_than_half_is_kept_and_not_used(mill: Mill, period: Period) -> None:
    found = gather(mill, period, [cane(period, 0, 8, 3200.0)], [])
    assert not [r for r in found.readings if r.kind == "measured"]
    assert "not used" in found.shown[0].why


def test_a_reading_over_the_crushing_hours_covers_a_day_with_a_long_stop(
    mill: Mill, period: Period
) -> None:
    stop = Stop(period.start + 12 * HOUR, period.end, "mills", "planned")
    found = gather(mill, period, [cane(period, 0, 12, 4800.0)], [stop])
    assert found.readings[0].value == pytest.approx(4800e3 / (12 * 3600))
    assert not found.notes


def test_a_day_without_cane_counts_to_date(mill: Mill, period: Period) -> None:
    after = mill.calendar.period(parse_date("2031-07-02"))
    crushed = gather(mill, period, [sugar(period, 1200.0)], [])
    idle = gather(mill, after, [sugar(after, 100.0)], [Stop(after.start, after.end, "mills", "r")])
    assert idle.crushing == 0.0
    assert "no cane" in idle.shown[0].why
    both = join(mill, [crushed, idle])
    assert both.readings[0].value * both.crushing == pytest.approx(1300e3)


def test_a_stock_nobody_took_is_a_wide_assumption(mill: Mill, period: Period) -> None:
    found = gather(mill, period, [cane(period, 0, 24, 9600.0)], [])
    stocks = [r for r in found.readings if r.address.startswith("stock.")]
    assert {r.kind for r in stocks} == {"assumed"}
    wide = {r.address: (r.sigma or 0.0) / r.value for r in stocks}
    bins = {a: share for a, share in wide.items() if a.startswith("stock.sugar")}
    assert set(bins.values()) == {0.05}  # the weigher tells what was made
    assert all(x == pytest.approx(0.5) for a, x in wide.items() if a not in bins)
    assert "stock.liquor.opening" in {r.address for r in stocks}


def sugar(period: Period, tonnes: float) -> Reading:
    return Reading("sugar.weight", tonnes * 1000.0, None, start=period.start, end=period.end,
                   unit="t")  # fmt: skip


def test_a_day_of_which_nothing_is_recorded_stands_outside_all_time(
    mill: Mill, period: Period
) -> None:
    days = [mill.calendar.period(parse_date(f"2031-07-0{n}")) for n in (1, 2, 3, 4)]
    stood = [Stop(days[2].start, days[2].end, "mills", "rain, no cane")]
    level = Reading("stock.liquor.closing", 300e3, None, start=days[1].end, unit="t")
    rows = [cane(days[0], 0, 24, 9600.0)]
    gathered = [gather(mill, d, [*rows, level], [s for s in stood if s.start < d.end and
                s.end > d.start]) for d in days]  # fmt: skip
    # one day read, one known to have stood, two of which nobody wrote anything
    assert [g.recorded for g in gathered] == [True, False, True, False]
    whole = join(mill, gathered)
    assert whole.whole == pytest.approx(48 * 3600.0)
    assert whole.crushing == pytest.approx(24 * 3600.0)
    assert "2 of 4 days are not recorded (2031-07-02, 2031-07-04)" in whole.notes[0].words


def test_a_stretch_without_any_record_has_no_time_at_all(mill: Mill, period: Period) -> None:
    whole = join(mill, [gather(mill, period, [], [])])
    assert (whole.whole, whole.crushing) == (0.0, 0.0)


def test_what_a_rough_row_states_beyond_the_mill_file_is_its_own(mill: Mill) -> None:
    """What lasts is the instrument's: it is the same at both ends of a stock, and cancels."""
    info, setting = (
        mill.addresses["stock.A_massecuite"],
        mill.settings.readings["stock.A_massecuite"],
    )
    assert (setting.sigma, setting.common_share) == (8, 0.5)
    usual = doubt(info, setting, Reading("stock.A_massecuite", 190.0, None), "m3")
    rough = doubt(info, setting, Reading("stock.A_massecuite", 190.0, 12.0), "m3")
    better = doubt(info, setting, Reading("stock.A_massecuite", 190.0, 4.0), "m3")
    assert usual == pytest.approx((32.0**0.5, 32.0**0.5))
    assert rough == pytest.approx(((12.0**2 - 32.0) ** 0.5, 32.0**0.5))
    assert better == pytest.approx((8.0**0.5, 8.0**0.5))


def test_hours_crushed_stand_where_no_stop_has_clock_times(mill: Mill, period: Period) -> None:
    read = Reading(
        "hours.crushing", 20.5 * 3600.0, None, unit="h", start=period.start, end=period.end
    )
    row = cane(period, 0.0, 24.0, 9000.0)
    assert gather(mill, period, [row, read], []).crushing == 20.5 * 3600.0
    stop = Stop(period.start, period.start + timedelta(hours=2), "mills", "other")
    both = gather(mill, period, [row, read], [stop])
    assert both.crushing == 22.0 * 3600.0
    assert [n.row.address for n in both.shown] == ["hours.crushing"]
