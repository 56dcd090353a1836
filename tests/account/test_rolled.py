"""A store rolls from survey to survey: flows added, uncertainty growing, until it is seen again."""

from datetime import date, datetime, timedelta

import pytest

from ratoon.account.mill import Mill
from ratoon.account.to_date import join
from ratoon.base.records import Period, Reading
from ratoon.jobs.season import Season

FIRST = date(2031, 7, 1)


def period(mill: Mill, day: int) -> Period:
    return mill.calendar.period(FIRST + timedelta(days=day))


def total(mill: Mill, day: int, address: str, tonnes: float) -> Reading:
    p = period(mill, day)
    return Reading(address, 1e3 * tonnes, None, start=p.start, end=p.end, unit="t")


def seen(at: datetime, address: str, value: float, sigma: float, unit: str) -> Reading:
    return Reading(address, value, sigma, start=at, unit=unit)


def held(season: Season, day: int, store: str = "bagasse") -> Reading | None:
    gathered = season.day(FIRST + timedelta(days=day))
    return next((r for r in gathered.readings if r.address == f"store.{store}.held"), None)


@pytest.fixture
def rows(mill: Mill) -> list[Reading]:
    survey = seen(period(mill, 0).start + timedelta(hours=4), "store.bagasse.held", 20e6, 1e6, "t")
    flows = [total(mill, d, "bagasse.store.weight", 600.0) for d in range(6) if d != 3]
    cane = [total(mill, d, "cane.weight", 10_000.0) for d in range(6)]
    return [survey, *flows, *cane]


def test_flows_are_added_and_the_uncertainty_grows(mill: Mill, rows: list[Reading]) -> None:
    season = Season(mill, rows, [])
    first = held(season, 0)
    assert first is not None and first.kind == "measured"
    assert first.value == pytest.approx(20e6 + 0.6e6, rel=0.01)
    later = [held(season, d) for d in (1, 2, 3, 4)]
    assert all(r is not None and r.kind == "assumed" for r in later)
    values, sigmas = [r.value for r in later if r], [r.sigma or 0.0 for r in later if r]
    # the survey was taken four hours into its day, whose total falls after it by more than half
    assert values[0] == pytest.approx(20e6 + 2 * 0.6e6, rel=0.01)
    assert values[1] - values[0] == pytest.approx(0.6e6, rel=0.01)
    assert values[2] - values[1] == pytest.approx(0.6e6, rel=0.2)  # a day nobody read
    assert sigmas == sorted(sigmas) and sigmas[0] > 1e6
    assert (
        sigmas[2] ** 2 - sigmas[1] ** 2 > (0.5e6) ** 2
    )  # which costs as much as it may have moved


def test_a_later_survey_counts_and_a_store_never_seen_is_left_alone(
    mill: Mill, rows: list[Reading]
) -> None:
    again = seen(period(mill, 2).start + timedelta(hours=1), "store.bagasse.held", 18e6, 5e5, "t")
    later = held(Season(mill, [*rows, again], []), 4)
    assert later is not None and later.value == pytest.approx(18e6 + 3 * 0.6e6, rel=0.05)
    assert held(Season(mill, rows[1:], []), 4) is None


def test_the_dip_tells_the_molasses(mill: Mill, rows: list[Reading]) -> None:
    dips = [seen(period(mill, d).start, "stock.final_molasses", 4000.0 + 100.0 * d, 12.0, "m3")
            for d in range(5)]  # fmt: skip
    told = held(Season(mill, [*rows, *dips], []), 3, "molasses")
    assert told is not None and told.value == pytest.approx(4400.0 * 1425.0)
    assert told.sigma == pytest.approx(12.0 * 1425.0, rel=0.01)


def test_a_week_has_what_its_last_day_holds(mill: Mill, rows: list[Reading]) -> None:
    season = Season(mill, rows, [])
    days = [season.day(FIRST + timedelta(days=d)) for d in range(5)]
    (week,) = [r for r in join(mill, days).readings if r.address == "store.bagasse.held"]
    last = held(season, 4)
    assert last is not None and (week.value, week.sigma) == (last.value, last.sigma)
