"""Two seasons in one store: the week a year before stands beside, and nothing runs over the gap."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from ratoon.account.figures.surfaces import Season
from ratoon.account.trust.drift import days_since
from ratoon.demo.write import mill_text, write_before
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, mill_of, open_mill, store_of
from ratoon.jobs.sheet.day import account_all, account_day
from ratoon.jobs.sheet.history import History, last_days
from ratoon.jobs.sheet.to_date import inputs_digest, load
from ratoon.jobs.sheet.week import account_week, weeks
from ratoon.reports.compose import morning_sheet
from ratoon.settings.records import InstrumentSettings
from ratoon.store.answers import newest_result

FEW = timedelta(days=52)  # the fortnight of August is put where the season of the test begins
DAY = date(2031, 6, 12)


@pytest.fixture(scope="module")
def mill_dir(invented_days: Callable[[int], Path]) -> Path:
    """Three days of this season, and the days of the same week a year before."""
    folder = invented_days(3)
    write_before(folder, mill_of(folder), 2031, 3)
    for path in sorted((folder / "input").glob("2030-*")):
        text = re.sub(r"2030-08-\d\d", lambda m: str(date.fromisoformat(m[0]) - FEW),
                      path.read_text(encoding="utf-8"))  # fmt: skip
        name = f"{date.fromisoformat(path.name[:10]) - FEW}{path.name[10:]}"
        path.with_name(name).write_text(text, encoding="utf-8")
        path.unlink()
    own = [p for kind in ("readings", "stops") for p in (folder / "input").glob(f"*-{kind}.csv")]
    import_files(folder, sorted(own))
    in_mill(folder, account_all)
    return folder


def test_the_same_week_last_year_is_shown(mill_dir: Path) -> None:
    result = in_mill(mill_dir, account_day, DAY)
    before, week = result.last_year, result.to_date["week"]
    assert (before.from_, before.days) == ("2030-06-11", 3)
    assert (week.from_, week.days) == ("2031-06-10", 3)
    one, other = (w.figures["account.extraction"].value for w in (before, week))
    assert one != other
    assert 94.0 < one < 98.0
    old = in_mill(mill_dir, account_day, date(2030, 6, 13))
    assert old.to_date["week"].figures == before.figures


def test_the_day_before_stands_beside_the_day(mill_dir: Path) -> None:
    """As that day's own result tells it; the first day of a season has none beside it."""
    before, result = (
        in_mill(mill_dir, account_day, DAY - timedelta(days=1)),
        in_mill(mill_dir, account_day, DAY),
    )
    assert result.day_before.date == (DAY - timedelta(days=1)).isoformat()
    assert result.day_before.figures == before.figures
    row = next(r for r in morning_sheet(result).key if r.address == "account.rate")
    assert row.yesterday.value == before.figures["account.rate"].value != row.day.value
    first = morning_sheet(in_mill(mill_dir, account_day, date(2031, 6, 10)))
    assert {r.yesterday.value for r in first.rows()} == {None}


def test_to_date_begins_with_each_season(mill_dir: Path) -> None:
    for first in (date(2030, 6, 11), date(2031, 6, 10)):
        days = [in_mill(mill_dir, account_day, first + timedelta(days=k)) for k in range(3)]
        cane = sum(d.figures["account.cane"].value for d in days)
        season = days[-1].to_date.get("season")
        assert (season.from_, season.days) == (first.isoformat(), 3)
        assert season.figures["account.cane"].value == pytest.approx(cane, rel=2e-3)
        assert days[0].trend["account.rate"][0][0] == first.isoformat()
        # Opening stocks are this season's own, read on its first morning.
        liquor = next(s for s in days[0].stocks if s.name == "liquor")
        records = in_mill(mill_dir, load, first).readings
        read = [r.given for r in records if r.address == "stock.liquor"]
        assert liquor.opening == pytest.approx(read[0])


