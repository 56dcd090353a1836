"""A slip in the year is refused before it becomes the newest day; a new season is told first."""

from datetime import date

import pytest

from ratoon.base.clock import Calendar
from ratoon.jobs.files.far_days import why_too_far

NEWEST = date(2031, 8, 14)


@pytest.mark.parametrize(
    ("newest", "season", "day", "refused"),
    [
        (None, None, date(2131, 8, 14), False),  # nothing to compare with
        (NEWEST, None, date(2031, 8, 15), False),
        (NEWEST, None, date(2032, 8, 14), False),  # 366 days
        (NEWEST, None, date(2032, 8, 15), True),
        (NEWEST, None, date(1999, 8, 14), False),  # history may come in late
        (NEWEST, date(2033, 6, 1), date(2033, 6, 1), False),  # after a year's rest
        (None, date(2031, 6, 1), date(2131, 6, 1), True),
    ],
)
def test_more_than_a_year_ahead(
    newest: date | None, season: date | None, day: date, refused: bool
) -> None:
    calendar = Calendar(season_start=season)
    told = why_too_far(calendar, newest, day)
    assert bool(told) == refused
    assert not refused or ("is the year right?" in told and "season_start" in told)
