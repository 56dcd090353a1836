"""The mill's clock: days by their starting date, lengths in UTC, no guess at a change of clocks."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.base.clock import Calendar, Shift, parse_date
from ratoon.base.errors import BadInput
from ratoon.base.records import Period

BRISBANE = Calendar("Australia/Brisbane", time(6), "Monday", date(2031, 6, 10))
# zone rules published in the IANA database: clocks go forward on 2027-03-14 and back on 2027-11-07
CHICAGO = Calendar("America/Chicago", time(6), "Sunday", date(2027, 9, 28))


def test_day_is_named_by_the_date_on_which_it_starts() -> None:
    assert BRISBANE.period(date(2031, 8, 14)).start == datetime(2031, 8, 13, 20, tzinfo=UTC)
    assert BRISBANE.day_of(datetime(2031, 8, 13, 19, 59, tzinfo=UTC)) == date(2031, 8, 13)
    assert BRISBANE.day_of(datetime(2031, 8, 13, 20, tzinfo=UTC)) == date(2031, 8, 14)


def test_days_with_a_change_of_clocks_have_23_and_25_hours() -> None:
    assert CHICAGO.period(date(2027, 3, 13)).hours == 23
    assert CHICAGO.period(date(2027, 11, 6)).hours == 25
    assert CHICAGO.period(date(2027, 11, 7)).hours == 24


def test_local_time_that_does_not_exist_is_refused() -> None:
    with pytest.raises(BadInput, match="does not exist in America/Chicago"):
        CHICAGO.to_utc(datetime(2027, 3, 14, 2, 30))


def test_local_time_that_exists_twice_is_refused_with_both_offsets() -> None:
    local = datetime(2027, 11, 7, 1, 30)
    with pytest.raises(BadInput, match=r"twice.*01:30-05:00 or 2027-11-07T01:30-06:00"):
        CHICAGO.to_utc(local)
    assert CHICAGO.is_twice(local)
    assert not CHICAGO.is_twice(datetime(2027, 11, 7, 3, 0))


def test_day_start_inside_a_change_of_clocks_still_starts_the_day() -> None:
    night = Calendar("America/Chicago", time(2, 30))
    assert night.start_of(date(2027, 3, 14)) == datetime(2027, 3, 14, 8, tzinfo=UTC)
    early = Calendar("America/Chicago", time(1, 30))
    assert early.start_of(date(2027, 11, 7)) == datetime(2027, 11, 7, 6, 30, tzinfo=UTC)


def test_week_to_date() -> None:
    thursday = date(2031, 8, 14)
    assert BRISBANE.first_of_week_to_date(thursday) == date(2031, 8, 11)
    # 10 June 2031 is a Tuesday: the first week is short
    assert BRISBANE.first_of_week_to_date(date(2031, 6, 11)) == date(2031, 6, 10)


def test_seasons_stand_apart() -> None:
    both = Calendar("Australia/Brisbane", time(6), "Monday", date(2031, 6, 10),
                    earlier_seasons=(date(2029, 6, 12), date(2030, 6, 11)))  # fmt: skip
    assert both.first_of_season(date(2030, 8, 2)) == date(2030, 6, 11)
    assert both.first_of_season(date(2031, 2, 1)) == date(2030, 6, 11)
    assert both.first_of_season(date(2031, 6, 10)) == date(2031, 6, 10)
    assert both.first_of_season(date(2028, 6, 1)) == date(2028, 6, 1)
    assert both.first_of_week_to_date(date(2030, 6, 12)) == date(2030, 6, 11)
    assert both.first_of_week_to_date(date(2030, 6, 19)) == date(2030, 6, 17)
    assert both.same_season(date(2030, 8, 2), date(2031, 6, 9))
    assert not both.same_season(date(2031, 6, 9), date(2031, 6, 10))
    # A mill that names no earlier season still has whole weeks before its season.
    assert BRISBANE.first_of_week_to_date(date(2030, 8, 2)) == date(2030, 7, 29)
    with pytest.raises(BadInput, match=r"2031-06-11.*days before 2031-06-10"):
        Calendar("Australia/Brisbane", time(6), "Monday", date(2031, 6, 10),
                 earlier_seasons=(date(2031, 6, 11),))  # fmt: skip


def test_shifts_fill_the_day() -> None:
    shifts = (Shift("day", time(6)), Shift("evening", time(14)), Shift("night", time(22)))
    calendar = Calendar("Australia/Brisbane", time(6), shifts=shifts)
    periods = [p for _, p in calendar.shift_periods(date(2031, 8, 14))]
    assert [p.hours for p in periods] == [8, 8, 8]
    with pytest.raises(BadInput, match="shifts must follow"):
        Calendar("Australia/Brisbane", time(6), shifts=shifts[::-1])


@pytest.mark.parametrize(
    ("kwargs", "told"),
    [
        ({"zone": "Australia/Brisbain"}, "Did you mean Australia/Brisbane"),
        ({"zone": "../etc"}, "unknown time zone"),
        ({"week_start": "monday"}, "Did you mean Monday"),
    ],
)
def test_bad_calendars_are_refused(kwargs: dict[str, str], told: str) -> None:
    with pytest.raises(BadInput, match=told):
        Calendar(**kwargs)


@given(st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)), st.sampled_from([0, 2, 3, 6, 23]))
def test_every_instant_lies_in_its_mill_day(instant: datetime, hour: int) -> None:
    calendar = Calendar("America/Chicago", time(hour, 30))
    at = instant.replace(tzinfo=UTC)
    period = calendar.period(calendar.day_of(at))
    assert period.start <= at < period.end


def test_days_of_a_period() -> None:
    day, monday = (BRISBANE.period(date(2031, 8, n)) for n in (14, 11))
    assert BRISBANE.days_of(day) == [date(2031, 8, 14)]
    assert len(BRISBANE.days_of(Period(monday.start, day.end))) == 4


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("03/04/2031", "2031-04-03 or 2031-03-04"),
        ("25/12/2031", "Write 2031-12-25"),
        ("2031-8-4", "Write 2031-08-04"),
        ("20310804", "YYYY-MM-DD"),
        ("2031-02-30", "no such date"),
        ("yesterday", "YYYY-MM-DD"),
    ],
)
def test_dates_not_written_as_iso_are_refused_with_the_right_form(text: str, told: str) -> None:
    with pytest.raises(BadInput, match=told):
        parse_date(text)


def test_iso_date_is_read() -> None:
    assert parse_date(" 2031-08-14 ") == date(2031, 8, 14)
    assert BRISBANE.to_local(datetime(2031, 8, 13, 20, tzinfo=UTC)).utcoffset() == timedelta(
        hours=10
    )