def test_an_old_day_rests_on_its_own_season_alone(mill_dir: Path) -> None:
    with open_mill(mill_dir) as opened:
        for when in (date(2030, 6, 12), DAY):
            season = load(opened, when)
            assert {r.start.year for r in season.readings if r.start} == {when.year}
            kept = opened.store.ask(newest_result, "day", season.mill.calendar.period(when))
            assert kept is not None
            assert kept.inputs_digest == inputs_digest(season, when)


def test_charts_and_weeks_do_not_run_over_the_gap(mill_dir: Path) -> None:
    assert in_mill(mill_dir, weeks) == [(date(2030, 6, 11), date(2030, 6, 13)),
                               (date(2031, 6, 10), date(2031, 6, 12))]  # fmt: skip
    for last in (date(2030, 6, 13), DAY):
        week = in_mill(mill_dir, account_week, last)
        assert week.columns.keys() == {"week", "season"}  # there was no week before in it
        assert {d.date[:4] for d in week.daily} == {str(last.year)}


def test_trends_end_at_the_gap(mill_dir: Path) -> None:
    with store_of(mill_dir) as store:
        history = History(mill_dir, lambda: store)
        assert len(history.days()) == 6
        assert [d for d, _ in history.trend("effect.3.htc", DAY.isoformat())] == [
            "2031-06-10", "2031-06-11", "2031-06-12"
        ]  # fmt: skip
    assert last_days(["2030-06-11", "2031-06-10"], "2031-06-10", 300) == ["2031-06-10"]


def test_a_clean_of_last_season_says_nothing_of_this_ones_scale() -> None:
    from ratoon.account.mill import Mill
    from ratoon.settings.read import parse_settings

    text = mill_text().replace("cleaned = [2031-06-24, 2031-07-22]",
                               "cleaned = [2030-10-01, 2031-06-20]")  # fmt: skip
    mill = Mill(parse_settings(text))
    rng = np.random.default_rng(3)
    days = [date(2031, 6, 10) + timedelta(days=k) for k in range(20)]
    figures = {d: {"effect.1.htc": (2.3 + 0.02 * float(rng.standard_normal()), 0.05)} for d in days}
    found = Season(mill, figures, dict.fromkeys(days, 1.0)).effect(1)
    assert found is not None
    assert [run.cleaned for run in found.runs if run.cleaned] == [date(2031, 6, 20)]


def test_drift_counts_from_the_start_of_the_days_own_season(mill_dir: Path) -> None:
    mill = mill_of(mill_dir)
    known = InstrumentSettings(calibrated=(date(2031, 6, 11),), drift=1e-4)
    for when, days in ((date(2030, 6, 21), 10.0), (date(2031, 6, 10), 0.0), (DAY, 1.0)):
        assert days_since(mill, known, mill.calendar.period(when)) == days


def test_sheets_of_a_season_gone_by_are_written_when_asked_for(mill_dir: Path) -> None:
    assert (mill_dir / "sheets" / "2031-06-11" / "morning.pdf").is_file()
    in_mill(mill_dir, account_day, date(2030, 6, 11))
    assert (mill_dir / "sheets" / "2030-06-11" / "morning.pdf").is_file()


def test_what_was_imported_by_day_and_by_shift_counts_once(mill_dir: Path) -> None:
    result = in_mill(mill_dir, account_day, DAY)
    rows = [r for r in result.readings if r.address == "cane.weight"]
    (day,) = [r for r in rows if r.used]
    assert len(rows) == 4
    assert sum(r.value for r in rows if not r.used) == pytest.approx(day.value, abs=2.0)
    assert result.figures["account.cane"].value == pytest.approx(day.value, rel=0.02)
    log = {r.address: r.value for s in result.shifts for r in s.readings}
    assert {"cane.weight", "sugar.weight", "clarifier.mud_level"} <= log.keys()
    assert {c.address for c in result.chemicals} >= {"lime.used", "flocculant.used"}
