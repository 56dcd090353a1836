"""Stops that records by mill days cut at a day's end are one stop."""

from datetime import UTC, datetime, timedelta

from ratoon.base.records import Stop, joined

START = datetime(2031, 6, 23, 20, tzinfo=UTC)


def stop(begin: float, end: float, cause: str = "rain", station: str = "mills") -> Stop:
    return Stop(START + timedelta(hours=begin), START + timedelta(hours=end), station, cause)


def test_a_stop_cut_at_each_day_s_end_is_one() -> None:
    rows = [stop(24, 36), stop(0, 24), stop(40, 41), stop(0, 2, station="pans")]
    mills = [s for s in joined(rows) if s.station == "mills"]
    assert [s.hours for s in mills] == [36.0, 1.0]
    assert sum(s.hours for s in joined(rows)) == sum(s.hours for s in rows)


def test_other_causes_and_stations_stay_apart() -> None:
    rows = [stop(0, 5), stop(5, 6, "choke"), stop(5, 7, station="pans")]
    assert len(joined(rows)) == 3
